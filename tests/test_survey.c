#include "tests/test.h"

#include <dirent.h>
#include <fcntl.h>
#include <signal.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <sys/wait.h>
#include <unistd.h>

#include <sqlite3.h>

#include "store/levels.h"
#include "tests/failing_vfs.h"
#include "tests/survey_world.h"

/* ---- places ---- */

struct place {
	char folder[64];
	char path[WORLD_ROOM];          /* night.survey in it */
};

static int make_place(void **state)
{
	struct place *p = calloc(1, sizeof *p);

	assert_non_null(p);
	strcpy(p->folder, "/tmp/test_survey.XXXXXX");
	assert_non_null(mkdtemp(p->folder));
	snprintf(p->path, sizeof p->path, "%s/night.survey", p->folder);
	*state = p;
	return 0;
}

static void empty_place(const struct place *p)
{
	char path[WORLD_ROOM + 256];
	DIR *d = opendir(p->folder);
	struct dirent *e;

	assert_non_null(d);
	while ((e = readdir(d))) {
		snprintf(path, sizeof path, "%s/%s", p->folder, e->d_name);
		if (e->d_name[0] != '.')
			unlink(path);
	}
	closedir(d);
}

static int remove_place(void **state)
{
	struct place *p = *state;

	empty_place(p);
	rmdir(p->folder);
	free(p);
	return 0;
}

static int files_in(const struct place *p)
{
	DIR *d = opendir(p->folder);
	struct dirent *e;
	int n = 0;

	assert_non_null(d);
	while ((e = readdir(d)))
		n += e->d_name[0] != '.';
	closedir(d);
	return n;
}

static void put_file(const char *path, const void *bytes, size_t n)
{
	FILE *f = fopen(path, "w");

	assert_non_null(f);
	assert_int_equal(fwrite(bytes, 1, n, f), n);
	assert_int_equal(fclose(f), 0);
}

static char *get_file(const char *path, size_t *n)
{
	FILE *f = fopen(path, "r");
	char *bytes = malloc(1 << 22);

	assert_non_null(f);
	assert_non_null(bytes);
	*n = fread(bytes, 1, 1 << 22, f);
	fclose(f);
	return bytes;
}

/* Whatever SQLite says of a file, in one connection of its own. */
static void ask(const char *path, const char *sql, char out[64])
{
	sqlite3 *db;
	sqlite3_stmt *q;

	assert_int_equal(sqlite3_open(path, &db), SQLITE_OK);
	if (sqlite3_prepare_v2(db, sql, -1, &q, NULL) != SQLITE_OK)
		fail_msg("%s: %s", sql, sqlite3_errmsg(db));
	out[0] = '\0';
	if (sqlite3_step(q) == SQLITE_ROW)
		snprintf(out, 64, "%s", (const char *)sqlite3_column_text(q, 0));
	sqlite3_finalize(q);
	sqlite3_close(db);
}

static struct survey *must_write(const char *path, struct run_row *run)
{
	struct fault why = { 0 };
	struct survey *s = survey_write(path, run, world_bands, WORLD_BANDS, &why);

	if (!s)
		fail_msg("survey_write: %s", why.text);
	return s;
}

static struct survey *must_read(const char *path)
{
	struct fault why = { 0 };
	struct survey *s = survey_read(path, &why);

	if (!s)
		fail_msg("survey_read: %s", why.text);
	return s;
}

/* A survey of so many transactions, closed. */
static void write_survey(const char *path, int n)
{
	struct fault why = { 0 };
	struct run_row run = world_run();
	struct survey *s = must_write(path, &run);

	for (int i = 0; i < n; i++) {
		struct world_rows rows = world_rows(run.id, i);
		if (world_write(s, &rows, &why) < 0)
			fail_msg("%s", why.text);
	}
	survey_close(s);
}

static struct world_seen see_all(const char *path)
{
	struct fault why = { 0 };
	struct world_seen seen;
	struct survey *s = must_read(path);

	if (world_see(s, &seen, &why) < 0)
		fail_msg("%s", why.text);
	survey_close(s);
	return seen;
}

/* ---- what goes in comes out ---- */

#define SAME(member) assert_int_equal(got->member, put->member)
#define SAME_TEXT(member) assert_string_equal(got->member, put->member)

static void same_run(const struct run_row *got, const struct run_row *put)
{
	SAME(id); SAME(start_us); SAME(end_us); SAME(rate_hz); SAME(gain_ddb); SAME(dwell_us);
	SAME_TEXT(station); SAME_TEXT(source); SAME_TEXT(version);
	assert_float_equal(got->ppm, put->ppm, 1e-9);
	assert_float_equal(got->pfa, put->pfa, 1e-18);
	assert_float_equal(got->margin_db, put->margin_db, 1e-9);
}

static void same_activity(const struct activity_row *got, const struct activity_row *put)
{
	SAME(run); SAME(hour); SAME(band); SAME(channel); SAME(busy_looks); SAME(busy_us);
	SAME(openings); SAME(held); SAME(blind_looks); SAME(blind_us);
	assert_memory_equal(got->level, put->level, sizeof put->level);
	assert_memory_equal(got->level_looks, put->level_looks, sizeof put->level_looks);
}

static void same_transmission(const struct transmission_row *got, const struct transmission_row *put)
{
	SAME(run); SAME(band); SAME(channel); SAME(first_us); SAME(last_us); SAME(before_us);
	SAME(after_us); SAME(busy_us); SAME(looks); SAME(level_ddb); SAME(peak_ddb); SAME(floor_ddb);
	SAME(offset_hz); SAME(width_hz); SAME(kind); SAME(confidence); SAME(tone_ddhz);
}

static void same_rest(const struct world_seen *w, const struct world_rows *rows)
{
	{
		const struct coverage_row *got = &w->coverage[0], *put = &rows->coverage;
		SAME(run); SAME(hour); SAME(band); SAME(first); SAME(count); SAME(looks); SAME(pairs);
		SAME(looked_us); SAME(clipped); SAME(floor_ddb_sum);
	}
	{
		const struct incident_row *got = &w->incident[0], *put = &rows->incident;
		SAME(run); SAME(at_us); SAME(until_us); SAME_TEXT(what); SAME_TEXT(text);
	}
	{
		const struct artefact_row *got = &w->artefact[0], *put = &rows->artefact;
		SAME(run); SAME(at_us); SAME(band); SAME(channel); SAME_TEXT(cause); SAME_TEXT(text);
	}
}

static void round_trip(void **state)
{
	const struct place *p = *state;
	struct fault why = { 0 };
	struct run_row run = world_run();
	struct survey *s = must_write(p->path, &run);
	struct world_rows rows = world_rows(run.id, 3);
	const struct band *bands;

	assert_int_equal(world_write(s, &rows, &why), 0);
	assert_int_equal(survey_begin(s, &why), 0);
	assert_int_equal(survey_end_run(s, run.id, 9 * HOUR_US, &why), 0);
	assert_int_equal(survey_end_run(s, run.id + 1, 9 * HOUR_US, &why), -1);
	assert_int_equal(survey_commit(s, &why), 0);
	survey_close(s);
	run.end_us = 9 * HOUR_US;

	struct world_seen w = see_all(p->path);
	assert_int_equal(w.n_run, 1);
	same_run(&w.run[0], &run);
	same_activity(&w.activity[0], &rows.activity);
	same_transmission(&w.transmission[0], &rows.transmission);
	same_rest(&w, &rows);

	s = must_read(p->path);
	assert_int_equal(survey_bands(s, &bands), WORLD_BANDS);
	for (int i = 0; i < WORLD_BANDS; i++) {
		const struct band *got = &bands[i], *put = &world_bands[i];
		SAME_TEXT(id); SAME_TEXT(name); SAME_TEXT(service); SAME(mode); SAME(width_hz);
		SAME(raster.first.thirds); SAME(raster.step.thirds); SAME(raster.count);
	}
	survey_close(s);
}

static void every_kind_and_mode(void **state)
{
	const struct place *p = *state;
	struct fault why = { 0 };
	struct run_row run = world_run();
	struct survey *s = must_write(p->path, &run);

	for (int k = 0; k < KIND_COUNT; k++) {
		struct world_rows rows = world_rows(run.id, k);
		rows.transmission.kind = (enum kind)k;
		assert_int_equal(world_write(s, &rows, &why), 0);
	}
	survey_close(s);
	struct world_seen w = see_all(p->path);
	assert_int_equal(w.n_transmission, KIND_COUNT);
	for (int k = 0; k < KIND_COUNT; k++)
		assert_int_equal(w.transmission[k].kind, k);
}

static void coverage_and_activity_add_up(void **state)
{
	const struct place *p = *state;

	write_survey(p->path, 5);
	struct world_seen w = see_all(p->path);
	assert_int_equal(w.n_coverage, 1);
	assert_int_equal(w.coverage[0].looks, 100 + 101 + 102 + 103 + 104);
	assert_int_equal(w.coverage[0].pairs, 5 * 90);
	assert_int_equal(w.coverage[0].looked_us, 5 * INT64_C(3000000000));
	assert_int_equal(w.coverage[0].clipped, 5 * 2);
	assert_int_equal(w.coverage[0].floor_ddb_sum, 5 * -61400);
	assert_int_equal(w.n_activity, 1);
	const struct activity_row *a = &w.activity[0];
	assert_int_equal(a->busy_looks, 5 * 9);
	assert_int_equal(a->busy_us, 5 * 270000);
	assert_int_equal(a->openings, 5 * 2);
	assert_int_equal(a->held, 5 * 7);
	assert_int_equal(a->blind_looks, 5 * 3);
	assert_int_equal(a->blind_us, 5 * 90000);
	assert_int_equal(a->level[0], 5);
	assert_int_equal(a->level[17], 5 * 260000 + 0 + 1 + 2 + 3 + 4);
	assert_int_equal(a->level_looks[17], 5 * 7);
	assert_int_equal(a->level[LEVEL_BINS - 1], 5 * INT64_C(3600000000));
	assert_int_equal(w.n_transmission, 5);

	/* Another night is another run: its rows are its own. */
	write_survey(p->path, 1);
	w = see_all(p->path);
	assert_int_equal(w.n_run, 2);
	assert_int_equal(w.n_coverage, 2);
	assert_int_equal(w.n_activity, 2);
	assert_int_equal(w.n_transmission, 6);
	assert_int_equal(w.activity[1].level[17], 260000);
}

static int not_after(int64_t *last, int64_t key)
{
	int wrong = key < *last;

	*last = key;
	return wrong;
}

struct order { int64_t transmission, coverage; int seen; };

static int see_transmission(void *self, const struct transmission_row *r)
{
	struct order *o = self;

	o->seen++;
	return not_after(&o->transmission, (r->band * INT64_C(1000) + r->channel) * 100 * HOUR_US + r->first_us);
}

static int see_two(void *self, const struct transmission_row *r)
{
	(void)r;
	return ++((struct order *)self)->seen == 2 ? 77 : 0;
}

static void walks_are_in_order_and_can_stop(void **state)
{
	const struct place *p = *state;
	struct fault why = { 0 };
	struct run_row run = world_run();
	struct survey *s = must_write(p->path, &run);
	struct order o = { 0 };

	for (int i = 0; i < 60; i++) {
		struct world_rows rows = world_rows(run.id, (i * 37) % 60);
		rows.transmission.band = i % 2;
		assert_int_equal(world_write(s, &rows, &why), 0);
	}
	assert_int_equal(survey_each_transmission(s, see_transmission, &o, &why), 0);
	assert_int_equal(o.seen, 60);
	survey_close(s);
	s = must_read(p->path);
	o.seen = 0;
	assert_int_equal(survey_each_transmission(s, see_two, &o, &why), 77);
	assert_int_equal(o.seen, 2);
	o = (struct order){ 0 };
	assert_int_equal(survey_each_transmission(s, see_transmission, &o, &why), 0);
	assert_int_equal(o.seen, 60);
	survey_close(s);
}

/* ---- histograms ---- */

static void levels_survive_packing(void **state)
{
	static const struct { const char *why; int bin; int64_t us, looks; } cases[] = {
		{ "the first bin",                  0, 1, 1 },
		{ "the last bin",                  79, 1, 1 },
		{ "looks without time",             5, 0, 3 },
		{ "time without looks",             5, 3, 0 },
		{ "one byte's most",               40, 127, 127 },
		{ "two bytes' least",              40, 128, 128 },
		{ "as much as there is",           40, INT64_MAX, INT64_MAX },
	};
	(void)state;
	for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
		int64_t us[LEVEL_BINS] = { 0 }, looks[LEVEL_BINS] = { 0 };
		int64_t us2[LEVEL_BINS], looks2[LEVEL_BINS];
		uint8_t bytes[LEVELS_ROOM];

		us[cases[i].bin] = cases[i].us;
		looks[cases[i].bin] = cases[i].looks;
		size_t n = levels_pack(us, looks, bytes);
		if (levels_unpack(bytes, n, us2, looks2) < 0 || memcmp(us, us2, sizeof us) != 0 ||
		    memcmp(looks, looks2, sizeof looks) != 0)
			fail_msg("%s: did not survive", cases[i].why);
		for (size_t cut = 1; cut < n; cut++)
			if (levels_unpack(bytes, cut, us2, looks2) == 0)
				fail_msg("%s: cut to %zu of %zu bytes it passes", cases[i].why, cut, n);
	}
}

static void all_bins_fit(void **state)
{
	int64_t us[LEVEL_BINS], us2[LEVEL_BINS], looks2[LEVEL_BINS];
	uint8_t bytes[LEVELS_ROOM + 1];
	(void)state;

	for (int i = 0; i < LEVEL_BINS; i++)
		us[i] = INT64_MAX - i;
	bytes[LEVELS_ROOM] = 0x5a;
	size_t n = levels_pack(us, us, bytes);
	assert_int_equal(n, LEVELS_ROOM);
	assert_int_equal(bytes[LEVELS_ROOM], 0x5a);
	assert_int_equal(levels_unpack(bytes, n, us2, looks2), 0);
	assert_memory_equal(us2, us, sizeof us);
	assert_memory_equal(looks2, us, sizeof us);
}

static void damaged_levels_are_refused(void **state)
{
	static const struct { const char *why; size_t n; uint8_t bytes[12]; } cases[] = {
		{ "a bin past the last",        3, { 80, 1, 1 } },
		{ "a second bin past the last", 6, { 79, 1, 1, 0, 1, 1 } },
		{ "a skip of 2^56 bins",       11, { 0x80, 0x80, 0x80, 0x80, 0x80, 0x80, 0x80, 0x80, 1, 1, 1 } },
		{ "a number of ten bytes",     12, { 0x80, 0x80, 0x80, 0x80, 0x80, 0x80, 0x80, 0x80, 0x80, 0, 1, 1 } },
		{ "a number without end",       3, { 0, 1, 0x80 } },
	};
	int64_t us[LEVEL_BINS], looks[LEVEL_BINS];
	(void)state;

	for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
		if (levels_unpack(cases[i].bytes, cases[i].n, us, looks) == 0)
			fail_msg("%s: passes", cases[i].why);
		for (int b = 0; b < LEVEL_BINS; b++)
			assert_int_equal(us[b] | looks[b], 0);
	}
}

/* ---- refusals ---- */

static int is_one_line(const char *text)
{
	size_t n = strlen(text);

	return n > 0 && !strpbrk(text, "\n\r") && text[n - 1] != '.';
}

static void expect_refusal(struct survey *s, const struct fault *why, enum fault_kind kind,
			   const char *says, const char *reason)
{
	if (s)
		fail_msg("%s: was not refused", reason);
	if (why->kind != kind || !strstr(why->text, says) || !is_one_line(why->text))
		fail_msg("%s: said (%d) \"%s\", not \"%s\"", reason, why->kind, why->text, says);
}

static void no_surveys(void **state)
{
	const struct place *p = *state;
	static const char text[] = "kind = \"daemon\";\n";
	static const struct { const char *why, *bytes; size_t n; const char *says; } cases[] = {
		{ "a settings file", text, sizeof text - 1, "no survey" },
		{ "zeroes", "\0\0\0\0\0\0\0\0", 8, "no survey" },
		{ "half a header", "SQLite format 3", 15, "no survey" },
	};

	for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
		struct fault why = { 0 };
		struct run_row run = world_run();
		size_t n;

		put_file(p->path, cases[i].bytes, cases[i].n);
		expect_refusal(survey_read(p->path, &why), &why, FAULT_INPUT, cases[i].says, cases[i].why);
		why.text[0] = '\0';
		expect_refusal(survey_write(p->path, &run, world_bands, WORLD_BANDS, &why), &why,
			       FAULT_INPUT, cases[i].says, cases[i].why);
		char *after = get_file(p->path, &n);
		assert_int_equal(n, cases[i].n);
		assert_memory_equal(after, cases[i].bytes, n);
		free(after);
		assert_int_equal(files_in(p), 1);
	}
}

static void a_database_of_someone_else(void **state)
{
	const struct place *p = *state;
	struct fault why = { 0 };
	struct run_row run = world_run();
	char out[64];

	ask(p->path, "CREATE TABLE letters(a)", out);
	expect_refusal(survey_read(p->path, &why), &why, FAULT_INPUT, "no survey", "another's tables");
	expect_refusal(survey_write(p->path, &run, world_bands, WORLD_BANDS, &why), &why, FAULT_INPUT,
		       "no survey", "another's tables");
	assert_int_equal(files_in(p), 1);
}

static void a_newer_version(void **state)
{
	const struct place *p = *state;
	struct fault why = { 0 };
	struct run_row run = world_run();
	char out[64];

	write_survey(p->path, 1);
	ask(p->path, "PRAGMA user_version=2", out);
	expect_refusal(survey_read(p->path, &why), &why, FAULT_INPUT, "version 2", "newer, read");
	expect_refusal(survey_write(p->path, &run, world_bands, WORLD_BANDS, &why), &why, FAULT_INPUT,
		       "version 2", "newer, written");
	ask(p->path, "SELECT count(*) FROM run", out);
	assert_string_equal(out, "1");
}

static void other_bands(void **state)
{
	const struct place *p = *state;
	struct band other[WORLD_BANDS + 1];
	struct run_row run = world_run();
	struct fault why = { 0 };
	size_t n, m;

	write_survey(p->path, 1);
	char *before = get_file(p->path, &n);
	static const struct { const char *why; int n; int what; } cases[] = {
		{ "one more band", 3, 0 }, { "one less", 1, 0 }, { "another id", 2, 1 },
		{ "another first centre, by a third of a hertz", 2, 2 }, { "another step", 2, 3 },
		{ "one channel more", 2, 4 }, { "another mode", 2, 5 }, { "another width", 2, 6 },
	};
	for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
		memcpy(other, world_bands, sizeof world_bands);
		other[2] = world_bands[1];
		strcpy(other[2].id, "third");
		strcpy(other[1].id, cases[i].what == 1 ? "other" : "works");
		other[1].raster.first.thirds += cases[i].what == 2;
		other[1].raster.step.thirds += cases[i].what == 3;
		other[1].raster.count += cases[i].what == 4;
		other[1].mode = cases[i].what == 5 ? MODE_AM : MODE_NFM;
		other[1].width_hz += cases[i].what == 6;
		expect_refusal(survey_write(p->path, &run, other, cases[i].n, &why), &why, FAULT_INPUT,
			       "bands", cases[i].why);
	}
	char *after = get_file(p->path, &m);
	assert_int_equal(n, m);
	assert_memory_equal(before, after, n);
	free(before);
	free(after);
	assert_int_equal(files_in(p), 1);
}

static void places_where_none_can_be(void **state)
{
	const struct place *p = *state;
	struct fault why = { 0 };
	struct run_row run = world_run();
	char nowhere[WORLD_ROOM + 32];

	expect_refusal(survey_write(p->folder, &run, world_bands, WORLD_BANDS, &why), &why, FAULT_INPUT,
		       "folder", "a folder, written");
	expect_refusal(survey_read(p->folder, &why), &why, FAULT_INPUT, "folder", "a folder, read");
	expect_refusal(survey_read(p->path, &why), &why, FAULT_INPUT, "No such file", "no file");
	snprintf(nowhere, sizeof nowhere, "%s/none/night.survey", p->folder);
	expect_refusal(survey_write(nowhere, &run, world_bands, WORLD_BANDS, &why), &why, FAULT_INPUT,
		       "No such file", "no folder");
	/* A folder that even root can't write. */
	expect_refusal(survey_write("/proc/self/night.survey", &run, world_bands, WORLD_BANDS, &why),
		       &why, FAULT_INPUT, "can't be made", "a folder nobody can write");
	expect_refusal(survey_read("/dev/null", &why), &why, FAULT_INPUT, "ordinary file", "a device");
	assert_int_equal(files_in(p), 0);
	put_file(p->path, "", 0);
	expect_refusal(survey_read(p->path, &why), &why, FAULT_INPUT, "empty", "an empty file, read");
	write_survey(p->path, 1);       /* what a death while creating leaves */
	assert_int_equal(see_all(p->path).n_run, 1);
}

/* Every length and many kinds of damage: an answer or one line, and never a fall. */
static void broken_files(void **state)
{
	const struct place *p = *state;
	struct fault why;
	struct world_seen seen;
	unsigned seed = 20260;
	size_t n;
	int refused = 0;

	write_survey(p->path, 6);
	char *whole = get_file(p->path, &n), *bytes = malloc(n);
	assert_non_null(bytes);
	for (int round = 0; round < 300; round++) {
		size_t keep = n;
		memcpy(bytes, whole, n);
		if (round < 60)
			keep = n * (size_t)round / 60;
		else
			for (int i = 0; i < 1 + round % 40; i++)
				bytes[(size_t)rand_r(&seed) % n] = (char)rand_r(&seed);
		put_file(p->path, bytes, keep);
		why = (struct fault){ 0 };
		struct survey *s = survey_read(p->path, &why);
		if (!s || world_see(s, &seen, &why) < 0) {
			refused++;
			if (why.kind == FAULT_NONE || !is_one_line(why.text))
				fail_msg("seed 20260, round %d: said (%d) \"%s\"", round, why.kind, why.text);
		}
		survey_close(s);
	}
	if (refused < 60)
		fail_msg("seed 20260: only %d of 300 were refused", refused);
	free(whole);
	free(bytes);
}

/* Rows that a program of ours never writes, but a damaged file may hold. */
static void impossible_rows(void **state)
{
	static const struct { const char *why, *sql; } cases[] = {
		{ "a channel past its band", "UPDATE transmission SET channel=40" },
		{ "a negative channel", "UPDATE activity SET channel=-1" },
		{ "a band that is not there", "UPDATE artefact SET band=2" },
		{ "coverage past its band", "UPDATE coverage SET first=2279" },
		{ "a channel of 33 bits", "UPDATE artefact SET channel=4294967296" },
		{ "an unknown kind", "UPDATE transmission SET kind='song'" },
		{ "an unknown mode", "UPDATE band SET mode='song'" },
		{ "half a histogram", "UPDATE activity SET level=x'0180'" },
		{ "a band of no channels", "UPDATE band SET channels=0" },
		{ "a band missing", "DELETE FROM band WHERE band=0" },
	};
	const struct place *p = *state;
	struct world_seen seen;

	for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
		struct fault why = { 0 };
		sqlite3 *db;

		empty_place(p);
		write_survey(p->path, 1);
		assert_int_equal(sqlite3_open(p->path, &db), SQLITE_OK);
		sqlite3_exec(db, "PRAGMA ignore_check_constraints=1", NULL, NULL, NULL);
		if (sqlite3_exec(db, cases[i].sql, NULL, NULL, NULL) != SQLITE_OK)
			fail_msg("%s: %s", cases[i].why, sqlite3_errmsg(db));
		sqlite3_close(db);
		struct survey *s = survey_read(p->path, &why);
		int result = s ? world_see(s, &seen, &why) : -1;
		survey_close(s);
		if (result == 0 || why.kind != FAULT_FATAL || !strstr(why.text, "damaged"))
			fail_msg("%s: said (%d) \"%s\"", cases[i].why, why.kind, why.text);
	}
}

static void rows_are_refused_outside_a_transaction(void **state)
{
	const struct place *p = *state;
	struct fault why = { 0 };
	struct run_row run = world_run();
	struct survey *s = must_write(p->path, &run);
	struct world_rows rows = world_rows(run.id, 0);

	assert_int_equal(survey_add_incident(s, &rows.incident, &why), -1);
	assert_int_equal(why.kind, FAULT_FATAL);
	survey_rollback(s);             /* harmless when nothing is open */
	assert_int_equal(survey_begin(s, &why), 0);
	rows.transmission.channel = 40;
	assert_int_equal(survey_add_transmission(s, &rows.transmission, &why), -1);
	rows.incident.run = run.id + 1;
	assert_int_equal(survey_add_incident(s, &rows.incident, &why), -1);
	survey_rollback(s);
	survey_close(s);
	survey_close(NULL);
}

/* ---- who may, and how many ---- */

static int mode_of(const char *path, const char *suffix)
{
	char side[WORLD_ROOM + 8];
	struct stat st;

	snprintf(side, sizeof side, "%s%s", path, suffix);
	return stat(side, &st) == 0 ? (int)(st.st_mode & 07777) : -1;
}

static void it_is_private(void **state)
{
	const struct place *p = *state;
	struct run_row run = world_run();

	umask(0);
	struct survey *s = must_write(p->path, &run);
	assert_int_equal(mode_of(p->path, ""), 0600);
	assert_int_equal(mode_of(p->path, "-wal"), 0600);
	assert_int_equal(mode_of(p->path, "-shm"), 0600);
	survey_close(s);
	assert_int_equal(chmod(p->path, 0644), 0);
	s = must_write(p->path, &run);
	assert_int_equal(mode_of(p->path, ""), 0600);
	assert_int_equal(mode_of(p->path, "-wal"), 0600);
	survey_close(s);
	assert_int_equal(files_in(p), 1);
	umask(022);
}

static void one_writer(void **state)
{
	const struct place *p = *state;
	struct fault why = { 0 };
	struct run_row run = world_run(), second = world_run();
	struct survey *s = must_write(p->path, &run);
	struct world_rows rows = world_rows(run.id, 0);

	for (int i = 0; i < 3; i++)
		expect_refusal(survey_write(p->path, &second, world_bands, WORLD_BANDS, &why), &why,
			       FAULT_INPUT, "another program is writing", "a second writer");
	assert_int_equal(world_write(s, &rows, &why), 0);
	pid_t pid = fork();
	if (pid == 0)
		_exit(survey_write(p->path, &second, world_bands, WORLD_BANDS, &why) ? 1 : 0);
	int status;
	assert_int_equal(waitpid(pid, &status, 0), pid);
	assert_int_equal(status, 0);
	survey_close(s);
	assert_int_equal(see_all(p->path).n_run, 1);
	s = must_write(p->path, &second);
	survey_close(s);
	assert_int_equal(see_all(p->path).n_run, 2);
}

static void readers_look_on(void **state)
{
	const struct place *p = *state;
	struct fault why = { 0 };
	struct world_seen seen;
	struct run_row run = world_run();
	struct survey *s = must_write(p->path, &run);
	struct world_rows rows = world_rows(run.id, 0);

	struct survey *early = must_read(p->path);
	assert_int_equal(world_write(s, &rows, &why), 0);
	struct survey *late = must_read(p->path);
	assert_int_equal(survey_begin(s, &why), 0);
	assert_int_equal(survey_add_incident(s, &rows.incident, &why), 0);
	assert_int_equal(world_see(early, &seen, &why), 0);
	assert_int_equal(seen.n_incident, 0);   /* one moment, held */
	assert_int_equal(world_see(late, &seen, &why), 0);
	assert_int_equal(seen.n_incident, 1);
	assert_int_equal(survey_commit(s, &why), 0);
	survey_close(s);                        /* while they look */
	assert_int_equal(world_see(late, &seen, &why), 0);
	assert_int_equal(seen.n_incident, 1);
	survey_close(early);
	survey_close(late);
	assert_int_equal(see_all(p->path).n_incident, 2);
}

static void reading_changes_nothing(void **state)
{
	const struct place *p = *state;
	size_t n, m;

	write_survey(p->path, 3);
	char *before = get_file(p->path, &n);
	assert_int_equal(chmod(p->path, 0400), 0);
	assert_int_equal(chmod(p->folder, 0500), 0);
	see_all(p->path);
	assert_int_equal(files_in(p), 1);
	assert_int_equal(chmod(p->folder, 0700), 0);
	char *after = get_file(p->path, &m);
	assert_int_equal(n, m);
	assert_memory_equal(before, after, n);
	free(before);
	free(after);
}

/* A file whose writer died, copied without its log to where none can be made. */
static void a_copy_that_cannot_have_a_log(void **state)
{
	const struct place *p = *state;
	struct failing_disk disk = { .deny = "-wal" };
	char out[64];

	write_survey(p->path, 2);
	ask(p->path, "PRAGMA journal_mode=WAL", out);
	assert_string_equal(out, "wal");
	assert_int_equal(failing_disk_install(&disk), 0);
	struct world_seen seen = see_all(p->path);
	failing_disk_remove(&disk);
	assert_int_equal(seen.n_transmission, 2);
}

static void odd_names(void **state)
{
	const struct place *p = *state;
	static const char *const names[] = { "a b?mode=memory&x.survey", "100%41#.survey", ":memory:" };
	struct failing_disk disk = { .deny = "-wal" };
	char path[WORLD_ROOM + 64], out[64];
	char *old = getcwd(NULL, 0);

	assert_non_null(old);
	for (size_t i = 0; i < sizeof names / sizeof names[0]; i++) {
		snprintf(path, sizeof path, "%s/%s", p->folder, names[i]);
		write_survey(path, 1);
		assert_int_equal(see_all(path).n_transmission, 1);
		ask(path, "PRAGMA journal_mode=WAL", out);
		assert_int_equal(failing_disk_install(&disk), 0);
		assert_int_equal(see_all(path).n_transmission, 1);
		failing_disk_remove(&disk);
	}
	assert_int_equal(chdir(p->folder), 0);
	assert_int_equal(see_all(":memory:").n_transmission, 1);
	assert_int_equal(chdir(old), 0);
	free(old);
}

/* ---- a broken world ---- */

struct ledger {
	int refusals;
	int transactions;               /* that were told to be kept */
	int runs;
	int unsure;                     /* starts that were refused */
};

#define TRIES 4

/* A writer that keeps its rows until they are kept, on a disk that mends when it was refused. */
static void write_with_patience(const char *path, struct failing_disk *disk, struct ledger *l)
{
	struct fault why = { 0 };
	struct run_row run = world_run();
	struct survey *s = NULL;

	for (int i = 0; i < TRIES && !s; i++) {
		s = survey_write(path, &run, world_bands, WORLD_BANDS, &why);
		if (!s) {
			l->refusals++;
			l->unsure++;
			disk->fail_at = 0;
			if (why.kind == FAULT_NONE || !is_one_line(why.text))
				fail_msg("opening said (%d) \"%s\"", why.kind, why.text);
		}
	}
	if (!s)
		fail_msg("never opened: %s", why.text);
	l->runs++;
	for (int t = 0; t < 3; t++) {
		struct world_rows rows = world_rows(run.id, l->transactions);
		int kept = -1;
		for (int i = 0; i < TRIES && kept < 0; i++) {
			kept = world_write(s, &rows, &why);
			if (kept < 0) {
				l->refusals++;
				disk->fail_at = 0;
				if (why.kind != FAULT_RETRY)
					fail_msg("writing said (%d) \"%s\"", why.kind, why.text);
			}
		}
		if (kept < 0)
			fail_msg("never kept: %s", why.text);
		l->transactions++;
	}
	survey_close(s);
}

static void fail_at_every_call(const struct place *p, bool stay, int code)
{
	char out[64];
	int n = 0, refusals = 0, failed;

	do {
		struct failing_disk disk = { .fail_at = ++n, .stay = stay, .code = code };
		struct ledger l = { 0 };

		empty_place(p);
		assert_int_equal(failing_disk_install(&disk), 0);
		write_with_patience(p->path, &disk, &l);        /* makes it */
		write_with_patience(p->path, &disk, &l);        /* goes on with it */
		failing_disk_remove(&disk);
		failed = disk.failed;
		refusals += l.refusals;
		/* A start that was refused when all but the last sync had been done may turn
		 * out kept: a run without rows, as of one that died at once. */
		struct world_seen w = see_all(p->path);
		if (w.n_run < l.runs || w.n_run > l.runs + l.unsure || w.n_transmission != l.transactions ||
		    w.n_incident != l.transactions || w.n_artefact != l.transactions ||
		    w.looks != 2 * 300 + 0 + 1 + 2 + 3 + 4 + 5 ||
		    w.level_us != 6 * (INT64_C(3600000000) + 1 + 260000) + 0 + 1 + 2 + 3 + 4 + 5)
			fail_msg("call %d (stay %d): %d runs, %d transmissions, %lld looks", n, stay,
				 w.n_run, w.n_transmission, (long long)w.looks);
		ask(p->path, "PRAGMA integrity_check", out);
		if (strcmp(out, "ok") != 0)
			fail_msg("call %d (stay %d): %s", n, stay, out);
	} while (failed);
	/* Some failures are mended unseen, while closing; a disk that never failed proves nothing. */
	if (n < 50 || refusals < n / 4)
		fail_msg("%d calls, %d refusals: the disk was not in the way", n, refusals);
}

static void nothing_is_lost_or_stored_twice(void **state)
{
	fail_at_every_call(*state, false, SQLITE_FULL);
	fail_at_every_call(*state, true, SQLITE_FULL);
	fail_at_every_call(*state, true, SQLITE_IOERR_WRITE);
}

static void a_refused_survey_leaves_nothing(void **state)
{
	const struct place *p = *state;
	struct failing_disk disk = { .stay = true, .code = SQLITE_FULL };
	struct run_row run = world_run();
	struct survey *s = NULL;
	int n = 0;

	assert_int_equal(failing_disk_install(&disk), 0);
	while (!s) {
		struct fault why = { 0 };
		disk.calls = 0;
		disk.fail_at = ++n;
		s = survey_write(p->path, &run, world_bands, WORLD_BANDS, &why);
		if (!s && files_in(p) != 0)
			fail_msg("call %d: %d files stay behind", n, files_in(p));
	}
	disk.fail_at = 0;
	survey_close(s);
	failing_disk_remove(&disk);
	if (n < 20)
		fail_msg("only %d calls to make a survey", n);
}

/* Dies while rows are written: how many transactions it was told are kept goes to
 * the pipe first. */
static void die_writing(const char *path, int pipe_end)
{
	struct fault why = { 0 };
	struct run_row run = world_run();
	struct survey *s = survey_write(path, &run, world_bands, WORLD_BANDS, &why);

	for (int i = 0; s; i++) {
		struct world_rows rows = world_rows(run.id, i);
		if (world_write(s, &rows, &why) < 0 || write(pipe_end, "x", 1) != 1)
			break;
	}
	_exit(1);
}

static void killed_while_writing(void **state)
{
	const struct place *p = *state;
	unsigned seed = 4711;
	int told = 0, runs = 0;
	char out[64], byte;

	for (int round = 0; round < 8; round++) {
		int ends[2];
		assert_int_equal(pipe(ends), 0);
		pid_t pid = fork();
		if (pid == 0) {
			close(ends[0]);
			die_writing(p->path, ends[1]);
		}
		close(ends[1]);
		int until = 1 + rand_r(&seed) % 9;
		for (int i = 0; i < until; i++)
			assert_int_equal(read(ends[0], &byte, 1), 1);
		kill(pid, SIGKILL);
		waitpid(pid, NULL, 0);
		told += until;
		runs++;
		while (read(ends[0], &byte, 1) == 1)
			told++;
		close(ends[0]);

		/* One more may have been kept between the commit and the word of it. */
		struct world_seen w = see_all(p->path);
		if (w.n_run != runs || w.n_transmission < told || w.n_transmission > told + 1 ||
		    w.n_incident != w.n_transmission || w.n_artefact != w.n_transmission)
			fail_msg("seed 4711, round %d: %d runs, told %d, kept %d", round, w.n_run, told,
				 w.n_transmission);
		told = w.n_transmission;
		ask(p->path, "PRAGMA integrity_check", out);
		assert_string_equal(out, "ok");
	}
}

static void killed_before_commit(void **state)
{
	const struct place *p = *state;
	struct fault why = { 0 };
	int ends[2];
	char byte;

	assert_int_equal(pipe(ends), 0);
	pid_t pid = fork();
	if (pid == 0) {
		struct run_row run = world_run();
		struct survey *s = survey_write(p->path, &run, world_bands, WORLD_BANDS, &why);
		int rc = s ? survey_begin(s, &why) : -1;
		for (int i = 0; i < 5000 && rc == 0; i++) {
			struct world_rows rows = world_rows(run.id, i);
			rc = survey_add_transmission(s, &rows.transmission, &why);
		}
		if (rc == 0 && write(ends[1], "x", 1) == 1)
			pause();
		_exit(1);
	}
	close(ends[1]);
	assert_int_equal(read(ends[0], &byte, 1), 1);
	kill(pid, SIGKILL);
	waitpid(pid, NULL, 0);
	close(ends[0]);
	struct world_seen w = see_all(p->path);
	assert_int_equal(w.n_run, 1);
	assert_int_equal(w.n_transmission, 0);
	write_survey(p->path, 1);               /* a dead writer holds nothing */
	w = see_all(p->path);
	assert_int_equal(w.n_run, 2);
	assert_int_equal(w.n_transmission, 1);
	assert_int_equal(files_in(p), 1);
}

static void it_says_what_it_is(void **state)
{
	static const struct { const char *sql, *answer; } cases[] = {
		{ "PRAGMA application_id", "1111715443" },
		{ "PRAGMA user_version", "1" },
		{ "PRAGMA integrity_check", "ok" },
		{ "PRAGMA foreign_key_check", "" },
		{ "SELECT count(*) FROM pragma_table_list WHERE type='table' AND NOT strict"
		  " AND name NOT LIKE 'sqlite_%'", "0" },
		{ "SELECT kind FROM transmission", "nfm" },
		{ "SELECT mode FROM band WHERE id='air'", "AM" },
	};
	const struct place *p = *state;
	char out[64];

	write_survey(p->path, 1);
	for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
		ask(p->path, cases[i].sql, out);
		if (strcmp(out, cases[i].answer) != 0)
			fail_msg("%s: %s, not %s", cases[i].sql, out, cases[i].answer);
	}
}

#define TEST(name) cmocka_unit_test_setup_teardown(name, make_place, remove_place)

int main(void)
{
	const struct CMUnitTest tests[] = {
		TEST(round_trip), TEST(every_kind_and_mode), TEST(coverage_and_activity_add_up),
		TEST(walks_are_in_order_and_can_stop), TEST(levels_survive_packing), TEST(all_bins_fit),
		TEST(damaged_levels_are_refused), TEST(no_surveys), TEST(a_database_of_someone_else),
		TEST(a_newer_version), TEST(other_bands), TEST(places_where_none_can_be),
		TEST(broken_files), TEST(impossible_rows), TEST(rows_are_refused_outside_a_transaction),
		TEST(it_is_private), TEST(one_writer), TEST(readers_look_on),
		TEST(reading_changes_nothing), TEST(a_copy_that_cannot_have_a_log), TEST(odd_names),
		TEST(nothing_is_lost_or_stored_twice), TEST(a_refused_survey_leaves_nothing),
		TEST(killed_while_writing), TEST(killed_before_commit), TEST(it_says_what_it_is),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
