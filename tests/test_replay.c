/* The receiver that judges others, judged itself: by hand, and against figures simulated apart. */
#include "tests/test.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "dsp/dice.h"
#include "tests/replay.h"

#define SEED 20261127

/* ---- by hand ---- */

/* Two seats 0 and 1, a look a second; overs of both, off_s 0 ends them. */
static const struct hand {
	const char *why;
	struct sent sent[2][3];
	double      delay_s;
	bool        priority;           /* seat 1, every 4 s */
	int         heard[2];
	double      heard_s[2];
} hands[] = {
	{ "heard from the next look on", { { { 10.5, 15, 20 } } }, 0, false, { 1, 0 }, { 3, 0 } },
	{ "over before its seat comes round", { { { 10.5, 11.75, 20 } } }, 0, false, { 0, 0 }, { 0, 0 } },
	{ "below the squelch", { { { 10.5, 15, 5 } } }, 0, false, { 0, 0 }, { 0, 0 } },
	{ "missed while it stands on the other", { { { 10, 20, 20 } }, { { 12, 15, 20 } } }, 2, false, { 1, 0 },
	  { 10, 0 } },
	{ "a reply in the delay is heard whole", { { { 10, 12, 20 }, { 13.5, 16, 20 } } }, 2, false, { 2, 0 },
	  { 4.5, 0 } },
	{ "after it with the next look", { { { 10, 12, 20 }, { 13.5, 16, 20 } } }, 0, false, { 2, 0 }, { 4, 0 } },
	{ "what may not wait cuts in", { { { 10, 30, 20 } }, { { 13, 18, 20 } } }, 2, true, { 1, 1 }, { 13, 2 } },
};

static void by_hand(void **state)
{
	(void)state;
	for (size_t i = 0; i < sizeof hands / sizeof hands[0]; i++) {
		const struct hand *h = &hands[i];
		struct sent sent[2][3];
		struct sender_told who[2] = { { .role = "emitter", .hz = 150e6, .sent = sent[0] },
					      { .role = "emitter", .hz = 151e6, .sent = sent[1] } };
		const struct truth t = { who, 2, 0, 60 };
		const struct tuned seat[2] = { { 150e6, 7500, h->delay_s }, { 151e6, 7500, h->delay_s } };
		const struct replayer r = { seat, 2, 1, h->priority ? &seat[1] : NULL, 4, 6 };
		struct replayed all = { 0 }, each[2] = { 0 };
		memcpy(sent, h->sent, sizeof sent);
		for (int k = 0; k < 2; k++)
			while (who[k].n < 3 && sent[k][who[k].n].off_s > 0)
				who[k].n++;
		replay(&t, &r, &all, each);
		for (int k = 0; k < 2; k++)
			/* Within a look. */
			if (each[k].heard != h->heard[k] || fabs(each[k].heard_s - h->heard_s[k]) > 1.1)
				fail_msg("%s: seat %d heard %d overs, %.2f s, want %d, %g", h->why, k, each[k].heard,
					 each[k].heard_s, h->heard[k], h->heard_s[k]);
	}
}

/* ---- many alike ---- */

/* Overs of 4 s and gaps of 2 s, both exponential, four in an exchange on the average, 25 channels a second:
 * shares of overs heard and of exchanges met, from a simulation of 200,000 s written for another
 * purpose and kept by the trade's notes; given to whole per cents. */
static const struct {
	int    seats;
	double load, delay_s;
	double heard, met;
} told[] = {
	{ 20, 0.11, 0, 0.85, 0.95 }, { 20, 0.11, 2, 0.88, 0.93 }, { 20, 0.11, 4, 0.88, 0.90 },
	{ 40, 0.27, 2, 0.76, 0.86 }, { 40, 0.89, 2, 0.53, 0.69 }, { 100, 0.67, 2, 0.51, 0.68 },
};

#define LONG_S 200000.0

static void talk(struct dice *d, double exchanges_s, struct sender_told *to)
{
	int room = 64;

	to->sent = calloc((size_t)room, sizeof *to->sent);
	for (double at = dice_exponential(d, 1 / exchanges_s); at < LONG_S; at += dice_exponential(d, 1 / exchanges_s))
		for (int k = dice_geometric(d, 4); k > 0 && at < LONG_S; k--) {
			double off = at + dice_exponential(d, 4);
			if (to->n == room)
				to->sent = realloc(to->sent, (size_t)(room *= 2) * sizeof *to->sent);
			assert_non_null(to->sent);
			to->sent[to->n++] = (struct sent){ at, off, 20 };
			at = off + dice_exponential(d, 2);
		}
}

static void as_simulated_elsewhere(void **state)
{
	(void)state;
	for (size_t i = 0; i < sizeof told / sizeof told[0]; i++) {
		struct sender_told who[100] = { 0 };
		struct tuned seat[100];
		const struct truth t = { who, told[i].seats, 0, LONG_S };
		const struct replayer r = { seat, told[i].seats, 0.04, NULL, 0, 6 };
		struct replayed all = { 0 };
		struct dice d = dice_of(SEED, i);
		for (int k = 0; k < told[i].seats; k++) {
			who[k] = (struct sender_told){ .role = "emitter", .hz = 150e6 + 50e3 * k };
			seat[k] = (struct tuned){ who[k].hz, 7500, told[i].delay_s };
			talk(&d, told[i].load / told[i].seats / 4 / 4, &who[k]);
		}
		replay(&t, &r, &all, NULL);
		double heard = (double)all.heard / all.overs, met = (double)all.met / all.exchanges;
		print_message("%3d channels, load %.2f, delay %g s: heard %.3f (%.2f), met %.3f (%.2f)\n", told[i].seats,
			      told[i].load, told[i].delay_s, heard, told[i].heard, met, told[i].met);
		if (fabs(heard - told[i].heard) > 0.03 || fabs(met - told[i].met) > 0.06)
			fail_msg("seed %d: otherwise than simulated elsewhere", SEED);
		for (int k = 0; k < told[i].seats; k++)
			free(who[k].sent);
	}
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(by_hand),
		cmocka_unit_test(as_simulated_elsewhere),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
