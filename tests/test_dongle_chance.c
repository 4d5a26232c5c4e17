#include "tests/test.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/syscall.h>
#include <time.h>
#include <unistd.h>

#include "tests/dongle_duty.h"

/* Faults by chance, several at once: BANDCENSUS_FAULT_SEQUENCES (4) of three each from
 * BANDCENSUS_FAULT_SEED on. */

#define SEED     20260301
#define FAULTS   3
#define LATEST_S 30                     /* of real time, without a sign of life        */
#define LEARN_US 200000                /* looked until both hops are known             */
#define ALL_S    120                    /* ... and until all is well again             */
#define NO_REST  "track = false;\nppm = \"31 ppm\";\ndwell = \"5 ms\";\nhang = \"200 ms\";\n" \
		 "park_share = 0.0;\n"

/* A duration up to for_s, or a number up to times. */
static const struct {
	enum mischief_kind kind;
	double             for_s;
	int                times;
	double             value;
} kinds[] = {
	{ MISCHIEF_VANISH, 5, 0, 0 },
	{ MISCHIEF_SILENCE, 5, 0, 0 },
	{ MISCHIEF_ERROR, 0, 200, 0 },
	{ MISCHIEF_TIMEOUT, 0, 200, 0 },
	{ MISCHIEF_STALL, 0, 200, 0 },
	{ MISCHIEF_OVERFLOW, 0, 200, 0 },
	{ MISCHIEF_EMPTY, 0, 200, 0 },
	{ MISCHIEF_SHORT, 0, 200, 1001 },
	{ MISCHIEF_DROP, 0, 50, 30001 },
	{ MISCHIEF_UNLOCKED, 4, 0, 0 },
	{ MISCHIEF_REFUSED, 3, 0, 0 },
	{ MISCHIEF_REFUSED, 0, 4, 0 },
	{ MISCHIEF_MUTE, 2, 0, 0 },
	{ MISCHIEF_HANG_CONTROL, 2, 0, 0 },
	{ MISCHIEF_HANG_EVENTS, 2, 0, 0 },
	{ MISCHIEF_BUSY, 5, 0, 0 },
	{ MISCHIEF_DENIED, 5, 0, 0 },
	{ MISCHIEF_LATE_CANCEL, 5, 0, 300 },
	{ MISCHIEF_NO_TUNER, 5, 0, 0 },
	{ MISCHIEF_DEAF, 5, 0, 0 },
};

#define KINDS (sizeof kinds / sizeof kinds[0])

static uint32_t roll(uint64_t *chance)
{
	*chance = *chance * 6364136223846793005u + 1442695040888963407u;
	return (uint32_t)(*chance >> 33);
}

static double upto(uint64_t *chance, double most)
{
	return most * (roll(chance) % 1000 + 1) / 1000;
}

static long setting(const char *name, long preset)
{
	const char *text = getenv(name);
	return text ? strtol(text, NULL, 10) : preset;
}

static void nap_s(double s)
{
	const struct timespec t = { (time_t)s, (long)((s - (double)(time_t)s) * 1e9) };
	syscall(SYS_clock_nanosleep, CLOCK_MONOTONIC, 0, &t, NULL);
}

/* Three faults, and then all has to come right. */
static void live_through(struct duty *d, long seed, double *worst_s)
{
	uint64_t chance = (uint64_t)seed * 7919 + 1;
	char story[300] = "";

	for (int i = 0; i < FAULTS; i++) {
		size_t k = roll(&chance) % KINDS;
		struct mischief m = {
			.kind = (int)kinds[k].kind, .dongle = -1, .value = kinds[k].value,
			.for_s = kinds[k].for_s > 0 ? upto(&chance, kinds[k].for_s) : 0,
			.times = kinds[k].times ? roll(&chance) % kinds[k].times + 1 : 0,
			.low_mhz = 154, .high_mhz = 156,
		};
		size_t n = strlen(story);
		snprintf(story + n, sizeof story - n, " %d (%.1f s, %lld times)", m.kind, m.for_s,
			 (long long)m.times);
		snprintf(d->doing, sizeof d->doing, "seed %ld, after%s", seed, story);
		scene_mischief(&d->scene, m);
		nap_s(upto(&chance, 1.5));
		duty_look(d);
	}
	int64_t began_us = state_real_us(), sign_us = began_us, opens = 0;
	while (!duty_listens(d, 200000, 1)) {
		/* Each opening uses up some of what was to go wrong. */
		if (d->scene.state->dongles[0].count.opens != opens)
			sign_us = state_real_us();
		opens = d->scene.state->dongles[0].count.opens;
		if (state_real_us() - sign_us > LATEST_S * INT64_C(1000000))
			fail_msg("seed %ld: does not come back from%s", seed, story);
		if (state_real_us() - began_us > ALL_S * INT64_C(1000000))
			fail_msg("seed %ld: comes back again and again from%s", seed, story);
	}
	double took_s = (double)(state_real_us() - began_us) * 1e-6;
	if (took_s > *worst_s) {
		*worst_s = took_s;
		print_message("seed %ld: %.1f s after%s\n", seed, took_s, story);
	}
}

static void whatever_comes_is_survived(void **state)
{
	long first = setting("BANDCENSUS_FAULT_SEED", SEED);
	long sequences = setting("BANDCENSUS_FAULT_SEQUENCES", 4), at_once = MISCHIEF_MOST / FAULTS;
	double worst_s = 0, shared_s = 0, looked_s = 0, lost_s = 0, away_s = 0;
	int64_t overs = 0;
	struct duty *d = *state;

	for (long done = 0; done < sequences;) {
		struct scenario s = duty_scenario();
		duty_begin(d, &s, "dongle", "150", "153.9", NO_REST);
		/* Who is deaf from the beginning can't know it. */
		assert_true(duty_listens(d, LEARN_US, LATEST_S));
		for (long k = 0; k < at_once && done < sequences; k++, done++)
			live_through(d, first + done, &worst_s);
		shared_s += state_elapsed_s(d->scene.state);
		int code = duty_end(d);
		if (code != 0)
			fail_msg("seeds up to %ld: ended with %d", first + done - 1, code);
		looked_s += (double)d->seen.looked_us * 1e-6;
		lost_s += (double)d->seen.lost_us * 1e-6;
		overs += d->seen.transmissions;
		away_s = d->away_s > away_s ? d->away_s : away_s;
	}
	print_message("%ld sequences from seed %ld: longest wait %.1f s, daemon busy for %.2f s at the most, "
		      "looked %.0f s and lost %.0f s in %.0f s, %lld transmissions kept\n", sequences, first,
		      worst_s, away_s, looked_s, lost_s, shared_s, (long long)overs);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test_setup_teardown(whatever_comes_is_survived, duty_create, duty_destroy),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
