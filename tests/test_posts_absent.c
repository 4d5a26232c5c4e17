/* A post whose source is not there: it is asked for, warms up, and is not looked by meanwhile. */
#include "tests/test.h"

#include <inttypes.h>
#include <math.h>
#include <stdint.h>
#include <string.h>

#include "tests/posts_world.h"

/* Found at the third try. arg: the fake, and open is told not to wait for it. */
static void *found_late(const struct source_request *request, struct fault *why)
{
	struct fake_source *f = (struct fake_source *)(uintptr_t)request->arg;

	assert_true(request->at_once);
	if (++f->opened >= 3)
		return f;
	fault_set(why, FAULT_RETRY, "the fake is not plugged in");
	return NULL;
}

static void about_it(void *self, struct source_about *out)
{
	(void)self;
	*out = (struct source_about){ .tunable = true, .label = "fake, found" };
}

/* It is asked for again and again, and warms up from when it is found. */
static void one_that_is_not_there_is_asked_for(void **state)
{
	const struct posts_row r = { "late", 1, { NEVER }, 1, 0, false, "", 0 };
	struct posts_outing o = { .posts = 1, .clock.sources = 1 };
	struct source_ops ops = fake_source_ops;
	struct world_seen *seen = &o.seen;

	ops.open = found_late;
	ops.about = about_it;
	empty_place(*state);
	assert_int_equal(hop_plan_sweep(&o.hops, posts_bands, BANDS, FAKE_RATE), 0);
	posts_watch(*state, &r, true, &ops, &o);
	*seen = see_all(((struct place *)*state)->path);
	assert_int_equal(o.result, 0);
	assert_int_equal(o.fake[0]->opened, 3);
	assert_int_equal(seen->n_incident, 2);
	int lost = strcmp(seen->incident[0].what, "lost") != 0, warm = !lost;
	const struct incident_row *away = &seen->incident[lost], *warmed = &seen->incident[warm];
	assert_string_equal(away->what, "lost");
	assert_string_equal(warmed->what, "warm-up");
	/* After waits of 1 and 2 s it was there; then 60 s pass, and learning. */
	assert_in_range(away->until_us - away->at_us, 3 * SECOND, 3 * SECOND + SECOND / 10);
	assert_in_range(warmed->at_us - away->until_us, 0, SECOND / 10);
	assert_int_equal(warmed->until_us - warmed->at_us, 60 * SECOND);
	/* One block to meet it by, and none while it warms up. */
	assert_in_range(o.fake[0]->block[1].mono_us - o.fake[0]->block[0].mono_us, 60 * SECOND,
			60 * SECOND + SECOND / 10);
	posts_let_go(&o);
}

/* A hop that can't be had is not quiet: nothing of it is counted. */
static void deaf_is_not_looked(void **state)
{
	const struct posts_row r = { "deaf from the start", 1, { { TROUBLE_DEAF, 0, NEVER_S, 0, 0 } }, 2, 0,
			       false, "deaf ", 0 };
	struct posts_outing o = { .posts = 1, .clock.sources = 1 };

	empty_place(*state);
	assert_int_equal(hop_plan_sweep(&o.hops, posts_bands, BANDS, FAKE_RATE), 0);
	posts_watch(*state, &r, true, NULL, &o);
	o.seen = see_all(((struct place *)*state)->path);
	for (int i = 0; i < o.seen.n_coverage; i++)
		if (o.seen.coverage[i].band == 2)
			fail_msg("%" PRId64 " looks at what can't be had", o.seen.coverage[i].looks);
	assert_int_equal(o.seen.n_coverage, BANDS - 1);
	assert_non_null(strstr(o.seen.incident[0].text, "did not lock at 152."));
	posts_let_go(&o);
}

static const struct {
	const char *why;
	double      back_s, warms_s;
} unplugged[] = {
	{ "for five minutes: still warm", 370, 0 },
	{ "for twelve: cold again, as at the start", 790, 60 },
};

/* Lost from the 70th second on, a few seconds after the first look; asked for every half
 * minute once it is long away. */
static void after_long_it_warms_up_again(void **state)
{
	for (size_t i = 0; i < sizeof unplugged / sizeof unplugged[0]; i++) {
		const struct posts_row r = { unplugged[i].why, 1,
			{ { TROUBLE_TUNING, 70, unplugged[i].back_s, 0, 0 } }, 3, 0, false, "", 0 };
		struct posts_outing o = { .posts = 1, .clock.sources = 1, .warm_up_s = 60,
				    .for_s = unplugged[i].back_s + 35 + unplugged[i].warms_s - 64 };
		empty_place(*state);
		assert_int_equal(hop_plan_sweep(&o.hops, posts_bands, BANDS, FAKE_RATE), 0);
		posts_watch(*state, &r, true, NULL, &o);
		assert_int_equal(o.result, 0);
		o.seen = see_all(((struct place *)*state)->path);
		double rest_s = 0;
		const struct delivery *d = o.fake[0]->block;
		for (int k = 1; k < o.fake[0]->blocks; k++)
			if ((double)d[k - 1].mono_us * 1e-6 > unplugged[i].back_s)
				rest_s = fmax(rest_s, (double)(d[k].mono_us - d[k - 1].mono_us) * 1e-6);
		int warm_ups = 0;
		for (int k = 0; k < o.seen.n_incident; k++)
			warm_ups += strcmp(o.seen.incident[k].what, "warm-up") == 0;
		if (warm_ups != 1 + (unplugged[i].warms_s > 0) || rest_s < unplugged[i].warms_s ||
		    rest_s > unplugged[i].warms_s + 1)
			fail_msg("%s: warmed up %d times, %.1f s without a look once it was back", r.why,
				 warm_ups, rest_s);
		posts_let_go(&o);
	}
}

static void *never_found(const struct source_request *request, struct fault *why)
{
	(void)request;
	fault_set(why, FAULT_RETRY, "the fake is not plugged in");
	return NULL;
}

/* What never comes is not waited for longer than the watch would last; and that nothing
 * was looked at is no success. */
static void nobody_comes(void **state)
{
	const struct posts_row r = { "never", 1, { NEVER }, 1, 0, false, "", 0 };
	struct posts_outing o = { .posts = 1, .clock.sources = 1 };
	struct source_ops absent = fake_source_ops;

	absent.open = never_found;
	empty_place(*state);
	assert_int_equal(hop_plan_sweep(&o.hops, posts_bands, BANDS, FAKE_RATE), 0);
	posts_watch(*state, &r, true, &absent, &o);
	assert_int_equal(o.result, -1);
	assert_int_equal(o.why.kind, FAULT_RETRY);
	assert_string_equal(o.why.text, "nothing was looked at: fake A never came");
	assert_in_range(o.clock.now_us, (int64_t)(FOR_S * 1e6), (int64_t)(FOR_S * 1e6) + SECOND);
	o.seen = see_all(((struct place *)*state)->path);
	assert_int_equal(o.seen.n_coverage, 0);
	assert_int_equal(o.seen.n_incident, 1);
	assert_string_equal(o.seen.incident[0].what, "lost");
	assert_string_equal(o.seen.incident[0].text, "the source never came");
	posts_let_go(&o);
}

#define TEST(name) cmocka_unit_test_setup_teardown(name, make_place, remove_place)

int main(void)
{
	const struct CMUnitTest tests[] = {
		TEST(one_that_is_not_there_is_asked_for),
		TEST(deaf_is_not_looked),
		TEST(after_long_it_warms_up_again),
		TEST(nobody_comes),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
