#include "tests/test.h"

#include <stdlib.h>
#include <string.h>

#include "tests/track_world.h"

/* Scripts: one sign a look, all on channel 2. */
static const struct {
	const char *why;
	const char *signs;
	int64_t     every, span;        /* between looks, and how long each     */
	int64_t     hang, fill;
	double      ratio;              /* power over floor                     */
	int         overs;
	int64_t     first, length, before, after, busy;         /* of the first over */
} scripts[] = {
	{ "one look, idle before and after", "..#..", 2 * SECOND, 20 * MS, 0, 50 * MS, 100,
	  1, 4000 * MS, 20 * MS, 1980 * MS, 1980 * MS, 20 * MS },
	{ "nothing known of before and after", "#", 2 * SECOND, 20 * MS, 0, 50 * MS, 100,
	  1, 0, 20 * MS, -1, -1, 20 * MS },
	{ "it began and ended inside looks", ".(#).", 2 * SECOND, 20 * MS, 0, 50 * MS, 100,
	  1, 2010 * MS, 4000 * MS, 1990 * MS, 1990 * MS, 40 * MS },
	{ "a short burst amid a look", ".|.", 2 * SECOND, 20 * MS, 0, 50 * MS, 100,
	  1, 2008 * MS, 4 * MS, 1988 * MS, 1988 * MS, 4 * MS },
	{ "one idle look ends a clear over", ".#.#.", 2 * SECOND, 20 * MS, 0, 50 * MS, 100,
	  2, 2000 * MS, 20 * MS, 1980 * MS, 1980 * MS, 20 * MS },
	{ "but not a weak one", ".#.#.", 2 * SECOND, 20 * MS, 0, 50 * MS, 2.5,
	  1, 2000 * MS, 4020 * MS, 1980 * MS, 1980 * MS, 40 * MS },
	{ "two idle looks end a weak one", ".#..#..", 2 * SECOND, 20 * MS, 0, 50 * MS, 2.5,
	  2, 2000 * MS, 20 * MS, 1980 * MS, 1980 * MS, 20 * MS },
	{ "5.9 dB is weak", ".#.#.", 2 * SECOND, 20 * MS, 0, 50 * MS, 3.89,
	  1, 2000 * MS, 4020 * MS, 1980 * MS, 1980 * MS, 40 * MS },
	{ "6.1 dB is clear", ".#.#.", 2 * SECOND, 20 * MS, 0, 50 * MS, 4.07,
	  2, 2000 * MS, 20 * MS, 1980 * MS, 1980 * MS, 20 * MS },
	{ "a pause within the hang of a stream", ".##....##..", 100 * MS, 100 * MS, 500 * MS, 50 * MS,
	  100, 1, 100 * MS, 800 * MS, 0, 0, 400 * MS },
	{ "a pause past the hang", ".##......##..", 100 * MS, 100 * MS, 500 * MS, 50 * MS, 100,
	  2, 100 * MS, 200 * MS, 0, 0, 200 * MS },
	{ "a hole of 50 ms counts as on", ".#..##.", 20 * MS, 20 * MS, 500 * MS, 50 * MS, 100,
	  1, 20 * MS, 100 * MS, 0, 0, 100 * MS },
	{ "one of 60 ms does not", ".#...##.", 20 * MS, 20 * MS, 500 * MS, 50 * MS, 100,
	  1, 20 * MS, 120 * MS, 0, 0, 60 * MS },
	{ "blind looks do not end it", ".#?#.", 2 * SECOND, 20 * MS, 4 * SECOND, 50 * MS, 100,
	  1, 2000 * MS, 4020 * MS, 1980 * MS, 1980 * MS, 40 * MS },
	{ "a false look neither", ".#x#.", 2 * SECOND, 20 * MS, 4 * SECOND, 50 * MS, 100,
	  1, 2000 * MS, 4020 * MS, 1980 * MS, 1980 * MS, 40 * MS },
	{ "but not for ever", ".#????????#.", 2 * SECOND, 20 * MS, 4 * SECOND, 50 * MS, 100,
	  2, 2000 * MS, 20 * MS, 1980 * MS, -1, 20 * MS },
	{ "unless nothing hangs: then it is a rest", ".#?#.", 2 * SECOND, 20 * MS, 0, 50 * MS, 100,
	  2, 2000 * MS, 20 * MS, 1980 * MS, -1, 20 * MS },
	{ "a rest in between makes two", ".#    #.", 2 * SECOND, 20 * MS, 4 * SECOND, 50 * MS, 100,
	  2, 2000 * MS, 20 * MS, 1980 * MS, -1, 20 * MS },
	{ "a short rest does not", ".# #.", 1 * SECOND, 20 * MS, 4 * SECOND, 50 * MS, 100,
	  1, 1000 * MS, 2020 * MS, 980 * MS, 980 * MS, 40 * MS },
	{ "one unlooked at for less than it was seen on goes on", ".#####   #.", 2 * SECOND, 20 * MS, 0,
	  50 * MS, 100, 1, 2000 * MS, 16020 * MS, 1980 * MS, 1980 * MS, 120 * MS },
	{ "one unlooked at for longer may be another", ".###   #.", 2 * SECOND, 20 * MS, 0, 50 * MS, 100,
	  2, 2000 * MS, 4020 * MS, 1980 * MS, -1, 60 * MS },
	{ "two separate bursts in a stream", ".(.)..|....", 100 * MS, 100 * MS, 150 * MS, 50 * MS, 100,
	  2, 150 * MS, 200 * MS, 50 * MS, 50 * MS, 100 * MS },
};

static void play(struct track *t, size_t row)
{
	for (size_t i = 0; scripts[row].signs[i]; i++)
		if (scripts[row].signs[i] != ' ')
			show(t, (int64_t)i * scripts[row].every, scripts[row].span,
			     &(struct view){ 2, scripts[row].signs[i], scripts[row].ratio },
			     1);
	track_end(t);
}

/* -1, not known, must be itself. */
static bool far(int64_t got, int64_t want)
{
	return want == -1 ? got != -1 : llabs(got - want) > 10;
}

static void overs_from_scripts(void **state)
{
	static struct heard h;
	(void)state;

	for (size_t i = 0; i < sizeof scripts / sizeof scripts[0]; i++) {
		struct track_rules rules = { scripts[i].hang, scripts[i].fill, scripts[i].every };
		if (strchr(scripts[i].signs, ' ') && scripts[i].every == SECOND)
			rules.revisit_us = 2 * SECOND;
		memset(&h, 0, sizeof h);
		struct track *t = track_create(&rules, &track_band, 1, note_over, note_touch, &h);
		play(t, i);
		track_destroy(t);
		const struct transmission *o = &h.over[0];
		if (h.overs != scripts[i].overs)
			fail_msg("%s: %d overs, want %d", scripts[i].why, h.overs, scripts[i].overs);
		if (far(o->first_us - EPOCH, scripts[i].first) ||
		    far(o->last_us - o->first_us, scripts[i].length))
			fail_msg("%s: from %lld ms for %lld ms", scripts[i].why,
				 (long long)(o->first_us - EPOCH) / MS,
				 (long long)(o->last_us - o->first_us) / MS);
		if (far(o->before_us, scripts[i].before) || far(o->after_us, scripts[i].after))
			fail_msg("%s: up to %lld us before and %lld after", scripts[i].why,
				 (long long)o->before_us, (long long)o->after_us);
		if (far(o->busy_us, scripts[i].busy))
			fail_msg("%s: busy %lld us", scripts[i].why, (long long)o->busy_us);
	}
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(overs_from_scripts),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
