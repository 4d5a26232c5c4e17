#include "tests/test.h"

#include <inttypes.h>
#include <stdlib.h>
#include <string.h>

#include "daemon/upkeep.h"
#include "tests/failing_vfs.h"
#include "tests/outing.h"

static const struct script nothing = { TROUBLE_NONE, NEVER_S, NEVER_S, 0, 0 };

/* ---- room ---- */

#define MB INT64_C(1000000)

static void what_room_allows(void **state)
{
	static const struct {
		const char    *why;
		int64_t        total, free;
		enum allowance was, want;
	} cases[] = {
		{ "half is plenty", 16000 * MB, 8000 * MB, ALLOW_ALL, ALLOW_ALL },
		{ "of a large disk 512 MB are", 1000000 * MB, 512 * MB, ALLOW_ALL, ALLOW_ALL },
		{ "less is short", 1000000 * MB, 511 * MB, ALLOW_ALL, ALLOW_NO_STRIPS },
		{ "of a small one 5 % are enough", 4000 * MB, 200 * MB, ALLOW_ALL, ALLOW_ALL },
		{ "less is short there too", 4000 * MB, 199 * MB, ALLOW_ALL, ALLOW_NO_STRIPS },
		{ "below 1 % is none", 4000 * MB, 39 * MB, ALLOW_ALL, ALLOW_NOTHING },
		{ "64 MB of a large one is short only", 1000000 * MB, 64 * MB, ALLOW_ALL, ALLOW_NO_STRIPS },
		{ "63 MB are none", 1000000 * MB, 63 * MB, ALLOW_ALL, ALLOW_NOTHING },
		{ "back only when there is a quarter more", 4000 * MB, 249 * MB, ALLOW_NO_STRIPS,
		  ALLOW_NO_STRIPS },
		{ "then it is", 4000 * MB, 250 * MB, ALLOW_NO_STRIPS, ALLOW_ALL },
		{ "from none to short likewise", 4000 * MB, 49 * MB, ALLOW_NOTHING, ALLOW_NOTHING },
		{ "from none to short", 4000 * MB, 50 * MB, ALLOW_NOTHING, ALLOW_NO_STRIPS },
		{ "an empty answer", 0, 0, ALLOW_ALL, ALLOW_ALL },
	};

	(void)state;
	for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
		struct room r = { cases[i].total, cases[i].free };
		enum allowance got = room_allows(&r, cases[i].was);
		if (got != cases[i].want)
			fail_msg("%s: %d, want %d", cases[i].why, got, cases[i].want);
	}
	struct room here;
	assert_int_equal(room_of("/", &here), 0);
	assert_true(here.total > 0 && here.free <= here.total);
	assert_int_equal(room_of("/nowhere/at/all", &here), -1);
}

/* A disk of 4 GB: so much is free at each time it is asked, and the last for ever. */
struct filling {
	const int64_t *free_mb;
	int            n, asked;
	const char    *path;
	char           kept[64];        /* looks in the file when it was last asked */
};

static int ask_filling(void *self, struct room *out)
{
	struct filling *f = self;

	*out = (struct room){ 4000 * MB, f->free_mb[f->asked < f->n ? f->asked : f->n - 1] * MB };
	f->asked++;
	ask(f->path, "SELECT ifnull(sum(looks), 0) FROM coverage", f->kept);
	return 0;
}

static bool heard(const struct outing *o)
{
	for (int m = 0; m < MINUTES; m++)
		if (o->strip[0][m][CHANNEL] >= STRIP_HEARD)
			return true;
	return false;
}

static bool looked(const struct outing *o)
{
	for (int m = 0; m < MINUTES; m++)
		for (int c = 0; c < CHANNELS; c++)
			if (o->strip[1][m][c] != STRIP_NOT_LOOKED)
				return true;
	return false;
}

/* Whatever there is room for meanwhile, when there is some at the end nothing but strips is lost. */
static void a_disk_that_fills(void **state)
{
	static const int64_t fills[] = { 900, 100, 30, 900 };
	static const int64_t never[] = { 30 };
	static const int64_t short_only[] = { 100 };
	static const struct {
		const char    *why;
		const int64_t *free_mb;
		int            n, incidents;
		bool           strips, looked;
	} cases[] = {
		{ "short, none, plenty", fills, sizeof fills / sizeof fills[0], 3, true, true },
		{ "short throughout", short_only, 1, 1, false, false },
		{ "none throughout: tried at the end", never, 1, 1, false, false },
	};
	struct outing want = go(*state, &nothing, DAY_US, FOR_S);

	assert_true(heard(&want) && want.seen.n_incident == 0);
	for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
		struct filling f = { .free_mb = cases[i].free_mb, .n = cases[i].n,
				     .path = ((const struct place *)*state)->path };
		struct room_source room = { ask_filling, &f };
		struct outing o = go_with(*state, &nothing, DAY_US, FOR_S, &(struct besides){ .room = &room });
		assert_int_equal(o.result, 0);
		assert_true(f.asked > 5);
		if ((strcmp(f.kept, "0") == 0) != (cases[i].free_mb == never))
			fail_msg("%s: %s looks were kept before the end", cases[i].why, f.kept);
		if (o.seen.n_incident != cases[i].incidents || strcmp(o.seen.incident[0].what, "room") != 0)
			fail_msg("%s: %d incidents, the first \"%s\"", cases[i].why, o.seen.n_incident,
				 o.seen.incident[0].what);
		if (o.looks[0] != want.looks[0] || o.looks[1] != want.looks[1] ||
		    o.busy_us != want.busy_us || o.seen.n_transmission != want.seen.n_transmission)
			fail_msg("%s: %" PRId64 " looks, %" PRId64 " us busy, want %" PRId64 ", %" PRId64,
				 cases[i].why, o.looks[0], o.busy_us, want.looks[0], want.busy_us);
		if (heard(&o) != cases[i].strips || looked(&o) != cases[i].looked)
			fail_msg("%s: strips heard %d, looked %d", cases[i].why, heard(&o), looked(&o));
		free(o.fake);
	}
	free(want.fake);
}

/* A source may keep one clock for both. */
static void told_by_any_clock(void **state)
{
	static const int64_t short_only[] = { 100 };
	struct filling f = { .free_mb = short_only, .n = 1, .path = ((const struct place *)*state)->path };
	struct room_source room = { ask_filling, &f };
	struct outing o = go_with(*state, &nothing, 0, FOR_S, &(struct besides){ .room = &room });

	assert_int_equal(o.result, 0);
	assert_int_equal(o.seen.n_incident, 1);
	free(o.fake);
}

/* ---- size ---- */

static void it_ends_when_it_is_full(void **state)
{
	struct outing o = go_with(*state, &nothing, DAY_US, FOR_S, &(struct besides){ .limit_bytes = 1 });

	assert_int_equal(o.result, 0);
	assert_int_equal(o.seen.n_incident, 1);
	assert_string_equal(o.seen.incident[0].what, "full");
	assert_true(strstr(o.seen.incident[0].text, "it ends"));
	assert_true(o.seen.run[0].end_us > 0);
	assert_true(o.looks[0] > 0 && o.looks[0] < 40);         /* the first commit was the last but one */
	free(o.fake);
	o = go_with(*state, &nothing, DAY_US, FOR_S, &(struct besides){ .limit_bytes = 100 * MB });
	assert_int_equal(o.seen.n_incident, 0);
	free(o.fake);
}

/* What was thinned is free in the file, and filled before it grows: it does not count. */
static void what_is_free_does_not_count(void **state)
{
	const struct place *p = *state;
	struct run_row run = { .start_us = DAY_US - 900 * STRIP_DAY_US };
	struct fault why = { 0 };
	int64_t old = run.start_us, bytes, unused;
	struct survey *s = survey_write(p->path, &run, outing_bands, BANDS, &why);

	assert_non_null(s);
	assert_int_equal(survey_begin(s, &why), 0);
	for (int i = 0; i < 8000; i++) {
		struct transmission_row t = { .run = run.id, .first_us = old + i, .last_us = old + i };
		assert_int_equal(survey_add_transmission(s, &t, &why), 0);
	}
	struct coverage_row c = { .run = run.id, .hour = DAY_US, .count = 1, .looks = 1 };
	assert_int_equal(survey_add_coverage(s, &c, &why), 0);
	assert_int_equal(survey_commit(s, &why), 0);
	assert_int_equal(survey_size(s, &bytes, &unused, &why), 0);
	survey_close(s);
	assert_true(unused == 0);
	struct outing o = go_with(p, &nothing, DAY_US, FOR_S,
				  &(struct besides){ .file_stays = true, .limit_bytes = bytes / 2 });
	assert_int_equal(o.seen.n_incident, 1);
	assert_string_equal(o.seen.incident[0].what, "thinned");
	free(o.fake);
}

/* ---- age ---- */

/* A survey that was last written years ago: ages count from its own newest hour, so that the
 * first night after a long rest thins nothing of what was the last. */
static void old_rows_go_when_a_watch_begins(void **state)
{
	const struct place *p = *state;
	struct run_row run = { .start_us = DAY_US - 900 * STRIP_DAY_US };
	struct fault why = { 0 };
	int64_t newest = DAY_US - 700 * STRIP_DAY_US;
	const int64_t hours[] = { newest - 500 * STRIP_DAY_US, newest - 500 * STRIP_DAY_US + HOUR_US, newest };
	const uint8_t cells[CHANNELS] = { STRIP_QUIET };
	char out[64];
	struct survey *s = survey_write(p->path, &run, outing_bands, BANDS, &why);

	assert_non_null(s);
	assert_int_equal(survey_begin(s, &why), 0);
	for (int i = 0; i < 3; i++) {
		struct coverage_row c = { .run = run.id, .hour = hours[i], .count = 1, .looks = 1 };
		struct transmission_row t = { .run = run.id, .first_us = hours[i], .last_us = hours[i] + 1 };
		assert_int_equal(survey_add_coverage(s, &c, &why), 0);
		assert_int_equal(survey_add_transmission(s, &t, &why), 0);
	}
	assert_int_equal(picture_add(s, run.id, 0, newest + STRIP_MINUTE_US, cells, &why), 0);
	assert_int_equal(picture_add(s, run.id, 0, newest + 2 * STRIP_MINUTE_US, cells, &why), 0);
	assert_int_equal(survey_commit(s, &why), 0);
	survey_close(s);                /* which is as good as dead */
	struct outing o = go_with(p, &nothing, DAY_US, FOR_S, &(struct besides){ .file_stays = true });
	ask(p->path, "SELECT group_concat(cells) FROM strip WHERE run = 1", out);
	assert_string_equal(out, "60");
	assert_int_equal(o.result, 0);
	assert_int_equal(o.seen.n_incident, 1);
	assert_string_equal(o.seen.incident[0].what, "thinned");
	assert_int_equal(o.seen.n_transmission, 1 + 1); /* the newest, and this watch's */
	int days = 0;
	for (int i = 0; i < o.seen.n_coverage; i++)
		days += o.seen.coverage[i].more_hours == 23 && o.seen.coverage[i].looks == 2;
	assert_int_equal(days, 1);
	free(o.fake);
}

static int count(const struct place *p, const char *sql)
{
	char out[64];

	ask(p->path, sql, out);
	return atoi(out);
}

/* An over and its hour each so many days, with nothing else. */
static void write_days(struct survey *s, int64_t run, int days, int each)
{
	struct fault why = { 0 };

	assert_int_equal(survey_begin(s, &why), 0);
	for (int day = 0; day < days; day += each) {
		struct transmission_row t = { .run = run, .first_us = DAY_US + day * STRIP_DAY_US };
		struct coverage_row c = { .run = run, .hour = t.first_us, .count = 1, .looks = 1 };
		t.last_us = t.first_us;
		assert_int_equal(survey_add_transmission(s, &t, &why), 0);
		assert_int_equal(survey_add_coverage(s, &c, &why), 0);
	}
	assert_int_equal(survey_commit(s, &why), 0);
}

/* In a watch that goes on for days: a step after each commit, once a day has passed. */
static void old_rows_go_day_by_day(void **state)
{
	const struct place *p = *state;
	struct run_row run = { .start_us = DAY_US };
	struct progress progress = { 0 };
	struct fault why = { 0 };
	struct station station;
	struct hop_plan hops;

	assert_int_equal(station_read(NULL, &station, &why), 0);
	assert_int_equal(hop_plan_sweep(&hops, outing_bands, BANDS, FAKE_RATE), 0);
	struct survey *s = survey_write(p->path, &run, outing_bands, BANDS, &why);
	assert_non_null(s);
	write_days(s, run.id, 500, 1);
	struct watch n = { .station = &station, .survey = s, .progress = &progress };
	struct outbox *o = outbox_create(run.id, outing_bands, BANDS, &hops);
	struct upkeep u = upkeep_create(&n, o);
	int64_t now = DAY_US + 500 * STRIP_DAY_US;
	for (int i = 0; i < 20; i++)
		assert_int_equal(upkeep_step(&u, now + i * STRIP_DAY_US / 20, &why), 0);
	assert_int_equal(count(p, "SELECT count(*) FROM transmission"), 500);
	for (int i = 0; i < 20; i++)
		assert_int_equal(upkeep_step(&u, now + STRIP_DAY_US + i * 5000000, &why), 0);
	assert_int_equal(count(p, "SELECT count(*) FROM transmission"), 401);   /* 400 d and the newest */
	assert_int_equal(outbox_commit(o, s, true, &why), 0);
	assert_int_equal(count(p, "SELECT count(*) FROM incident WHERE what = 'thinned'"), 1);
	outbox_destroy(o);
	survey_close(s);
	hop_plan_free(&hops);
	station_free(&station);
}

/* The disk fails at each call in turn, a little later and for good that day: nothing of it ends the
 * watch, and the day after all is as if it had not been. */
static void a_disk_that_fails_meanwhile(void **state)
{
	const struct place *p = *state;
	int fail_at, failed = 1;

	for (fail_at = 1; failed; fail_at++) {
		struct failing_disk disk = { .code = 0 };
		struct run_row run = { .start_us = DAY_US };
		struct progress progress = { 0 };
		struct fault why = { 0 };
		struct station station;

		empty_place(p);
		assert_int_equal(station_read(NULL, &station, &why), 0);
		assert_int_equal(failing_disk_install(&disk), 0);
		struct survey *s = survey_write(p->path, &run, outing_bands, BANDS, &why);
		assert_non_null(s);
		write_days(s, run.id, 450, 9);
		struct hop_plan hops;
		assert_int_equal(hop_plan_sweep(&hops, outing_bands, BANDS, FAKE_RATE), 0);
		struct outbox *o = outbox_create(run.id, outing_bands, BANDS, &hops);
		struct watch n = { .station = &station, .survey = s, .progress = &progress, .limit_bytes = 100 * MB };
		struct upkeep u = upkeep_create(&n, o);
		disk.fail_at = disk.calls + fail_at;
		disk.stay = true;
		if (upkeep_begin(&u, &why) < 0)
			fail_msg("call %d: %s", fail_at, why.text);
		for (int i = 0; i < 12; i++)
			if (upkeep_step(&u, DAY_US + 450 * STRIP_DAY_US + i * STRIP_DAY_US / 6, &why) < 0)
				fail_msg("call %d: %s", fail_at, why.text);
		failed = disk.failed;
		disk.fail_at = 0;
		for (int i = 0; i < 9; i++)
			assert_int_equal(upkeep_step(&u, DAY_US + 452 * STRIP_DAY_US + i * 5000000, &why), 0);
		assert_int_equal(outbox_commit(o, s, true, &why), 0);
		survey_close(s);
		failing_disk_remove(&disk);
		outbox_destroy(o);
		hop_plan_free(&hops);
		station_free(&station);
		/* Of fifty each ninth day: those of the last 400 days before the newest, 441. */
		if (count(p, "SELECT count(*) FROM transmission") != 45 || count(p, "SELECT sum(looks) FROM coverage") != 50)
			fail_msg("call %d: %d overs, %d looks", fail_at, count(p, "SELECT count(*) FROM transmission"),
				 count(p, "SELECT sum(looks) FROM coverage"));
	}
	print_message("failed at each of %d calls\n", fail_at);
}

#define TEST(name) cmocka_unit_test_setup_teardown(name, make_place, remove_place)

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(what_room_allows), TEST(a_disk_that_fills), TEST(told_by_any_clock),
		 TEST(it_ends_when_it_is_full), TEST(what_is_free_does_not_count),
		TEST(old_rows_go_when_a_watch_begins),
		TEST(old_rows_go_day_by_day), TEST(a_disk_that_fails_meanwhile),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
