/* What is made of a channel's overs for the fit (tools/plan/glimpses.h), by hand: looks each 2 s, a hang of half a
 * second. Letters, one a glimpse: A afresh, B began, + a look on, - a look off, S stayed on, s stayed off, l left,
 * m met, r rose, f fell; (n) after a chain: so often more. */
#include "tests/test.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

#include "tools/plan/census.h"
#include "tools/plan/glimpses.h"

#define EVERY_S 2.0
#define MOST    4

/* An over as it was seen: of a sweep (ends 2 s out), or watched. busy_s 0: a look of 20 ms each 2 s. */
struct met {
	double from_s, to_s, before_s, after_s, busy_s;
};

#define SWEPT(from, to)   { from, to, 2, 2, 0 }
#define WATCHED(from, to) { from, to, 0.05, 0.05, (to) - (from) }

static const struct {
	const char *why;
	struct met  over[MOST];
	const char *letters;
} rows[] = {
	{ "swept once", { SWEPT(10, 12) }, "A+-" },
	{ "one look of it", { SWEPT(10, 10.02) }, "A+-" },
	{ "for longer", { SWEPT(10, 16) }, "A+++-" },
	{ "4 s of silence between: two looks", { SWEPT(10, 12), SWEPT(20, 22) }, "A+---++-" },
	/* 32 s of silence are followed, and the look past them: seventeen. */
	{ "too far apart", { SWEPT(10, 12), SWEPT(100, 104) }, "A+------------------A++-" },
	{ "and not followed: nobody looked for six seconds", { { 10, 12, 2, 6, 0 }, { 100, 104, 2, 6, 0 } }, "A+-A++-" },
	{ "alike are there once", { { 10, 12, 2, 6, 0 }, { 100, 102, 2, 6, 0 }, { 200, 202, 2, 6, 0 } }, "A+-(2)" },
	{ "not when one is longer", { { 10, 12, 2, 6, 0 }, { 100, 104, 2, 6, 0 }, { 200, 202, 2, 6, 0 } }, "A+-(1)A++-" },
	{ "came on nobody knows when", { SWEPT(10, 12), { 20, 22, -1, 2, 0 } }, "A+-A+-" },
	{ "its end was not seen", { { 10, 12, 2, -1, 0 }, SWEPT(20, 22) }, "A+A+-" },
	{ "watched from end to end", { WATCHED(10, 14) }, "BSf" },
	{ "two in one park", { WATCHED(10, 14), WATCHED(17, 20) }, "BSfsrSf" },
	{ "two that lie 20 s apart, in two", { WATCHED(10, 14), WATCHED(34.5, 38) }, "BSfmrSf" },
	{ "watched, and swept later", { WATCHED(10, 14), SWEPT(20, 22) }, "BSfl++-" },
	{ "swept, and watched later", { SWEPT(10, 12), WATCHED(20, 23) }, "A+-mrSf" },
	{ "on when the park came", { { 10, 16, 2, 0.05, 4 } }, "A+Sf" },
	{ "on when it went", { { 10, 16, 0.05, 2, 4 } }, "BS+-" },
	{ "a park amid it", { { 10, 20, 2, 2, 4 } }, "A++S++-" },
	{ "watched for most of it", { { 10, 20, 2, 2, 8.1 } }, "AS-" },
	{ "on for longer than looks are counted", { { 10, 900, 2, 2, 9 } }, "AS-" },
};

static int make(const struct met *met, struct glimpses *out)
{
	struct over o[MOST];
	int n = 0;

	for (; n < MOST && met[n].to_s > 0; n++) {
		double busy_s = met[n].busy_s > 0 ? met[n].busy_s : 0.02;
		o[n] = (struct over){ .first_us = llround(1e6 * met[n].from_s), .last_us = llround(1e6 * met[n].to_s),
				      .before_us = llround(1e6 * met[n].before_s), .after_us = llround(1e6 * met[n].after_s),
				      .busy_us = llround(1e6 * fmin(busy_s, met[n].to_s - met[n].from_s)) };
		if (met[n].busy_s == 0 && met[n].to_s - met[n].from_s < 0.1)
			o[n].busy_us = 10000;
	}
	return glimpses_make(o, n, EVERY_S, 0.5, out);
}

static void letters_of(const struct glimpses *g, char *out, size_t size)
{
	static const char letter[] = { [GLIMPSE_AFRESH] = 'A', [GLIMPSE_BEGAN] = 'B', [GLIMPSE_ON] = '+', [GLIMPSE_OFF] = '-',
				       [GLIMPSE_STAYED_ON] = 'S', [GLIMPSE_STAYED_OFF] = 's', [GLIMPSE_LEFT] = 'l',
				       [GLIMPSE_MET] = 'm', [GLIMPSE_ROSE] = 'r', [GLIMPSE_FELL] = 'f' };
	size_t n = 0;
	int again = 0;

	for (int i = 0; i <= g->n; i++) {
		if (again > 0 && (i == g->n || g->g[i].what <= GLIMPSE_BEGAN))
			n += (size_t)snprintf(out + n, size - n, "(%d)", again);
		if (i == g->n)
			break;
		if (g->g[i].what <= GLIMPSE_BEGAN)
			again = g->g[i].again;
		n += (size_t)snprintf(out + n, size - n, "%c", letter[g->g[i].what]);
	}
}

static void chains_by_hand(void **state)
{
	(void)state;
	for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
		struct glimpses g;
		char got[200];
		assert_int_equal(make(rows[i].over, &g), 0);
		letters_of(&g, got, sizeof got);
		glimpses_free(&g);
		if (strcmp(got, rows[i].letters) != 0)
			fail_msg("%s: %s", rows[i].why, got);
	}
}

/* A park lasts ten seconds: how long it went on after an over's end follows from when it came. It may have been there
 * before an over that it saw begin, so only the most is known then; one that was on when it came tells both. */
static void how_long_a_park_went_on(void **state)
{
	static const struct {
		const char *why;
		struct met  first;
		double      least_s, most_s;    /* the next is met 20 s after the first began */
	} by[] = {
		{ "came by the beginning at the latest", WATCHED(10, 14), 0, 5.5 },
		{ "came amid it, four seconds before its end", { 10, 18, 2, 0.05, 4 }, 5.5, 5.5 },
		{ "longer than any park: by its end at the latest", { 10, 22, 0.05, 0.05, 12 }, 0, 5.5 },
		{ "others came, too: by its end at the latest", { 10, 23, 2, 0.05, 2.5 }, 0, 4.5 },
	};

	(void)state;
	for (size_t i = 0; i < sizeof by / sizeof by[0]; i++) {
		const struct met met[MOST] = { by[i].first, SWEPT(30, 32) };
		struct glimpses g;
		int left = -1;
		assert_int_equal(make(met, &g), 0);
		for (int k = 0; k < g.n; k++)
			if (g.g[k].what == GLIMPSE_LEFT)
				left = k;
		assert_true(left > 0);
		double after_s = 28 - by[i].first.to_s - 0.5, most_s = fmin(by[i].most_s, after_s);
		if (fabs((double)g.g[left].after_s - after_s) > 1e-4 || fabs((double)g.g[left].least_s - by[i].least_s) > 1e-4 ||
		    fabs((double)g.g[left].most_s - most_s) > 1e-4)
			fail_msg("%s: %g s, of which %g to %g", by[i].why, (double)g.g[left].after_s, (double)g.g[left].least_s,
				 (double)g.g[left].most_s);
		glimpses_free(&g);
	}
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(chains_by_hand),
		cmocka_unit_test(how_long_a_park_went_on),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
