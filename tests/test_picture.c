#include "tests/test.h"

#include <inttypes.h>
#include <signal.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/wait.h>
#include <unistd.h>

#include <sqlite3.h>

#include "store/picture.h"
#include "store/schema.h"
#include "tests/noise.h"
#include "tests/survey_place.h"

/* Minutes of "works", from two runs, written in any order, tidied and coarsened at any moment,
 * must always read as the plain array that they were drawn on. */

#define SEED    UINT64_C(20261126)
#define BAND    1                       /* 40 channels */
#define N       40
#define DAYS    3
#define MINUTES (DAYS * 24 * 60)
#define START   (20000 * STRIP_DAY_US)

struct model {
	uint8_t cells[MINUTES][N];
	uint8_t hours[MINUTES / 60][N];
};

static struct model *model_create(void)
{
	struct model *m = calloc(1, sizeof *m);

	assert_non_null(m);
	return m;
}

static void draw(struct model *m, int minute, const uint8_t cells[N])
{
	strip_join(m->cells[minute], cells, N);
	strip_join(m->hours[minute / 60], cells, N);
}

static void throw_cells(struct noise *r, uint8_t cells[N])
{
	for (int i = 0; i < N; i++)
		cells[i] = (uint8_t)(noise_uniform(r) < 0.9 ? noise_between(r, 0, 1) :
				     noise_between(r, STRIP_HEARD, STRIP_HEARD + LEVEL_BINS - 1));
}

static void must(int result, const struct fault *why)
{
	if (result < 0)
		fail_msg("%s", why->text);
}

static void add(struct survey *s, int64_t run, int minute, const uint8_t cells[N])
{
	struct fault why = { 0 };

	must(survey_begin(s, &why), &why);
	must(picture_add(s, run, BAND, START + minute * STRIP_MINUTE_US, cells, &why), &why);
	must(survey_commit(s, &why), &why);
}

static void tidy(struct survey *s, int64_t before_us)
{
	struct fault why = { 0 };
	int more;

	while ((more = picture_tidy(s, 0, before_us, &why)) > 0)
		;
	must(more, &why);
}

static void coarsen(struct survey *s, int64_t before_us)
{
	struct fault why = { 0 };
	int more;

	while ((more = picture_coarsen(s, before_us, &why)) > 0)
		;
	must(more, &why);
}

/* The first old_days are kept by the hour only. */
static void same(struct survey *s, const struct model *m, int old_days, const char *when)
{
	static uint8_t got[MINUTES * N];
	struct fault why = { 0 };
	int64_t kept;

	must(picture_read(s, BAND, START, START + DAYS * STRIP_DAY_US, STRIP_MINUTE_US, got, &kept, &why),
	     &why);
	assert_true(kept == (old_days ? STRIP_HOUR_US : STRIP_MINUTE_US));
	for (int i = 0; i < MINUTES; i++) {
		const uint8_t *want = i < old_days * 1440 ? m->hours[i / 60] : m->cells[i];
		if (memcmp(got + i * N, want, N) != 0)
			fail_msg("%s: minute %d is another (seed %" PRIu64 ")", when, i, SEED);
	}
	must(picture_read(s, BAND, START, START + DAYS * STRIP_DAY_US, STRIP_HOUR_US, got, NULL, &why),
	     &why);
	assert_memory_equal(got, m->hours, sizeof m->hours);
	/* From amid it, and the minutes by fives. */
	must(picture_read(s, BAND, START + STRIP_DAY_US + 7 * STRIP_MINUTE_US, START + 2 * STRIP_DAY_US +
			  7 * STRIP_MINUTE_US, 5 * STRIP_MINUTE_US, got, NULL, &why), &why);
	for (int i = 0; i < 288 && !old_days; i++) {
		uint8_t want[N] = { 0 };
		for (int k = 0; k < 5; k++)
			strip_join(want, m->cells[1440 + 7 + 5 * i + k], N);
		assert_memory_equal(got + i * N, want, N);
	}
}

static int rows_of(const struct place *p, const char *where)
{
	char sql[128], out[64];

	snprintf(sql, sizeof sql, "SELECT count(*) FROM strip WHERE %s", where);
	ask(p->path, sql, out);
	return atoi(out);
}

static void however_it_lies(void **state)
{
	const struct place *p = *state;
	struct noise r = { SEED };
	struct model *m = model_create();
	struct run_row first = world_run(), second = world_run();
	uint8_t cells[N];

	survey_close(must_write(p->path, &first));
	struct survey *s = must_write(p->path, &second);
	for (int i = 0; i < 600; i++) {
		/* Now and then the first minute of an hour that was tidied already. */
		int minute = (int)noise_between(&r, 0, MINUTES - 1);
		minute -= i % 5 == 0 ? minute % 60 : 0;
		throw_cells(&r, cells);
		draw(m, minute, cells);
		add(s, i % 2 ? first.id : second.id, minute, cells);
		if (i % 7 == 0)         /* a commit that was not told of, and made again */
			add(s, i % 2 ? first.id : second.id, minute, cells);
		if (i % 100 == 50)
			tidy(s, START + minute * STRIP_MINUTE_US);
		if (i % 150 == 149)
			same(s, m, 0, "as it grows");
	}
	tidy(s, INT64_MAX);
	same(s, m, 0, "tidied");
	assert_int_equal(rows_of(p, "cells<>60 OR start_us%3600000000<>0"), 0);
	coarsen(s, START + STRIP_DAY_US + STRIP_HOUR_US);
	same(s, m, 1, "a day is old");
	assert_int_equal(rows_of(p, "cell_us=3600000000"), 2);
	/* The clock is set back to the old day. */
	throw_cells(&r, cells);
	draw(m, 0, cells);
	add(s, second.id, 0, cells);
	assert_int_equal(rows_of(p, "cell_us=60000000 AND start_us%86400000000=0 AND cells=1"), 1);
	coarsen(s, START + 2 * STRIP_DAY_US);
	same(s, m, 2, "two days are old");
	assert_int_equal(rows_of(p, "cell_us=3600000000"), 4);
	coarsen(s, START + 2 * STRIP_DAY_US);
	same(s, m, 2, "again");
	survey_close(s);
	free(m);
}

static bool is_run(const void *run, int64_t id)
{
	return id == *(const int64_t *)run;
}

/* Of two runs that looked at once each reads as if the other had not. */
static void runs_apart(void **state)
{
	const struct place *p = *state;
	struct run_row first = world_run(), second = world_run();
	struct noise r = { SEED + 1 };
	struct fault why = { 0 };
	uint8_t cells[2][N], both[N], got[N];

	survey_close(must_write(p->path, &first));
	struct survey *s = must_write(p->path, &second);
	throw_cells(&r, cells[0]);
	throw_cells(&r, cells[1]);
	memcpy(both, cells[0], N);
	strip_join(both, cells[1], N);
	add(s, first.id, 5, cells[0]);
	add(s, second.id, 5, cells[1]);
	for (int i = 0; i < 2; i++) {
		must(picture_read_of(s, BAND, START + 5 * STRIP_MINUTE_US, START + 6 * STRIP_MINUTE_US, STRIP_MINUTE_US,
				     is_run, i ? &second.id : &first.id, got, NULL, &why), &why);
		assert_memory_equal(got, cells[i], N);
	}
	must(picture_read(s, BAND, START + 5 * STRIP_MINUTE_US, START + 6 * STRIP_MINUTE_US, STRIP_MINUTE_US, got, NULL,
			  &why), &why);
	assert_memory_equal(got, both, N);
	survey_close(s);
}

/* Killed at any moment while the minutes are made hours: whatever was done, it reads the same,
 * and the next start finishes it. */
static void killed_amid_it(void **state)
{
	const struct place *p = *state;
	struct noise r = { SEED + 1 };
	uint8_t cells[N];

	for (int round = 0; round < 12; round++) {
		struct model *m = model_create();
		struct run_row run = world_run();
		struct fault why = { 0 };
		empty_place(p);
		struct survey *s = must_write(p->path, &run);
		must(survey_begin(s, &why), &why);
		for (int minute = 0; minute < MINUTES; minute += 4) {
			throw_cells(&r, cells);
			draw(m, minute, cells);
			must(picture_add(s, run.id, BAND, START + minute * STRIP_MINUTE_US, cells, &why), &why);
		}
		must(survey_commit(s, &why), &why);
		survey_close(s);
		pid_t pid = fork();
		if (pid == 0) {
			s = survey_write(p->path, &run, world_bands, WORLD_BANDS, &why);
			while (s && picture_tidy(s, 0, INT64_MAX, &why) > 0)
				;
			while (s && picture_coarsen(s, START + STRIP_DAY_US, &why) > 0)
				;
			pause();
		}
		usleep((useconds_t)noise_between(&r, 0, 40000));
		kill(pid, SIGKILL);
		waitpid(pid, NULL, 0);
		s = must_write(p->path, &run);
		tidy(s, INT64_MAX);
		coarsen(s, START + STRIP_DAY_US);
		same(s, m, 1, "after a kill");
		survey_close(s);
		free(m);
	}
}

static void what_is_not_there(void **state)
{
	const struct place *p = *state;
	uint8_t got[3 * N], none[3 * N] = { 0 };
	struct fault why = { 0 };
	struct run_row run = world_run();
	int64_t kept = 1;

	survey_close(must_write(p->path, &run));
	struct survey *s = must_read(p->path);
	memset(got, 9, sizeof got);
	must(picture_read(s, BAND, START, START + 3 * STRIP_MINUTE_US, STRIP_MINUTE_US, got, &kept, &why),
	     &why);
	assert_memory_equal(got, none, sizeof got);
	assert_true(kept == 0);
	survey_close(s);
}

/* A file from before there were strips. */
static void what_never_was_there(void **state)
{
	const struct place *p = *state;
	uint8_t got[2280], none[2280] = { 0 };
	struct fault why = { 0 };
	sqlite3 *db;

	assert_int_equal(sqlite3_open(p->path, &db), SQLITE_OK);
	assert_int_equal(sqlite3_exec(db, survey_migrations[0].sql, NULL, NULL, NULL), SQLITE_OK);
	assert_int_equal(sqlite3_exec(db, "PRAGMA application_id=1111715443; PRAGMA user_version=1; INSERT INTO band"
				      " VALUES(0, 'air', 'Air', 'air', 354000000, 25000, 2280, 'AM', 6000)",
				      NULL, NULL, NULL), SQLITE_OK);
	sqlite3_close(db);
	struct survey *s = must_read(p->path);
	memset(got, 9, sizeof got);
	must(picture_read(s, 0, START, START + STRIP_MINUTE_US, STRIP_MINUTE_US, got, NULL, &why), &why);
	assert_memory_equal(got, none, sizeof got);
	survey_close(s);
}

static void what_is_damaged(void **state)
{
	const struct place *p = *state;
	static const char *const sql[] = {
		"UPDATE strip SET packed=x'00'",
		"UPDATE strip SET cells=61",
		"UPDATE strip SET cells=2000000000",
		"UPDATE strip SET cell_us=9000000000000000000",
	};
	uint8_t got[N], cells[N] = { 1, 2, 3 };
	char out[64];

	for (size_t i = 0; i < sizeof sql / sizeof sql[0]; i++) {
		struct fault why = { 0 };
		struct run_row run = world_run();
		empty_place(p);
		struct survey *s = must_write(p->path, &run);
		add(s, run.id, 3, cells);
		survey_close(s);
		ask(p->path, sql[i], out);
		s = must_read(p->path);
		if (picture_read(s, BAND, START + 3 * STRIP_MINUTE_US, START + 4 * STRIP_MINUTE_US,
				 STRIP_MINUTE_US, got, NULL, &why) == 0)
			fail_msg("%s: taken", sql[i]);
		assert_int_equal(why.kind, FAULT_FATAL);
		survey_close(s);
	}
}

#define TEST(name) cmocka_unit_test_setup_teardown(name, make_place, remove_place)

int main(void)
{
	const struct CMUnitTest tests[] = {
		TEST(however_it_lies), TEST(runs_apart), TEST(killed_amid_it), TEST(what_is_not_there),
		TEST(what_never_was_there), TEST(what_is_damaged),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
