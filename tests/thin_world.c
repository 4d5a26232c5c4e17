#include "tests/test.h"

#include "tests/thin_world.h"

#include <inttypes.h>
#include <string.h>

#include "tests/noise.h"

const struct keep thin_keep = {
	.minutes_us = 3 * STRIP_DAY_US, .strips_us = 7 * STRIP_DAY_US, .overs_us = 5 * STRIP_DAY_US,
	.hours_us = 4 * STRIP_DAY_US,
};
const struct keep thin_all = { 0 };

void thin_must(int result, const struct fault *why)
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

	thin_must(survey_begin(s, &why), &why);
	thin_must(survey_add_coverage(s, &c, &why), &why);
	thin_must(survey_add_parked(s, &p, &why), &why);
	for (int32_t channel = 0; channel < N; channel += 1 + (int32_t)noise_between(r, 0, 3)) {
		struct activity_row a = busy(r, run, hour, channel);
		thin_must(survey_add_activity(s, &a, &why), &why);
	}
	for (int minute = 0; minute < 60; minute += 7) {
		for (int i = 0; i < N; i++)
			cells[i] = (uint8_t)noise_between(r, 0, STRIP_HEARD + LEVEL_BINS - 1);
		thin_must(picture_add(s, run, BAND, hour + minute * STRIP_MINUTE_US, cells, &why), &why);
		t.first_us = hour + minute * STRIP_MINUTE_US;
		t.last_us = t.first_us + 800000;
		thin_must(survey_add_transmission(s, &t, &why), &why);
	}
	thin_must(survey_commit(s, &why), &why);
}

/* Each day from a run of its own, all hours of some and a few of others. */
void thin_write_days(const char *path)
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

static void stamp(struct thin_sums *m, int64_t a, int64_t b, int64_t c)
{
	const int64_t of[] = { a, b, c };

	for (int i = 0; i < 3; i++)
		m->print = (m->print ^ (uint64_t)of[i]) * UINT64_C(1099511628211);      /* FNV, from memory */
}

static void count_hours(struct thin_sums *m, int64_t hour, int32_t more_hours)
{
	m->days += more_hours == 23;
	m->hours += more_hours == 0;
	m->old_hours += hour < NOW - thin_keep.hours_us && hour % STRIP_DAY_US != 0;
	if (more_hours && hour % STRIP_DAY_US != 0)
		fail_msg("a day that begins at %" PRId64, hour);
}

static int see_coverage(void *self, const struct coverage_row *c)
{
	struct thin_sums *m = self;

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
	struct thin_sums *m = self;

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
	struct thin_sums *m = self;

	m->parks += p->parks;
	m->parked_us += p->parked_us;
	count_hours(m, p->hour, p->more_hours);
	stamp(m, p->hour, p->parks, p->parked_us);
	return 0;
}

static int see_over(void *self, const struct transmission_row *t)
{
	struct thin_sums *m = self;

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

struct thin_sums thin_sums_of(const char *path)
{
	struct thin_sums m = { .low = 1000, .high = -1000, .print = 1 };
	struct fault why = { 0 };
	struct survey *s = must_read(path);

	thin_must(survey_each_coverage(s, see_coverage, &m, &why), &why);
	thin_must(survey_each_activity(s, see_activity, &m, &why), &why);
	thin_must(survey_each_parked(s, see_parked, &m, &why), &why);
	thin_must(survey_each_transmission(s, see_over, &m, &why), &why);
	thin_must(survey_each_strip(s, see_strip, &m, &why), &why);
	survey_close(s);
	return m;
}

int thin_steps_at(const char *path, const struct keep *k, int steps, int64_t now_us)
{
	struct fault why = { 0 };
	struct run_row run = world_run();
	struct survey *s = must_write(path, &run);
	struct thinning t = { 0 };
	int made = 0, more = 1;

	while (made < steps && (more = thin_step(s, k, now_us, &t, &why)) > 0)
		made++;
	thin_must(more, &why);
	survey_close(s);
	return made;
}

int thin_steps(const char *path, const struct keep *k, int steps)
{
	return thin_steps_at(path, k, steps, NOW);
}

void thin_adds_up(const struct thin_sums *before, const struct thin_sums *after)
{
	assert_true(after->looks == before->looks && after->looked_us == before->looked_us);
	assert_true(after->floor_sum == before->floor_sum);
	assert_true(after->low == before->low && after->high == before->high);
	assert_true(after->parks == before->parks && after->parked_us == before->parked_us);
	assert_true(after->busy_us == before->busy_us && after->blind_us == before->blind_us);
	assert_true(after->openings == before->openings);
	assert_memory_equal(after->level_us, before->level_us, sizeof after->level_us);
}
