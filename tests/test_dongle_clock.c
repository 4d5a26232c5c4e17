/* The clock that all processes with an emulated dongle share. */
#include "tests/test.h"

#include <errno.h>
#include <math.h>
#include <poll.h>
#include <pthread.h>
#include <rtl-sdr.h>
#include <string.h>
#include <time.h>
#include <unistd.h>

#include "tests/dongle/bench.h"

#define START_US INT64_C(1771358400000000)      /* 2026-02-17T20:00:00Z */
#define SLACK_US INT64_C(60000000)              /* for a machine that does something else meanwhile */

/* Joins a scene: looking at the bus is enough. */
static void begin(struct scene *s, const struct scenario *what)
{
	scene_begin(s, what);
	assert_int_equal(rtlsdr_get_device_count(), 1);
}

static int64_t clock_us(clockid_t id)
{
	struct timespec t;

	clock_gettime(id, &t);
	return (int64_t)t.tv_sec * 1000000 + t.tv_nsec / 1000;
}

/* How long something took, on the shared clock and really. */
struct taken {
	double shared_s, real_s;
};

static struct taken taken_since(const struct scene *s, const struct taken *t)
{
	return (struct taken){ state_elapsed_s(s->state) - t->shared_s,
			       (double)state_real_us() * 1e-6 - t->real_s };
}

static struct taken now(const struct scene *s)
{
	return taken_since(s, &(struct taken){ 0 });
}

static void utc_is_the_scenarios(void **state)
{
	struct scenario s = scenario_usual();
	struct mischief *m;
	struct scene scene;

	(void)state;
	s.start_us = START_US;
	m = scenario_mischief(&s, MISCHIEF_CLOCK);
	m->at = 3600;
	m->value = -40;
	begin(&scene, &s);
	int64_t utc = clock_us(CLOCK_REALTIME), steady = clock_us(CLOCK_MONOTONIC);
	assert_in_range(utc, START_US, START_US + SLACK_US);
	assert_true(time(NULL) - START_US / 1000000 < SLACK_US / 1000000);
	/* Stepped back by 40 s at nine, while the other clock goes on. */
	state_leap_to(scene.state, steady + 7200000000);
	int64_t later = clock_us(CLOCK_REALTIME) - utc, passed = clock_us(CLOCK_MONOTONIC) - steady;
	assert_in_range(passed, 7200000000, 7200000000 + SLACK_US);
	assert_in_range(later, 7160000000, 7160000000 + SLACK_US);
	scene_end(&scene);
}

static void *write_soon(void *fd)
{
	usleep(5000);
	assert_int_equal(write(*(int *)fd, "x", 1), 1);
	return NULL;
}

enum wanted { WAIT_NONE, WAIT_NOTHING, WAIT_READY, WAIT_SOON };

static const struct {
	const char *why;
	enum wanted wait;
	int         ms, result, leaps;
	double      least_s;
} polls[] = {
	{ "30 s for nothing pass at once", WAIT_NOTHING, 30000, 0, 1, 30 },
	{ "2 s do, just so", WAIT_NOTHING, 2000, 0, 1, 2 },
	{ "200 ms take their time", WAIT_NOTHING, 200, 0, 0, 0.2 },
	{ "what is there is had at once", WAIT_READY, 30000, 1, 0, 0 },
	{ "what comes in a moment is waited for", WAIT_SOON, 30000, 1, 0, 0 },
	{ "a second for no descriptor is a sleep", WAIT_NONE, 1000, 0, 1, 1 },
	{ "half a one is short", WAIT_NONE, 500, 0, 0, 0.5 },
	{ "a second for one is not", WAIT_NOTHING, 1000, 0, 0, 1 },
	{ "no time is no time", WAIT_NOTHING, 0, 0, 0, 0 },
	{ "without a limit it waits", WAIT_SOON, -1, 1, 0, 0 },
};

static void polls_leap(void **state)
{
	struct scenario s = scenario_usual();
	struct scene scene;

	(void)state;
	begin(&scene, &s);
	for (size_t i = 0; i < sizeof polls / sizeof polls[0]; i++) {
		int fds[2];
		pthread_t writer;
		assert_int_equal(pipe(fds), 0);
		if (polls[i].wait == WAIT_READY)
			assert_int_equal(write(fds[1], "x", 1), 1);
		if (polls[i].wait == WAIT_SOON)
			assert_int_equal(pthread_create(&writer, NULL, write_soon, &fds[1]), 0);
		struct pollfd p = { .fd = fds[0], .events = POLLIN };
		int64_t leaps = scene.state->leaps;
		struct taken before = now(&scene);
		int r = poll(&p, polls[i].wait != WAIT_NONE, polls[i].ms);
		struct taken t = taken_since(&scene, &before);
		if (polls[i].wait == WAIT_SOON)
			pthread_join(writer, NULL);
		close(fds[0]);
		close(fds[1]);
		leaps = scene.state->leaps - leaps;
		if (r != polls[i].result || leaps != polls[i].leaps ||
		    t.shared_s < polls[i].least_s)
			fail_msg("%s: returns %d after %.3f s and %d leaps", polls[i].why, r,
				 t.shared_s, (int)leaps);
	}
	scene_end(&scene);
}

static void sleeps_leap(void **state)
{
	struct scenario s = scenario_usual();
	struct scene scene;

	(void)state;
	begin(&scene, &s);
	struct taken before = now(&scene);
	assert_int_equal(nanosleep(&(struct timespec){ .tv_sec = 5 }, NULL), 0);
	assert_int_equal(sleep(5), 0);
	struct timespec until = { .tv_sec = clock_us(CLOCK_MONOTONIC) / 1000000 + 6 };
	assert_int_equal(clock_nanosleep(CLOCK_MONOTONIC, TIMER_ABSTIME, &until, NULL), 0);
	struct taken t = taken_since(&scene, &before);
	if (t.shared_s < 15 || scene.state->leaps != 3)
		fail_msg("%.3f s, %d leaps", t.shared_s, (int)scene.state->leaps);
	before = now(&scene);
	usleep(50000);
	t = taken_since(&scene, &before);
	assert_true(t.real_s >= 0.05);
	assert_int_equal(scene.state->leaps, 3);
	scene_end(&scene);
}

/* For a descriptor that is none: nothing will come, but poll can't know. */
static void *wait_half_a_minute(void *unused)
{
	struct pollfd nothing = { .fd = -1, .events = POLLIN };
	poll(&nothing, 1, 30000);
	return unused;
}

static void waits_side_by_side_do_not_add_up(void **state)
{
	struct scenario s = scenario_usual();
	pthread_t other;
	struct scene scene;

	(void)state;
	s.grace_ms = 900;       /* both have begun by then */
	begin(&scene, &s);
	struct taken before = now(&scene);
	assert_int_equal(pthread_create(&other, NULL, wait_half_a_minute, NULL), 0);
	wait_half_a_minute(NULL);
	pthread_join(other, NULL);
	struct taken t = taken_since(&scene, &before);
	if (t.shared_s < 30 || t.shared_s > 55)
		fail_msg("%.3f s", t.shared_s);
	scene_end(&scene);
}

/* Its limit is a time of the shared clock, which may be hours ahead of the real one
 * and may leap in the midst of it. */
static void conditions_go_by_the_shared_clock(void **state)
{
	struct scenario s = scenario_usual();
	pthread_mutex_t lock = PTHREAD_MUTEX_INITIALIZER;
	pthread_condattr_t steady;
	pthread_cond_t never;
	pthread_t other;
	struct scene scene;

	(void)state;
#ifdef __SANITIZE_THREAD__
	skip();                 /* its own function for this is before ours, and calls the C library's */
#endif
	begin(&scene, &s);
	pthread_condattr_init(&steady);
	pthread_condattr_setclock(&steady, CLOCK_MONOTONIC);
	pthread_cond_init(&never, &steady);
	state_leap_to(scene.state, clock_us(CLOCK_MONOTONIC) + 3600000000);
	struct taken before = now(&scene);
	int64_t until_us = clock_us(CLOCK_MONOTONIC) + 200000;
	struct timespec until = { until_us / 1000000, until_us % 1000000 * 1000 };
	pthread_mutex_lock(&lock);
	assert_int_equal(pthread_cond_timedwait(&never, &lock, &until), ETIMEDOUT);
	struct taken t = taken_since(&scene, &before);
	assert_true(t.real_s > 0.15 && t.real_s < 1000);

	before = now(&scene);
	until.tv_sec += 20;
	assert_int_equal(pthread_create(&other, NULL, wait_half_a_minute, NULL), 0);
	assert_int_equal(pthread_cond_timedwait(&never, &lock, &until), ETIMEDOUT);
	t = taken_since(&scene, &before);
	assert_true(t.shared_s > 19);
	pthread_mutex_unlock(&lock);
	pthread_join(other, NULL);
	pthread_cond_destroy(&never);
	scene_end(&scene);
}

/* While a process is still starting nothing leaps, for a second at the most. */
static void a_leap_waits_for_who_is_starting(void **state)
{
	struct scenario s = scenario_usual();
	struct scene scene;

	(void)state;
	begin(&scene, &s);
	scene.state->starting[3] = (int32_t)getppid();
	scene.state->started_us[3] = state_real_us();
	struct taken before = now(&scene);
	poll(NULL, 0, 30000);
	struct taken t = taken_since(&scene, &before);
	if (t.real_s < 0.9 || t.shared_s < 30)
		fail_msg("%.3f s, really %.3f s", t.shared_s, t.real_s);
	scene_end(&scene);
}

static void it_may_run_faster(void **state)
{
	struct scenario s = scenario_usual();
	struct scene scene;

	(void)state;
	s.speed = 10;
	s.leaps = false;
	begin(&scene, &s);
	/* What it may be off by is what passes between one clock and the other. */
	double real_s[4], shared_s[2];
	for (int k = 0; k < 2; k++) {
		real_s[2 * k] = (double)state_real_us() * 1e-6;
		shared_s[k] = state_elapsed_s(scene.state);
		real_s[2 * k + 1] = (double)state_real_us() * 1e-6;
		if (k == 0)
			poll(NULL, 0, 3000);
	}
	double t = shared_s[1] - shared_s[0], least = real_s[2] - real_s[1], most = real_s[3] - real_s[0];
	if (t < 3 || t < 10 * least - 1e-4 || t > 10 * most + 1e-4)
		fail_msg("%.4f s, really %.4f to %.4f s", t, least, most);
	scene_end(&scene);
}

struct busy {
	_Atomic bool works, done;
};

/* Waits once, and then has enough to do. */
static void *be_busy(void *self)
{
	struct busy *b = self;

	poll(NULL, 0, 1);
	b->works = true;
	while (!b->done)
		continue;
	return NULL;
}

/* Two more deliveries, and how far the clock was set on for the later one. */
static int64_t hastened_by_another(struct bench *b)
{
	assert_true(scene_reaches(&b->calls, b->calls + 1, BENCH_PATIENCE_S));
	int64_t before = b->scene.state->hastened_us;
	assert_true(scene_reaches(&b->calls, b->calls + 1, BENCH_PATIENCE_S));
	return b->scene.state->hastened_us - before;
}

static void samples_come_at_once_when_all_wait(void **state)
{
	struct scenario s = scenario_usual();
	struct busy busy = { 0 };
	struct bench *b = *state;
	pthread_t other;

	s.hastens = true;
	bench_open(b, &s, 0);
	bench_set(b);
	bench_read(b, 15, 65536);
	assert_true(scene_reaches(&b->calls, 1, BENCH_PATIENCE_S));
	int64_t lost = b->device->count.lost_bytes;      /* before it was read */
	assert_true(scene_reaches(&b->got, 8 * 4800000, BENCH_PATIENCE_S));
	assert_true(b->scene.state->hastened_us > 0);
	/* As many as the clock says, and none got lost on the way. */
	double s_of_bytes = (double)b->got / 4.8e6;
	double passed_s = (double)(b->last_us - b->first_us) * 1e-6;
	if (fabs(passed_s - s_of_bytes) > 0.05 || b->device->count.lost_bytes > lost)
		fail_msg("samples for %.3f s within %.3f s", s_of_bytes, passed_s);

	assert_int_equal(pthread_create(&other, NULL, be_busy, &busy), 0);
	while (!busy.works)
		usleep(1000);
	assert_int_equal(hastened_by_another(b), 0);
	busy.done = true;
	pthread_join(other, NULL);
	assert_true(hastened_by_another(b) > 0);
	bench_stop(b);
	bench_close(b);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(utc_is_the_scenarios),
		cmocka_unit_test(polls_leap),
		cmocka_unit_test(sleeps_leap),
		cmocka_unit_test(waits_side_by_side_do_not_add_up),
		cmocka_unit_test(conditions_go_by_the_shared_clock),
		cmocka_unit_test(a_leap_waits_for_who_is_starting),
		cmocka_unit_test(it_may_run_faster),
		bench_test(samples_come_at_once_when_all_wait),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
