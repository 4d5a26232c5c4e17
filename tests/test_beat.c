/* When a band was looked at, as its overs tell it: by hand. */
#include "tests/test.h"

#include <math.h>

#include "tools/plan/beat.h"
#include "tools/plan/census.h"

#define MOST 24

/* Overs met by so many looks that lie looks_s apart, so many of which came after_s after the look before. */
struct some {
	int    n, looks;
	double looks_s, after_s;
	double busy;                    /* share of the over: above a half it was watched in a park */
};

static const struct {
	const char *why;
	struct some of[2];
	double      revisit_s;
	struct beat want;
} rows[] = {
	{ "nothing heard: as the mean has it", { { 0 } }, 7, { 7, 0, 1 } },
	{ "look after look", { { 5, 3, 2, 2, 0.02 } }, 2, { 2, 0, 1 } },
	/* (looks - 1) x 2 + 50 over looks is 14: four of them. */
	{ "four looks and a rest", { { 5, 3, 2, 2, 0.02 }, { 5, 3, 2, 50, 0.02 } }, 14, { 2, 50, 4 } },
	{ "at least one look between two rests", { { 5, 3, 2, 2, 0.02 }, { 5, 3, 2, 50, 0.02 } }, 100, { 2, 50, 1 } },
	{ "four overs tell no rest", { { 5, 3, 2, 2, 0.02 }, { 4, 3, 2, 50, 0.02 } }, 14, { 2, 0, 1 } },
	{ "twice as long is no rest yet", { { 5, 3, 2, 2, 0.02 }, { 5, 3, 2, 3.9, 0.02 } }, 3, { 2, 0, 1 } },
	{ "a little more is", { { 5, 3, 2, 2, 0.02 }, { 5, 3, 2, 4.1, 0.02 } }, 3, { 2, 4.1, 2.1 } },
	{ "nothing rests where the mean is as short", { { 5, 3, 2, 2, 0.02 }, { 5, 3, 2, 50, 0.02 } }, 2, { 2, 0, 1 } },
	{ "parks do not tell", { { 5, 30, 0.1, 2, 0.9 }, { 5, 30, 0.1, 2, 0.9 } }, 9, { 2, 0, 1 } },
	{ "nor do single looks", { { 5, 1, 0, 3, 0.02 } }, 9, { 3, 0, 1 } },
	{ "without either, the lower part of what came before", { { 6, 1, 0, 3, 0.02 }, { 6, 1, 0, 50, 0.02 } }, 14.75,
	  { 3, 50, 4 } },
	{ "too few for that", { { 4, 1, 0, 3, 0.02 } }, 9, { 9, 0, 1 } },
	{ "never slower than the mean", { { 5, 3, 20, 20, 0.02 } }, 9, { 9, 0, 1 } },
};

static void beats_by_hand(void **state)
{
	(void)state;
	for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
		struct over o[MOST];
		double work[MOST];
		struct beat got;
		int n = 0;
		for (int k = 0; k < 2; k++)
			for (int j = 0; j < rows[i].of[k].n; j++) {
				const struct some *s = &rows[i].of[k];
				int64_t span_us = llround(1e6 * s->looks_s * (s->looks - 1));
				o[n++] = (struct over){ .first_us = 0, .last_us = span_us, .looks = s->looks,
							.before_us = llround(1e6 * s->after_s),
							.busy_us = llround(s->busy * (double)span_us) };
			}
		beat_find(o, n, rows[i].revisit_s, work, &got);
		const struct beat *want = &rows[i].want;
		if (fabs(got.every_s - want->every_s) > 1e-6 || fabs(got.rest_s - want->rest_s) > 1e-6 ||
		    fabs(got.looks - want->looks) > 1e-6)
			fail_msg("%s: every %g s, rest %g s, %g looks", rows[i].why, got.every_s, got.rest_s, got.looks);
	}
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(beats_by_hand),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
