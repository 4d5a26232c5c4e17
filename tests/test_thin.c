#include "tests/test.h"

#include <inttypes.h>
#include <signal.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/wait.h>
#include <unistd.h>

#include "store/picture.h"
#include "store/thin.h"
#include "tests/failing_vfs.h"
#include "tests/noise.h"
#include "tests/survey_place.h"

/* Ten days of a survey, thinned: what is kept adds up to what it did, and it is all the same
 * whether it was done at once, in many goes, or killed again and again. */

#define SEED   UINT64_C(20261127)
#define DAYS   10
#define START  (20000 * STRIP_DAY_US)
#define NOW    (START + DAYS * STRIP_DAY_US)
#define BAND   1
#define N      40

static const struct keep keep = {
	.minutes_us = 3 * STRIP_DAY_US, .strips_us = 7 * STRIP_DAY_US, .overs_us = 5 * STRIP_DAY_US,
	.hours_us = 4 * STRIP_DAY_US,
};
static const struct keep all = { 0 };

static void must(int result, const struct fault *why)
{
	if (result < 0)
		fail_msg("%s", why->text);
}

static struct activity_row busy(struct noise *r, int64_t run, int64_t hour, int32_t channel)
{
	struct activity_row a = { .run = run, .hour = hour, .band = BAND, .channel = channel };
	int bin = (int)noise_between(r, 0, LEVEL_BINS - 1);

	a.busy_looks = noise_between(r, 1, 90);
	a.busy_us = a.busy_looks * 20000;
	a.openings = 1;
	a.held = a.busy_looks - 1;
	a.blind_looks = noise_between(r, 0, 3);
	a.blind_us = a.blind_looks * 20000;
	a.level[bin] = a.busy_us;
	a.level_looks[bin] = a.busy_looks;
	return a;
}

static void write_hour(struct survey *s, struct noise *r, int64_t run, int64_t hour)
{
	struct fault why = { 0 };
	uint8_t cells[N];
	struct coverage_row c = { .run = run, .hour = hour, .band = BAND, .count = N, .pairs = 9,
		.looked_us = noise_between(r, 1, 1000000), .looks = noise_between(r, 10, 90),
		.floor_ddb_sum = -61400, .floor_low_ddb = (int32_t)noise_between(r, -700, -620),
		.floor_high_ddb = (int32_t)noise_between(r, -610, -500) };
	struct parked_row p = { .run = run, .hour = hour, .band = BAND, .count = N, .parks = 1,
		.parked_us = noise_between(r, 1, 10000000) };
	struct transmission_row t = world_rows(run, 0).transmission;

	must(survey_begin(s, &why), &why);
	must(survey_add_coverage(s, &c, &why), &why);
	must(survey_add_parked(s, &p, &why), &why);
	for (int32_t channel = 0; channel < N; channel += 1 + (int32_t)noise_between(r, 0, 3)) {
		struct activity_row a = busy(r, run, hour, channel);
		must(survey_add_activity(s, &a, &why), &why);
	}
	for (int minute = 0; minute < 60; minute += 7) {
		for (int i = 0; i < N; i++)
			cells[i] = (uint8_t)noise_between(r, 0, STRIP_HEARD + LEVEL_BINS - 1);
		must(picture_add(s, run, BAND, hour + minute * STRIP_MINUTE_US, cells, &why), &why);
		t.first_us = hour + minute * STRIP_MINUTE_US;
		t.last_us = t.first_us + 800000;
		must(survey_add_transmission(s, &t, &why), &why);
	}
	must(survey_commit(s, &why), &why);
}

/* Each day from a run of its own, all hours of some and a few of others. */
static void write_days(const char *path)
{
	struct noise r = { SEED };

	for (int day = 0; day < DAYS; day++) {
		struct run_row run = world_run();
		struct survey *s = must_write(path, &run);
		for (int hour = day % 3; hour < 24; hour += 1 + day % 2)
			write_hour(s, &r, run.id, START + day * STRIP_DAY_US + hour * HOUR_US);
		survey_close(s);
	}
}

/* ---- what it adds up to ---- */

struct sums {
	int64_t looks, looked_us, floor_sum, parks, parked_us;
	int64_t busy_us, blind_us, openings, level_us[LEVEL_BINS];
	int     low, high;                      /* of the floor                   */
	int     hours, days, old_hours;         /* rows of accounts of each kind  */
	int     overs;
	int64_t oldest_over_us;
	uint64_t print;                         /* of all, in order               */
};

static void stamp(struct sums *m, int64_t a, int64_t b, int64_t c)
{
	const int64_t of[] = { a, b, c };

	for (int i = 0; i < 3; i++)
		m->print = (m->print ^ (uint64_t)of[i]) * UINT64_C(1099511628211);      /* FNV, from memory */
}

static void count_hours(struct sums *m, int64_t hour, int32_t more_hours)
{
	m->days += more_hours == 23;
	m->hours += more_hours == 0;
	m->old_hours += hour < NOW - keep.hours_us && hour % STRIP_DAY_US != 0;
	if (more_hours && hour % STRIP_DAY_US != 0)
		fail_msg("a day that begins at %" PRId64, hour);
}

static int see_coverage(void *self, const struct coverage_row *c)
{
	struct sums *m = self;

	m->looks += c->looks;
	m->looked_us += c->looked_us;
	m->floor_sum += c->floor_ddb_sum;
	m->low = c->floor_low_ddb < m->low ? c->floor_low_ddb : m->low;
	m->high = c->floor_high_ddb > m->high ? c->floor_high_ddb : m->high;
	count_hours(m, c->hour, c->more_hours);
	stamp(m, c->hour, c->looks, c->floor_low_ddb);
	return 0;
}

static int see_activity(void *self, const struct activity_row *a)
{
	struct sums *m = self;

	m->busy_us += a->busy_us;
	m->blind_us += a->blind_us;
	m->openings += a->openings;
	for (int i = 0; i < LEVEL_BINS; i++)
		m->level_us[i] += a->level[i];
	count_hours(m, a->hour, a->more_hours);
	stamp(m, a->hour, a->busy_us, a->channel);
	return 0;
}

static int see_parked(void *self, const struct parked_row *p)
{
	struct sums *m = self;

	m->parks += p->parks;
	m->parked_us += p->parked_us;
	count_hours(m, p->hour, p->more_hours);
	stamp(m, p->hour, p->parks, p->parked_us);
	return 0;
}

static int see_over(void *self, const struct transmission_row *t)
{
	struct sums *m = self;

	m->overs++;
	if (m->oldest_over_us == 0 || t->first_us < m->oldest_over_us)
		m->oldest_over_us = t->first_us;
	stamp(m, t->first_us, t->channel, 0);
	return 0;
}

static int see_strip(void *self, const struct strip_row *r)
{
	stamp(self, r->start_us, r->cell_us, r->cells);
	for (size_t i = 0; i < r->packed.n; i++)
		stamp(self, r->packed.at[i], 0, 0);
	return 0;
}

static struct sums sums_of(const char *path)
{
	struct sums m = { .low = 1000, .high = -1000, .print = 1 };
	struct fault why = { 0 };
	struct survey *s = must_read(path);

	must(survey_each_coverage(s, see_coverage, &m, &why), &why);
	must(survey_each_activity(s, see_activity, &m, &why), &why);
	must(survey_each_parked(s, see_parked, &m, &why), &why);
	must(survey_each_transmission(s, see_over, &m, &why), &why);
	must(survey_each_strip(s, see_strip, &m, &why), &why);
	survey_close(s);
	return m;
}

/* Steps made, up to so many. */
static int thin_at(const char *path, const struct keep *k, int steps, int64_t now_us)
{
	struct fault why = { 0 };
	struct run_row run = world_run();
	struct survey *s = must_write(path, &run);
	struct thinning t = { 0 };
	int made = 0, more = 1;

	while (made < steps && (more = thin_step(s, k, now_us, &t, &why)) > 0)
		made++;
	must(more, &why);
	survey_close(s);
	return made;
}

static int thin(const char *path, const struct keep *k, int steps)
{
	return thin_at(path, k, steps, NOW);
}

static void adds_up(const struct sums *before, const struct sums *after)
{
	assert_true(after->looks == before->looks && after->looked_us == before->looked_us);
	assert_true(after->floor_sum == before->floor_sum);
	assert_true(after->low == before->low && after->high == before->high);
	assert_true(after->parks == before->parks && after->parked_us == before->parked_us);
	assert_true(after->busy_us == before->busy_us && after->blind_us == before->blind_us);
	assert_true(after->openings == before->openings);
	assert_memory_equal(after->level_us, before->level_us, sizeof after->level_us);
}

static void what_is_kept(void **state)
{
	const struct place *p = *state;
	static uint8_t then[DAYS * 24 * N], now[DAYS * 24 * N];
	struct fault why = { 0 };
	int64_t kept;

	write_days(p->path);
	struct sums before = sums_of(p->path);
	struct survey *s = must_read(p->path);
	must(picture_read(s, BAND, START, NOW, HOUR_US, then, NULL, &why), &why);
	survey_close(s);
	thin(p->path, &all, 10000);
	assert_true(sums_of(p->path).print == before.print);

	assert_in_range(thin(p->path, &keep, 10000), 10, 1000);
	struct sums after = sums_of(p->path);
	adds_up(&before, &after);
	assert_int_equal(after.old_hours, 0);
	assert_in_range(after.days, 6 * 3, before.hours);
	assert_in_range(after.hours, 1, before.hours - 1);
	assert_true(after.oldest_over_us >= NOW - keep.overs_us);
	assert_in_range(after.overs, 1, before.overs - 1);
	s = must_read(p->path);
	must(picture_read(s, BAND, START, NOW, HOUR_US, now, &kept, &why), &why);
	assert_true(kept == STRIP_HOUR_US);
	memset(then, STRIP_NOT_LOOKED, 3 * 24 * N);     /* older than a week */
	assert_memory_equal(now, then, sizeof then);
	must(picture_read(s, BAND, NOW - keep.minutes_us, NOW, STRIP_HOUR_US, now, &kept, &why), &why);
	assert_true(kept == STRIP_MINUTE_US);
	survey_close(s);
	assert_int_equal(thin(p->path, &keep, 10000), 0);       /* nothing is left to do */
	assert_true(sums_of(p->path).print == after.print);
}

static void in_as_many_goes_as_you_like(void **state)
{
	const struct place *p = *state;

	write_days(p->path);
	thin(p->path, &keep, 10000);
	uint64_t want = sums_of(p->path).print;
	empty_place(p);
	write_days(p->path);
	for (int i = 0; i < 200 && thin(p->path, &keep, 3) > 0; i++)
		;
	assert_true(sums_of(p->path).print == want);
}

static void killed_amid_it(void **state)
{
	const struct place *p = *state;
	struct noise r = { SEED };
	struct fault why = { 0 };
	int killed = 0;

	write_days(p->path);
	struct sums before = sums_of(p->path);
	thin(p->path, &keep, 10000);
	uint64_t want = sums_of(p->path).print;
	empty_place(p);
	write_days(p->path);
	for (int round = 0; round < 12; round++) {
		pid_t pid = fork();
		if (pid == 0) {
			struct run_row run = world_run();
			struct survey *s = survey_write(p->path, &run, world_bands, WORLD_BANDS, &why);
			struct thinning t = { 0 };
			while (s && thin_step(s, &keep, NOW, &t, &why) > 0)
				;
			_exit(0);
		}
		int status;
		usleep((useconds_t)noise_between(&r, 0, 30000));
		kill(pid, SIGKILL);
		assert_int_equal(waitpid(pid, &status, 0), pid);
		killed += WIFSIGNALED(status);
		struct sums now = sums_of(p->path);
		adds_up(&before, &now);
	}
	thin(p->path, &keep, 10000);
	if (sums_of(p->path).print != want)
		fail_msg("after %d kills it is another (seed %" PRIu64 ")", killed, SEED);
}

/* A disk that fails at any call: the step says so, and made again it does what it should. */
static void on_a_failing_disk(void **state)
{
	const struct place *p = *state;
	struct failing_disk disk = { .code = 13 };      /* SQLITE_FULL */
	struct fault why = { 0 };
	struct run_row run = world_run();
	int refused = 0;

	write_days(p->path);
	thin(p->path, &keep, 10000);
	uint64_t want = sums_of(p->path).print;
	empty_place(p);
	write_days(p->path);
	assert_int_equal(failing_disk_install(&disk), 0);
	struct survey *s = must_write(p->path, &run);
	struct thinning t = { 0 };
	for (int n = 1, more = 1; more != 0 && n < 10000; n++) {
		disk.calls = 0;
		disk.fail_at = n % 2 ? n % 37 + 1 : 0;
		more = thin_step(s, &keep, NOW, &t, &why);
		refused += more < 0;
		if (more < 0 && why.kind != FAULT_RETRY)
			fail_msg("said (%d) %s", why.kind, why.text);
	}
	disk.fail_at = 0;
	survey_close(s);
	failing_disk_remove(&disk);
	assert_in_range(refused, 5, 10000);
	assert_true(sums_of(p->path).print == want);
}

static void nothing_is_kept_by_the_clock(void **state)
{
	const struct place *p = *state;
	struct fault why = { 0 };
	struct run_row run = world_run();
	int64_t newest = -1;

	struct survey *s = must_write(p->path, &run);
	must(thin_newest(s, &newest, &why), &why);
	assert_true(newest == 0);
	struct thinning t = { 0 };
	assert_int_equal(thin_step(s, &keep, 0, &t, &why), 0);
	struct world_rows rows = world_rows(run.id, 0);
	assert_int_equal(world_write(s, &rows, &why), 0);
	must(thin_newest(s, &newest, &why), &why);
	assert_true(newest == rows.coverage.hour);
	survey_close(s);
}

/* What a survey at rest is to come to, step by step; leaves it there. */
static uint64_t wanted(const char *path)
{
	struct fault why = { 0 };
	struct run_row run = world_run();

	write_days(path);
	struct survey *s = must_write(path, &run);
	int more;
	while ((more = picture_tidy(s, 0, INT64_MAX, &why)) > 0)
		;
	must(more, &why);
	survey_close(s);
	thin_at(path, &keep, 10000, NOW - HOUR_US);
	return sums_of(path).print;
}

static int64_t free_bytes(const char *path, int64_t *bytes)
{
	struct fault why = { 0 };
	struct survey *s = must_read(path);
	int64_t unused = -1;

	must(survey_size(s, bytes, &unused, &why), &why);
	survey_close(s);
	return unused;
}

static int see_thinned(void *self, const struct incident_row *row)
{
	*(int *)self += strcmp(row->what, "thinned") == 0;
	return 0;
}

/* A survey at rest: the same rows as step by step, and the file shrinks to what they need. */
static void at_rest(void **state)
{
	const struct place *p = *state;
	struct fault why = { 0 };
	struct run_row run = world_run();
	struct thin_sum sum;
	int64_t bytes, told = 0;
	int thinned = 0;

	uint64_t want = wanted(p->path);
	told = free_bytes(p->path, &bytes);
	assert_in_range(told, bytes / 10, bytes);       /* steps alone leave it in the file */
	empty_place(p);
	write_days(p->path);
	struct sums before = sums_of(p->path);
	must(survey_thin(p->path, &keep, 0, &sum, &why), &why);
	assert_true(sums_of(p->path).print == want);
	assert_in_range(sum.rows, 100, 100000);
	assert_int_equal(free_bytes(p->path, &bytes), 0);
	assert_true(bytes == sum.after_bytes && !sum.tight);
	assert_in_range(sum.after_bytes, 1, 9 * sum.before_bytes / 10);
	struct survey *s = must_read(p->path);
	must(survey_each_incident(s, see_thinned, &thinned, &why), &why);
	must(survey_check(s, &why), &why);
	survey_close(s);
	assert_int_equal(thinned, 1);
	struct sums after = sums_of(p->path);
	adds_up(&before, &after);
	must(survey_thin(p->path, &keep, 0, &sum, &why), &why);    /* nothing is left to do */
	assert_true(sum.rows == 0 && sum.after_bytes == bytes);
	s = must_write(p->path, &run);                          /* goes on as ever, and not while it does */
	assert_int_equal(survey_thin(p->path, &keep, 0, &sum, &why), -1);
	assert_int_equal(why.kind, FAULT_INPUT);
	survey_close(s);
	assert_int_equal(survey_thin("/nowhere/x.survey", &keep, 0, &sum, &why), -1);
	assert_int_equal(why.kind, FAULT_INPUT);
}

/* Fails or is cut off anywhere: what is there is whole, and thinned again comes to the same. */
static void at_rest_on_a_failing_disk(void **state)
{
	const struct place *p = *state;
	struct failing_disk disk = { .code = 13 };      /* SQLITE_FULL */
	struct fault why = { 0 };
	struct thin_sum sum;
	int refused = 0;

	uint64_t want = wanted(p->path);
	empty_place(p);
	write_days(p->path);
	struct sums before = sums_of(p->path);
	assert_int_equal(failing_disk_install(&disk), 0);
	for (int n = 1; n < 400; n += 1 + n / 8) {
		disk.calls = 0;
		disk.fail_at = n;
		refused += survey_thin(p->path, &keep, 0, &sum, &why) < 0;
	}
	disk.fail_at = 0;
	failing_disk_remove(&disk);
	struct sums amid = sums_of(p->path);
	adds_up(&before, &amid);
	assert_in_range(refused, 5, 400);
	must(survey_thin(p->path, &keep, 0, &sum, &why), &why);
	assert_true(sums_of(p->path).print == want);
	assert_int_equal(free_bytes(p->path, &sum.before_bytes), 0);
}

#define TEST(name) cmocka_unit_test_setup_teardown(name, make_place, remove_place)

int main(void)
{
	const struct CMUnitTest tests[] = {
		TEST(what_is_kept), TEST(in_as_many_goes_as_you_like), TEST(killed_amid_it),
		TEST(on_a_failing_disk), TEST(nothing_is_kept_by_the_clock),
		TEST(at_rest), TEST(at_rest_on_a_failing_disk),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
