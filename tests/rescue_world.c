#include "tests/rescue_world.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include <sqlite3.h>

#include "store/strip.h"
#include "tests/fault_check.h"

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

static struct rescue_rows rows_of(const char *path)
{
	struct rescue_rows r = { 0 };
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

static void rows_free(struct rescue_rows *r)
{
	for (int i = 0; i < r->n; i++)
		free(r->text[i]);
	free(r->text);
}

/* How many of a are not in b, as often as they are there. */
static int missing(const struct rescue_rows *a, const struct rescue_rows *b, const char **which)
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

int64_t rescue_number(const char *path, const char *sql)
{
	char out[64];

	ask(path, sql, out);
	return strtoll(out, NULL, 10);
}

void rescue_ignore(void *self, const char *line)
{
	++*(int *)self;
	assert_true(line[0] != '\0' && !strchr(line, '\n'));
}

int rescue_set_up(void **state)
{
	struct place *p;
	struct rescue_world *w = calloc(1, sizeof *w);

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

int rescue_tear_down(void **state)
{
	struct rescue_world *w = *state;

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
static void check_coverage(const struct rescue_world *w, const char *left, const char *what)
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

int rescue_of(struct rescue_world *w, const char *bytes, size_t n, const char *what,
		  struct rescue_sum *sum)
{
	char from[WORLD_ROOM + 16], out[64];
	const char *which = NULL;
	struct fault why = { 0 };
	int lines = 0;

	snprintf(from, sizeof from, "%s/bad.survey", w->place.folder);
	put_file(from, bytes, n);
	unlink(w->left);
	if (survey_rescue(from, w->left, rescue_ignore, &lines, sum, &why) < 0) {
		if (!is_one_line(why.text) || access(w->left, F_OK) == 0 ||
		    files_in(&w->place) != 2)
			fail_msg("%s: said \"%s\", %d files", what, why.text, files_in(&w->place));
		return -1;
	}
	ask(w->left, "PRAGMA integrity_check", out);
	assert_string_equal(out, "ok");
	see_all(w->left);
	struct rescue_rows left = rows_of(w->left);
	int invented = missing(&left, &w->rows, &which), kept = left.n;
	if (invented)
		fail_msg("%s: %d rows were never there: %s", what, invented, which);
	check_coverage(w, w->left, what);
	rows_free(&left);
	return kept;
}
