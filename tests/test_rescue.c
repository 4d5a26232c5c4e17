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

#include "store/strip.h"
#include "tests/fault_check.h"
#include "tests/rescue_world.h"

#define SECTOR 512

/* ---- promises ---- */

static void a_good_one_is_saved_whole(void **state)
{
	struct rescue_world *w = *state;
	struct rescue_sum sum;
	struct fault why = { 0 };
	int lines = 0;

	assert_int_equal(rescue_of(w, w->bytes, w->n, "undamaged", &sum), w->rows.n);
	assert_true(sum.whole && sum.pages_lost == 0);
	assert_int_equal(rescue_number(w->left, "SELECT count(*) FROM coverage"),
			 rescue_number(w->place.path, "SELECT count(*) FROM coverage"));
	print_message("%lld pages, %d rows\n", (long long)sum.pages, w->rows.n);
	assert_int_equal(survey_rescue(w->place.path, w->left, rescue_ignore, &lines, &sum, &why), -1);
	check_fault("one that is there", &why, FAULT_INPUT, "is there already");
	struct stat st;
	assert_int_equal(stat(w->left, &st), 0);
	assert_int_equal(st.st_mode & 07777, 0600);
}

/* The pages of every table and index, one by one: each row is lost with one page, and with no
 * other. */
static void each_page_alone(void **state)
{
	struct rescue_world *w = *state;
	char *bytes = malloc(w->n), what[64];
	int all = 0, bands = 0, runs = 0;

	assert_non_null(bytes);
	for (size_t i = 0; i < w->n / PAGE; i++) {
		struct rescue_sum sum;
		memcpy(bytes, w->bytes, w->n);
		memset(bytes + i * PAGE, 0, PAGE);
		snprintf(what, sizeof what, "page %zu zeroed", i + 1);
		int kept = rescue_of(w, bytes, w->n, what, &sum);
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
	struct rescue_world *w = *state;
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
		int kept = rescue_of(w, bytes, keep, what, &sum);
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

/* ---- a page whose bytes do not add up ---- */

static uint32_t big(const char *at, int n)
{
	uint32_t v = 0;

	for (int i = 0; i < n; i++)
		v = v << 8 | (unsigned char)at[i];
	return v;
}

static void put_big2(char *at, uint32_t v)
{
	at[0] = (char)(v >> 8);
	at[1] = (char)v;
}

static size_t root_of(const struct rescue_world *w, const char *table)
{
	char sql[128];

	snprintf(sql, sizeof sql, "SELECT rootpage FROM sqlite_schema WHERE name='%s'", table);
	return (size_t)rescue_number(w->place.path, sql) - 1;
}

/* The first leaf of a table's tree, which has branches. */
static size_t first_leaf(const struct rescue_world *w, const char *table)
{
	const char *page = w->bytes + root_of(w, table) * PAGE;

	assert_true(page[0] == 2 || page[0] == 5);
	while (page[0] == 2 || page[0] == 5)
		page = w->bytes + (size_t)(big(page + big(page + 12, 2), 4) - 1) * PAGE;
	return (size_t)(page - w->bytes) / PAGE;
}

/* SQLite's "Database File Format", 1.6 (from memory): at 3 the count of cells, at 5 where their
 * content begins, at 7 the loose bytes in it; from 8 on where each cell is. */
static void fewer_cells(char *page)
{
	put_big2(page + 3, big(page + 3, 2) - 1);
}

static void one_twice(char *page)
{
	memcpy(page + 8 + 2 * 2, page + 8 + 2 * 3, 2);
}

/* A cell by key is its length and so many bytes. */
static void one_twice_and_said(char *page)
{
	uint32_t length = big(page + big(page + 8 + 2 * 2, 2), 1);

	assert_true(length < 128 && big(page + 7, 1) + 1 + length < 256);
	page[7] = (char)(page[7] + 1 + (char)length);
	one_twice(page);
}

static void one_loose(char *page)
{
	page[7]++;
}

static void content_later(char *page)
{
	put_big2(page + 5, big(page + 5, 2) + 1);
}

/* Each row of such a page could be read, but one may be missing: nothing of it is believed, and
 * above all the file is not called whole. */
static void bytes_that_do_not_add_up(void **state)
{
	static const struct {
		const char *what, *table;
		void      (*harm)(char *page);
	} cases[] = {
		{ "a cell that is not counted", "transmission", fewer_cells },
		{ "a channel that is not counted", "activity", fewer_cells },
		{ "one channel twice, another not at all", "activity", one_twice },
		{ "the same, and its bytes called loose", "activity", one_twice_and_said },
		{ "a byte too many", "transmission", one_loose },
		{ "a cell before its content begins", "transmission", content_later },
	};
	struct rescue_world *w = *state;
	char *bytes = malloc(w->n);

	assert_non_null(bytes);
	for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
		struct rescue_sum sum;
		size_t leaf = first_leaf(w, cases[i].table);
		memcpy(bytes, w->bytes, w->n);
		cases[i].harm(bytes + leaf * PAGE);
		int kept = rescue_of(w, bytes, w->n, cases[i].what, &sum);
		if (kept != w->rows.n - w->on_page[leaf] || sum.whole || sum.pages_lost != 1)
			fail_msg("%s: %d of %d rows saved, %d lie on that page; %lld pages lost",
				 cases[i].what, kept, w->rows.n, w->on_page[leaf],
				 (long long)sum.pages_lost);
	}
	free(bytes);
}

/* ---- a row that no reader takes ---- */

/* The page of rows that SQLite wrote anew. */
static size_t page_changed(const struct rescue_world *w, const char *bytes, const char *what)
{
	size_t at = 0;
	int n = 0;

	for (size_t i = 1; i < w->n / PAGE; i++)
		if (memcmp(bytes + i * PAGE, w->bytes + i * PAGE, PAGE) != 0) {
			at = i;
			n++;
		}
	if (n != 1)
		fail_msg("%s: %d pages were changed", what, n);
	return at;
}

/* Written by SQLite, so that all bytes add up; each amid its page, whose rows before and after it
 * go too: it shows that the page is not what was written there. */
static void rows_that_nobody_reads(void **state)
{
	static const char *const harms[] = {
		"UPDATE transmission SET kind='nfx' WHERE id=205",
		"UPDATE transmission SET last_us=first_us-1 WHERE id=205",
		"UPDATE artefact SET channel=2280 WHERE id=20",
		"UPDATE coverage SET looks=-1 WHERE first=38*20 AND hour=9*3600000000",
		"UPDATE strip SET packed=substr(packed, 1, 5) WHERE start_us=380*60000000",
	};
	struct rescue_world *w = *state;
	char path[WORLD_ROOM + 16], none[64];

	snprintf(path, sizeof path, "%s/bad.survey", w->place.folder);
	for (size_t i = 0; i < sizeof harms / sizeof harms[0]; i++) {
		struct rescue_sum sum;
		size_t n;
		put_file(path, w->bytes, w->n);
		ask(path, harms[i], none);
		char *bytes = get_file(path, &n);
		assert_int_equal(n, w->n);
		size_t page = page_changed(w, bytes, harms[i]);
		int kept = rescue_of(w, bytes, n, harms[i], &sum);
		if (kept != w->rows.n - w->on_page[page] || sum.whole || sum.pages_lost != 1)
			fail_msg("%s: %d of %d rows saved, %d lie on that page; %lld pages lost",
				 harms[i], kept, w->rows.n, w->on_page[page],
				 (long long)sum.pages_lost);
		free(bytes);
	}
}

/* A leaf of activity that came to lie on the root's place looks like a whole tree; those that no
 * page leads to tell that it is not. */
static void a_leaf_on_the_roots_place(void **state)
{
	struct rescue_world *w = *state;
	size_t root = root_of(w, "activity");
	struct rescue_sum sum;
	char *bytes = malloc(w->n);

	assert_non_null(bytes);
	memcpy(bytes, w->bytes, w->n);
	memcpy(bytes + root * PAGE, w->bytes + first_leaf(w, "activity") * PAGE, PAGE);
	assert_true(w->on_page[root] > 0);
	assert_int_equal(rescue_of(w, bytes, w->n, "a leaf on the root's place", &sum),
			 w->rows.n - w->on_page[root]);
	assert_false(sum.whole);
	assert_int_equal(rescue_number(w->left, "SELECT count(*) FROM coverage"), 0);
	free(bytes);
}

/* A writer that died leaves a log: what it holds counts, up to where it is damaged. */
static void the_log_counts(void **state)
{
	struct rescue_world *w = *state;
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
		int done = survey_rescue(from, w->left, rescue_ignore, &lines, &sum, &why);
		int overs =
			done < 0 ? 0 : (int)rescue_number(w->left, "SELECT count(*) FROM transmission");
		if (done == 0 && (rescue_number(w->left, "SELECT count(*) FROM incident") != overs ||
				  rescue_number(w->left, "SELECT ifnull(sum(looks), 0) FROM coverage") !=
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
		cmocka_unit_test(bytes_that_do_not_add_up),
		cmocka_unit_test(rows_that_nobody_reads),
		cmocka_unit_test(a_leaf_on_the_roots_place),
		cmocka_unit_test(sectors_by_chance), cmocka_unit_test(the_log_counts),
	};
	return cmocka_run_group_tests(tests, rescue_set_up, rescue_tear_down);
}
