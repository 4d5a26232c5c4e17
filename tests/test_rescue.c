/* What is left of damaged surveys. The promises, for damage by sectors (lost, zeroed, noise,
 * another page's bytes, cut off): nothing falls; no row is saved that was not there; every row on a
 * page that the damage did not touch is saved, if its run and band are; and no channel is covered
 * of which activity is lost. */
#include "tests/test.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#include <sqlite3.h>

#include "store/rescue.h"
#include "store/strip.h"
#include "tests/fault_check.h"
#include "tests/survey_place.h"

#define PAGE   4096
#define SECTOR 512
#define HOURS  6
#define ROUNDS 40

/* ---- a small survey of all kinds of rows, many pages of each ---- */

static void put_round(struct survey *s, int64_t run, int n, const struct bytes *strip)
{
	struct world_rows rows = world_rows(run, n);
	struct fault why = { 0 };
	int bad = survey_begin(s, &why);

	rows.coverage.first = 38 * (n % 60);
	rows.coverage.count = 38;
	rows.coverage.hour = (6 + n % HOURS) * HOUR_US;
	for (int i = 0; i < 40; i++) {          /* 40 channels an hour, each some bytes of levels */
		struct activity_row *a = &rows.activity;
		a->hour = (6 + i % HOURS) * HOUR_US;
		a->band = 0;
		a->channel = (n * 37 + i * 11) % 2280;
		a->level[i % LEVEL_BINS] = 1000 + i;
		a->level_looks[i % LEVEL_BINS] = 1 + n;
		bad |= survey_add_activity(s, a, &why);
	}
	for (int i = 0; i < 12; i++) {
		rows.transmission.channel = i;
		rows.transmission.first_us += 1000;
		bad |= survey_add_transmission(s, &rows.transmission, &why);
	}
	rows.strip.start_us = (6 * 60 + n) * INT64_C(60000000);
	rows.strip.packed = *strip;
	bad |= survey_add_coverage(s, &rows.coverage, &why) |
	       survey_add_incident(s, &rows.incident, &why) |
	       survey_add_artefact(s, &rows.artefact, &why) |
	       survey_add_setting(s, &rows.setting, &why) |
	       survey_add_parked(s, &rows.parked, &why) | survey_add_strip(s, &rows.strip, &why) |
	       survey_commit(s, &why);
	if (bad)
		fail_msg("%s", why.text);
}

/* All channels of the air band are covered in all hours. */
static void cover_all(struct survey *s, int64_t run)
{
	struct fault why = { 0 };

	assert_int_equal(survey_begin(s, &why), 0);
	for (int h = 0; h < HOURS; h++)
		for (int i = 0; i < 60; i++) {
			struct coverage_row c = world_rows(run, i).coverage;
			c.hour = (6 + h) * HOUR_US;
			c.first = 38 * i;
			c.count = 38;
			assert_int_equal(survey_add_coverage(s, &c, &why), 0);
		}
	assert_int_equal(survey_commit(s, &why), 0);
}

static void make_survey(const char *path)
{
	uint8_t cells[40], packed[256];
	struct run_row run = world_run();
	struct survey *s = must_write(path, &run);
	unsigned seed = 5;

	for (int i = 0; i < 40; i++)
		cells[i] = (uint8_t)(rand_r(&seed) % (STRIP_HEARD + LEVEL_BINS));
	struct bytes strip = { packed, strip_pack(cells, sizeof cells, packed) };
	assert_true(strip_room(sizeof cells) <= sizeof packed);
	cover_all(s, run.id);
	for (int n = 0; n < ROUNDS; n++)
		put_round(s, run.id, n, &strip);
	survey_close(s);
}

/* ---- its rows, as text ---- */

struct rows {
	char **text;
	int    n, room;
};

static int by_text(const void *a, const void *b)
{
	return strcmp(*(char *const *)a, *(char *const *)b);
}

/* Every row but coverage, with its table's name; ids aside. */
static const char rows_sql[] =
	"SELECT 'run', quote(start_us), quote(source), quote(ppb), quote(dwell_us), '', '', '' "
	"FROM run UNION ALL "
	"SELECT 'activity', band, channel, hour, busy_us, busy_looks, quote(level), openings FROM "
	"activity UNION ALL "
	"SELECT 'transmission', band, channel, first_us, last_us, kind || tone_ddhz || below || "
	"code, width_hz, busy_us"
	" FROM transmission UNION ALL "
	"SELECT 'incident', at_us, until_us, what, text, '', '', '' FROM incident UNION ALL "
	"SELECT 'artefact', at_us, band, channel, cause, text, '', '' FROM artefact UNION ALL "
	"SELECT 'setting', file, text, '', '', '', '', '' FROM setting UNION ALL "
	"SELECT 'parked', band, first, count, hour, parks, parked_us, '' FROM parked UNION ALL "
	"SELECT 'strip', band, start_us, cell_us, cells, quote(packed), '', '' FROM strip";

static struct rows rows_of(const char *path)
{
	struct rows r = { 0 };
	sqlite3 *db;
	sqlite3_stmt *q;

	assert_int_equal(sqlite3_open(path, &db), SQLITE_OK);
	if (sqlite3_prepare_v2(db, rows_sql, -1, &q, NULL) != SQLITE_OK)
		fail_msg("%s", sqlite3_errmsg(db));
	while (sqlite3_step(q) == SQLITE_ROW) {
		char text[1024] = "";
		for (int i = 0; i < 8; i++) {
			size_t n = strlen(text);
			snprintf(text + n, sizeof text - n, "%s|",
				 (const char *)sqlite3_column_text(q, i));
		}
		if (r.n == r.room)
			r.text = reallocarray(r.text, (size_t)(r.room = 2 * r.room + 64),
					      sizeof *r.text);
		r.text[r.n++] = strdup(text);
	}
	sqlite3_finalize(q);
	sqlite3_close(db);
	if (r.n > 1)
		qsort(r.text, (size_t)r.n, sizeof *r.text, by_text);
	return r;
}

static void rows_free(struct rows *r)
{
	for (int i = 0; i < r->n; i++)
		free(r->text[i]);
	free(r->text);
}

/* How many of a are not in b, as often as they are there. */
static int missing(const struct rows *a, const struct rows *b, const char **which)
{
	int n = 0, k = 0;

	for (int i = 0; i < a->n; i++) {
		while (k < b->n && strcmp(b->text[k], a->text[i]) < 0)
			k++;
		if (k < b->n && strcmp(b->text[k], a->text[i]) == 0) {
			k++;
			continue;
		}
		*which = a->text[i];
		n++;
	}
	return n;
}

/* ---- what a round found ---- */

static int64_t number(const char *path, const char *sql)
{
	char out[64];

	ask(path, sql, out);
	return strtoll(out, NULL, 10);
}

static void ignore(void *self, const char *line)
{
	++*(int *)self;
	assert_true(line[0] != '\0' && !strchr(line, '\n'));
}

struct world {
	struct place place;
	char         left[WORLD_ROOM + 16];
	char        *bytes;             /* of the good one  */
	size_t       n;
	struct rows  rows;
	int         *on_page;           /* [pages] rows that go with it */
};

static int set_up(void **state)
{
	struct place *p;
	struct world *w = calloc(1, sizeof *w);

	assert_non_null(w);
	make_place((void **)&p);
	w->place = *p;
	free(p);
	snprintf(w->left, sizeof w->left, "%s/left.survey", w->place.folder);
	make_survey(w->place.path);
	w->bytes = get_file(w->place.path, &w->n);
	w->rows = rows_of(w->place.path);
	w->on_page = calloc(w->n / PAGE + 1, sizeof *w->on_page);
	assert_non_null(w->on_page);
	*state = w;
	return 0;
}

static int tear_down(void **state)
{
	struct world *w = *state;

	free(w->on_page);
	empty_place(&w->place);
	rmdir(w->place.folder);
	free(w->bytes);
	rows_free(&w->rows);
	free(w);
	return 0;
}

/* Each (channel, hour) that is covered has all the activity that it had; coverage says what it
 * said. */
static void check_coverage(const struct world *w, const char *left, const char *what)
{
	sqlite3 *db;
	sqlite3_stmt *q;
	char sql[1400];

	snprintf(sql, sizeof sql, "ATTACH '%s' AS good", w->place.path);
	assert_int_equal(sqlite3_open(left, &db), SQLITE_OK);
	assert_int_equal(sqlite3_exec(db, sql, NULL, NULL, NULL), SQLITE_OK);
	static const char *const claims[] = {
		"SELECT count(*) FROM good.activity a JOIN main.coverage c ON c.band=a.band AND "
		"c.hour=a.hour AND"
		" a.channel>=c.first AND a.channel<c.first+c.count WHERE NOT EXISTS (SELECT 1 FROM "
		"main.activity b"
		" WHERE b.band=a.band AND b.channel=a.channel AND b.hour=a.hour AND "
		"b.level=a.level)",
		"SELECT count(*) FROM main.coverage c WHERE NOT EXISTS (SELECT 1 FROM "
		"good.coverage g WHERE g.band=c.band"
		" AND g.hour=c.hour AND c.first>=g.first AND c.first+c.count<=g.first+g.count AND "
		"g.looks=c.looks AND"
		" g.looked_us=c.looked_us AND g.floor_ddb_sum=c.floor_ddb_sum)",
		"SELECT count(*) FROM main.coverage c JOIN main.coverage d ON c.band=d.band AND "
		"c.hour=d.hour AND"
		" c.first<d.first AND c.first+c.count>d.first",
	};
	for (size_t i = 0; i < sizeof claims / sizeof claims[0]; i++) {
		if (sqlite3_prepare_v2(db, claims[i], -1, &q, NULL) != SQLITE_OK)
			fail_msg("%s", sqlite3_errmsg(db));
		assert_int_equal(sqlite3_step(q), SQLITE_ROW);
		if (sqlite3_column_int64(q, 0) != 0)
			fail_msg("%s: claim %zu is broken by %lld rows", what, i,
				 sqlite3_column_int64(q, 0));
		sqlite3_finalize(q);
	}
	sqlite3_close(db);
}

/* Rows saved; -1: refused. damaged has the file's bytes. */
static int rescue(struct world *w, const char *bytes, size_t n, const char *what,
		  struct rescue_sum *sum)
{
	char from[WORLD_ROOM + 16], out[64];
	const char *which = NULL;
	struct fault why = { 0 };
	int lines = 0;

	snprintf(from, sizeof from, "%s/bad.survey", w->place.folder);
	put_file(from, bytes, n);
	unlink(w->left);
	if (survey_rescue(from, w->left, ignore, &lines, sum, &why) < 0) {
		if (!is_one_line(why.text) || access(w->left, F_OK) == 0 ||
		    files_in(&w->place) != 2)
			fail_msg("%s: said \"%s\", %d files", what, why.text, files_in(&w->place));
		return -1;
	}
	ask(w->left, "PRAGMA integrity_check", out);
	assert_string_equal(out, "ok");
	see_all(w->left);
	struct rows left = rows_of(w->left);
	int invented = missing(&left, &w->rows, &which), kept = left.n;
	if (invented)
		fail_msg("%s: %d rows were never there: %s", what, invented, which);
	check_coverage(w, w->left, what);
	rows_free(&left);
	return kept;
}

/* ---- promises ---- */

static void a_good_one_is_saved_whole(void **state)
{
	struct world *w = *state;
	struct rescue_sum sum;
	struct fault why = { 0 };
	int lines = 0;

	assert_int_equal(rescue(w, w->bytes, w->n, "undamaged", &sum), w->rows.n);
	assert_true(sum.whole && sum.pages_lost == 0);
	assert_int_equal(number(w->left, "SELECT count(*) FROM coverage"),
			 number(w->place.path, "SELECT count(*) FROM coverage"));
	print_message("%lld pages, %d rows\n", (long long)sum.pages, w->rows.n);
	assert_int_equal(survey_rescue(w->place.path, w->left, ignore, &lines, &sum, &why), -1);
	check_fault("one that is there", &why, FAULT_INPUT, "is there already");
	struct stat st;
	assert_int_equal(stat(w->left, &st), 0);
	assert_int_equal(st.st_mode & 07777, 0600);
}

/* The pages of every table and index, one by one: each row is lost with one page, and with no
 * other. */
static void each_page_alone(void **state)
{
	struct world *w = *state;
	char *bytes = malloc(w->n), what[64];
	int all = 0, bands = 0, runs = 0;

	assert_non_null(bytes);
	for (size_t i = 0; i < w->n / PAGE; i++) {
		struct rescue_sum sum;
		memcpy(bytes, w->bytes, w->n);
		memset(bytes + i * PAGE, 0, PAGE);
		snprintf(what, sizeof what, "page %zu zeroed", i + 1);
		int kept = rescue(w, bytes, w->n, what, &sum);
		w->on_page[i] = w->rows.n - (kept < 0 ? 0 : kept);
		bands += kept < 0;
		runs += kept == 0;
		all += kept > 0 ? w->on_page[i] : 0;
		if (kept != w->rows.n && (kept > 0 && sum.whole))
			fail_msg("%s: %d of %d rows, and called whole", what, kept, w->rows.n);
	}
	print_message("of %zu pages, the bands' and the run's cost all; %d of %d rows went with "
		      "one other each\n",
		      w->n / PAGE, all, w->rows.n);
	assert_int_equal(bands, 1);
	assert_int_equal(runs, 1);
	assert_int_equal(all, w->rows.n - 1);
	free(bytes);
}

static void fill(unsigned char *to, size_t n, int how, const char *other, unsigned *seed)
{
	for (size_t i = 0; i < n; i++)
		to[i] = how == 0   ? 0
			: how == 1 ? (unsigned char)rand_r(seed)
				   : (unsigned char)other[i];
}

/* Sectors here and there. BANDCENSUS_DAMAGES=5000 for more, BANDCENSUS_DAMAGE_SEED for others. */
static void sectors_by_chance(void **state)
{
	struct world *w = *state;
	const char *many = getenv("BANDCENSUS_DAMAGES"), *from = getenv("BANDCENSUS_DAMAGE_SEED");
	int rounds = many && atoi(many) > 0 ? atoi(many) : 40, refused = 0;
	unsigned seed = from ? (unsigned)atoi(from) : 1;
	double share = 0;
	char *bytes = malloc(w->n), what[64];
	bool *hit = calloc(w->n / PAGE + 1, sizeof *hit);

	assert_non_null(hit);
	print_message("seed %u\n", seed);
	assert_non_null(bytes);
	for (int i = 0; i < rounds; i++) {
		struct rescue_sum sum;
		size_t keep = i % 5 == 4 ? (size_t)rand_r(&seed) % w->n : w->n;
		memcpy(bytes, w->bytes, w->n);
		memset(hit, 0, w->n / PAGE);
		for (size_t k = keep / PAGE; k < w->n / PAGE; k++)
			hit[k] = true;
		for (int k = 0; k < 1 + i % 9; k++) {
			size_t n = SECTOR * (size_t)(1 + rand_r(&seed) % (i % 2 ? 2 : 12));
			size_t at = SECTOR * ((size_t)rand_r(&seed) % (w->n / SECTOR - 12));
			size_t other = SECTOR * ((size_t)rand_r(&seed) % (w->n / SECTOR - 12));
			for (size_t h = at / PAGE; h <= (at + n - 1) / PAGE; h++)
				hit[h] = true;
			fill((unsigned char *)bytes + at, n, i % 3, w->bytes + other, &seed);
		}
		snprintf(what, sizeof what, "round %d", i);
		int kept = rescue(w, bytes, keep, what, &sum);
		int least = w->rows.n;
		for (size_t h = 0; h < w->n / PAGE; h++)
			least -= hit[h] ? w->on_page[h] : 0;
		if (kept >= 0 && keep < w->n && sum.whole)
			fail_msg("%s: cut to %zu of %zu bytes, and called whole", what, keep, w->n);
		if ((kept < 0 && least > 0) || (kept >= 0 && kept < least))
			fail_msg(
				"seed %s, %s: saved %d rows, %d lie on pages that were not touched",
				from ? from : "1", what, kept, least);
		refused += kept < 0;
		share += kept < 0 ? 0 : (double)kept / w->rows.n;
	}
	print_message(
		"%d rounds: %d could not be begun, of the others %.1f %% of the rows were saved\n",
		rounds, refused, 100 * share / (rounds - refused));
	free(bytes);
	free(hit);
}

/* A writer that died leaves a log: what it holds counts, up to where it is damaged. */
static void the_log_counts(void **state)
{
	struct world *w = *state;
	char path[WORLD_ROOM + 16], log[WORLD_ROOM + 32], bad_log[WORLD_ROOM + 32];
	size_t n, log_n;
	int most = 0, last = -1;

	snprintf(path, sizeof path, "%s/live.survey", w->place.folder);
	snprintf(log, sizeof log, "%s-wal", path);
	snprintf(bad_log, sizeof bad_log, "%s/bad.survey-wal", w->place.folder);
	struct run_row run = world_run();
	struct survey *s = must_write(path, &run);
	for (int i = 0; i < 12; i++) {
		struct world_rows rows = world_rows(run.id, i);
		uint8_t packed[64], cells[40] = { 0 };
		struct fault why;
		rows.strip.packed =
			(struct bytes){ packed, strip_pack(cells, sizeof cells, packed) };
		assert_int_equal(world_write(s, &rows, &why), 0);
	}
	char *bytes = get_file(path, &n), *log_bytes = get_file(log, &log_n);
	survey_close(s);
	assert_int_equal(unlink(path), 0);
	for (size_t keep = log_n; keep > 0; keep -= keep > 3000 ? 3000 : keep) {
		struct fault why = { 0 };
		struct rescue_sum sum;
		char from[WORLD_ROOM + 16];
		int lines = 0;
		snprintf(from, sizeof from, "%s/bad.survey", w->place.folder);
		put_file(from, bytes, n);
		log_bytes[keep - 1] ^= 0x10;    /* the last byte is wrong: all before it counts */
		put_file(bad_log, log_bytes, log_n);
		log_bytes[keep - 1] ^= 0x10;
		unlink(w->left);
		int done = survey_rescue(from, w->left, ignore, &lines, &sum, &why);
		int overs =
			done < 0 ? 0 : (int)number(w->left, "SELECT count(*) FROM transmission");
		if (done == 0 && (number(w->left, "SELECT count(*) FROM incident") != overs ||
				  number(w->left, "SELECT ifnull(sum(looks), 0) FROM coverage") !=
				  overs * 100 + overs * (overs - 1) / 2))
			fail_msg("byte %zu of the log: half a transaction", keep - 1);
		if (last >= 0 && overs > last)
			fail_msg("byte %zu of the log: %d transactions, and %d later", keep - 1,
				 overs, last);
		most = overs > most ? overs : most;
		last = overs;
	}
	assert_in_range(most, 11, 12);
	assert_int_equal(last, 0);
	unlink(bad_log);
	free(bytes);
	free(log_bytes);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(a_good_one_is_saved_whole), cmocka_unit_test(each_page_alone),
		cmocka_unit_test(sectors_by_chance), cmocka_unit_test(the_log_counts),
	};
	return cmocka_run_group_tests(tests, set_up, tear_down);
}
