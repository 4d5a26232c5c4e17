#include "tests/test.h"

#include "tests/noise.h"
#include "tools/plan/stretches.h"

#include <inttypes.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#define SEED   41
#define PLACES 11
#define ROWS   4000

/* All ways to choose, one after another: what is the most that can be had from place i on? */
static int64_t exhausted(const struct place *p, int n, int i, int longest, int64_t each, int most)
{
	int64_t best = 0, sum = 0;

	if (i >= n)
		return 0;
	best = exhausted(p, n, i + 1, longest, each, most);
	for (int end = i; most > 0 && p[i].limit && end < n && end - i < longest && !p[end].stop; end++) {
		sum += p[end].worth;
		if (!p[end].limit || end - i + 1 < p[end].least)
			continue;
		int64_t rest = exhausted(p, n, end + 1, longest, each, most - 1);
		if (sum - each + rest > best)
			best = sum - each + rest;
	}
	return best;
}

/* That what was found keeps to the rules; what it is worth. */
static int64_t audited(const struct place *p, int n, int longest, int64_t each, int most,
		       const struct stretch *s, int found)
{
	int64_t all = 0;

	assert_in_range(found, 0, most);
	for (int k = 0; k < found; k++) {
		int64_t sum = -each;
		assert_true(s[k].from >= 0 && s[k].to < n && s[k].from <= s[k].to);
		assert_true(k == 0 || s[k].from > s[k - 1].to);
		assert_true(p[s[k].from].limit && p[s[k].to].limit);
		assert_in_range(s[k].to - s[k].from + 1, p[s[k].to].least, longest);
		for (int i = s[k].from; i <= s[k].to; i++) {
			assert_false(p[i].stop);
			sum += p[i].worth;
		}
		assert_true(sum == s[k].worth);
		all += sum;
	}
	return all;
}

/* Against the plain way, which tries all; least changes at stops, as from band to band. */
static void as_good_as_all_choices(void **state)
{
	struct noise r = { SEED };
	int64_t stretches = 0, several = 0;

	(void)state;
	for (int row = 0; row < ROWS; row++) {
		struct place p[PLACES];
		struct stretch got[4];
		int n = (int)noise_between(&r, 0, PLACES), most = (int)noise_between(&r, 0, 4);
		int longest = (int)noise_between(&r, 1, PLACES);
		int64_t each = noise_between(&r, 0, 3);
		int32_t least = 1;
		for (int i = 0; i < n; i++) {
			bool stop = noise_uniform(&r) < 0.1;
			least = stop ? (int32_t)noise_between(&r, 1, 3) : least;
			p[i] = (struct place){ noise_between(&r, -4, 4), least, stop,
					       !stop && noise_uniform(&r) < 0.8 };
		}
		int found = stretches_best(p, n, longest, each, most, got);
		int64_t is = audited(p, n, longest, each, most, got, found);
		int64_t want = exhausted(p, n, 0, longest, each, most);
		if (is != want)
			fail_msg("seed %d, row %d: %" PRId64 " of %" PRId64, SEED, row, is, want);
		stretches += found;
		several += found > 1;
	}
	if (stretches < ROWS / 2 || several < ROWS / 10)
		fail_msg("too little to see: %" PRId64 " stretches", stretches);
}

static const struct {
	const char *why, *row;          /* a digit: worth; '-': one less than nothing; '.': nothing; */
					/* '|': stop; each costs 1                              */
	int         longest, most;
	const char *want;
} cases[] = {
	{ "nothing to be had", ".........", 9, 3, "" },
	{ "an empty row", "", 9, 3, "" },
	{ "no more than its worth", "..9.9..", 9, 1, "2-4" },
	{ "a bad place within is worth it", "9-9", 9, 1, "0-2" },
	{ "as good in two as in one is one", "3-3", 9, 2, "0-2" },
	{ "and two where it is not", "9--9", 9, 2, "0-0 3-3" },
	{ "no stretch over a stop", "9|9", 9, 1, "0-0" },
	{ "as long as it may be", "123456", 3, 1, "3-5" },
	{ "side by side", "444444", 3, 2, "0-2 3-5" },
	{ "none is asked for", "999", 3, 0, "" },
};

static void by_hand(void **state)
{
	(void)state;
	for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
		struct place p[16];
		struct stretch s[4];
		char got[100] = "";
		int n = (int)strlen(cases[i].row);
		for (int k = 0; k < n; k++) {
			char c = cases[i].row[k];
			p[k] = (struct place){ c == '-' ? -1 : c >= '0' && c <= '9' ? c - '0' : 0, 1, c == '|',
					       c != '|' };
		}
		int found = stretches_best(p, n, cases[i].longest, 1, cases[i].most, s);
		size_t at = 0;
		for (int k = 0; k < found; k++)
			at += (size_t)snprintf(got + at, sizeof got - at, "%s%d-%d", k ? " " : "", s[k].from, s[k].to);
		if (strcmp(got, cases[i].want) != 0)
			fail_msg("%s: %s", cases[i].why, got);
	}
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(by_hand),
		cmocka_unit_test(as_good_as_all_choices),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
