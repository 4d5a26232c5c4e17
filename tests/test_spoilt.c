#include "tests/test.h"

#include <string.h>

#include "dsp/click.h"
#include "tests/painted.h"

#define FIRST 40                /* bins 40 .. 439 are judged: 8 places of 50 */
#define BINS  400
#define RISES 4

/* Bins first .. last in slices from .. to have so many times the noise that they had. */
struct rise {
	int    first, last, from, to;
	double times;
};

/* In each place the lower 30 of 50 bins are in use in slices 2 to 9. */
#define BUSY { 0, 0, 2, 9, 1e3 }

/* All but the bins of a strong one. */
#define AROUND(from, to, times) { 0, 199, from, to, times }, { 211, 479, from, to, times }

#define EVERYWHERE(from, to, times) { 0, PAINTED_BINS - 1, from, to, times }

/* One sign a slice. '.': nothing, 'x': spoilt, '+': not, but its noise has risen. */
static const struct {
	const char *why;
	struct rise rise[RISES];
	double      clipped, quantum;   /* quantum: over the noise of all bins */
	const char *want;
} rows[] = {
	{ "even noise", { { 0 } }, 0, 0, "............" },
	{ "twice the noise and a bit", { EVERYWHERE(3, 5, 2.1) }, 0, 0, "...xxx......" },
	{ "less than twice is told, not left out", { EVERYWHERE(3, 5, 1.9) }, 0, 0, "...+++......" },
	{ "a little is how noise scatters", { EVERYWHERE(3, 5, 1.14) }, 0, 0, "............" },
	{ "more than that is told", { EVERYWHERE(3, 5, 1.16) }, 0, 0, "...+++......" },
	{ "the first slice", { EVERYWHERE(0, 0, 9) }, 0, 0, "x..........." },
	{ "the last slice", { EVERYWHERE(11, 11, 9) }, 0, 0, "...........x" },
	{ "two clicks", { EVERYWHERE(1, 2, 9), EVERYWHERE(8, 9, 3) }, 0, 0, ".xx.....xx.." },
	{ "its ends", { EVERYWHERE(4, 5, 9), EVERYWHERE(3, 3, 1.3), EVERYWHERE(6, 7, 1.3) }, 0, 0,
	  "...xxxxx...." },
	{ "what is no end of it", { EVERYWHERE(4, 5, 9), EVERYWHERE(3, 3, 1.2), EVERYWHERE(6, 6, 1.2) }, 0, 0,
	  "...+xx+....." },
	{ "apart from it", { EVERYWHERE(4, 5, 9), EVERYWHERE(8, 8, 1.3) }, 0, 0, "....xx..+..." },
	{ "two slices without are enough", { EVERYWHERE(2, 11, 9) }, 0, 0, "..xxxxxxxxxx" },
	{ "one is not", { EVERYWHERE(1, 11, 9) }, 0, 0, "............" },
	{ "all of the look is no click", { EVERYWHERE(0, 11, 9) }, 0, 0, "............" },
	{ "half of the window is none", { { 0, 239, 3, 5, 9 } }, 0, 0, "............" },
	{ "all but one of eight places", { { 90, 479, 3, 5, 9 } }, 0, 0, "...xxx......" },
	{ "all but two", { { 140, 479, 3, 5, 9 } }, 0, 0, "............" },
	{ "3.9 times as much on one side", { { 0, 239, 3, 5, 3 }, { 240, 479, 3, 5, 8.8 } }, 0, 0, "...xxx......" },
	{ "4.1 times as much is keying", { { 0, 239, 3, 5, 3 }, { 240, 479, 3, 5, 9.2 } }, 0, 0, "............" },
	{ "on three fifths of the window overs come and go", { EVERYWHERE(7, 8, 1), BUSY }, 0, 0, "............" },
	{ "a click between them", { EVERYWHERE(7, 8, 3), BUSY }, 0, 0, ".......xx..." },
	{ "a passband that falls by 20 dB", { { 0, 239, 0, 11, 100 }, EVERYWHERE(3, 5, 2.1) }, 0, 0, "...xxx......" },
	{ "four places that hear are enough", { { 0, 239, 0, 11, 1e-38 }, EVERYWHERE(3, 5, 9) }, 0, 0, "...xxx......" },
	{ "three are not", { { 0, 289, 0, 11, 1e-38 }, EVERYWHERE(3, 5, 9) }, 0, 0, "............" },
	{ "a strong one's key goes down", { { 200, 210, 3, 5, 4e5 }, EVERYWHERE(3, 5, 3) }, 0, 0, "............" },
	{ "one that is on all the time", { { 200, 210, 0, 11, 4e5 }, AROUND(3, 5, 3) }, 0, 0, "...xxx......" },
	{ "a weaker one is no excuse", { { 200, 210, 3, 5, 50 }, EVERYWHERE(3, 5, 3) }, 0, 0, "...xxx......" },
	{ "the converter's own steps come and go", { EVERYWHERE(3, 5, 3) }, 0, 1.6, "............" },
	{ "noise well over the steps", { EVERYWHERE(3, 5, 3) }, 0, 1.4, "...xxx......" },
	{ "one too strong for the converter", { { 200, 209, 0, 11, 5.1e7 }, AROUND(3, 5, 3) }, 0.002, 0,
	  "............" },
	{ "strong, and not clipped", { { 200, 209, 0, 11, 5.1e7 }, AROUND(3, 5, 3) }, 0.0009, 0,
	  "...xxx......" },
	{ "clipped, and not strong", { { 200, 209, 0, 11, 4.9e7 }, AROUND(3, 5, 3) }, 0.002, 0,
	  "...xxx......" },
};

static void raise(struct painted *p, const struct rise *r)
{
	bool busy = r->last == 0;

	for (int s = 0; s < PAINTED_SLICES; s++)
		for (int k = busy ? FIRST : r->first; k <= (busy ? FIRST + BINS - 1 : r->last); k++) {
			if (busy && (k - FIRST) % 50 >= 30)
				continue;
			/* Even when they are off, they are not the quietest. */
			p->slice[s][k] *= busy ? 1.01f : 1;
			if (s >= r->from && s <= r->to)
				p->slice[s][k] *= (float)r->times;
		}
}

static void which_slices_are_spoilt(void **state)
{
	struct painted p;
	(void)state;

	painted_open(&p);
	struct click *c = click_create(&p.look, FIRST, BINS);
	assert_non_null(c);
	for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
		char got[PAINTED_SLICES + 1] = "";
		painted_clear(&p);
		for (int r = 0; r < RISES && rows[i].rise[r].times > 0; r++)
			raise(&p, &rows[i].rise[r]);
		p.look.clipped = rows[i].clipped;
		p.look.quantum = rows[i].quantum * PAINTED_NOISE * PAINTED_BINS;
		bool any = click_mark(c, &p.look);
		for (int s = 0; s < PAINTED_SLICES; s++)
			got[s] = p.look.spoilt[s] ? 'x' : p.look.lift[s] > 1 ? '+' : '.';
		if (strcmp(got, rows[i].want) || any != (strchr(got, 'x') != NULL))
			fail_msg("%s: %s, want %s; told %d", rows[i].why, got, rows[i].want, any);
	}
	click_destroy(c);
	click_destroy(NULL);
	painted_close(&p);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(which_slices_are_spoilt),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
