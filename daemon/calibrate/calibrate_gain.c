#include "daemon/calibrate/calibrate.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>

#include "dsp/quiet.h"
#include "dsp/roll.h"

#define LIVELY    8             /* hops where most was heard ...                        */
#define OTHERS    8             /* ... and as many more, spread over the rest           */
#define ROUNDS    10            /* looks at each hop and gain                           */
#define CLIPPED   0.001         /* share of samples at the end of the range             */
#define STEADY    0.8           /* a line there in so many of the looks is the same one */

/* Gains tried, where they lie between the tuner's least and most: on an R820T 7 dB
 * apart, from 15.7 to 43.4 dB. A source that takes any gain is tried at those. */
#define STEPS 5
static const double places[STEPS] = { 0.32, 0.46, 0.60, 0.735, 0.875 };
static const double usual_db[STEPS] = { 15.7, 22.9, 29.7, 36.4, 43.4 };

struct trial {
	int          hops[LIVELY + OTHERS];
	int          n;
	double       db[STEPS];                         /* gains tried, ascending       */
	int          steps;
	double       lsb[(LIVELY + OTHERS) * ROUNDS];   /* of the looks at one gain     */
	struct roll *roll;
	struct heard heard[STEPS][ROLL_MAX];
	int          n_heard[STEPS];
	struct gain_step step[STEPS];
};

/* The liveliest hops, then others at even distances. */
static void choose(struct trial *t, const int *lively, int hops)
{
	bool *taken = calloc((size_t)hops, sizeof *taken);

	for (t->n = 0; taken && t->n < LIVELY && t->n < hops; t->n++) {
		int best = -1;
		for (int i = 0; i < hops; i++)
			if (!taken[i] && (best < 0 || lively[i] > lively[best]))
				best = i;
		taken[best] = true;
		t->hops[t->n] = best;
	}
	for (int k = 0; taken && k < OTHERS; k++) {
		int i = (2 * k + 1) * hops / (2 * OTHERS);
		if (taken[i])
			continue;
		taken[i] = true;
		t->hops[t->n++] = i;
	}
	free(taken);
}

static void choose_gains(struct trial *t, const struct gain_steps *has)
{
	for (int i = 0; i < STEPS; i++) {
		double db = usual_db[i];
		if (has->n > 0) {
			double low = has->tenth_db[0], high = has->tenth_db[has->n - 1];
			db = gain_steps_nearest(has, (int)lround(low + places[i] * (high - low))) /
			     10.0;
		}
		if (t->steps == 0 || db > t->db[t->steps - 1])
			t->db[t->steps++] = db;
	}
}

static int try_gain(struct trial *t, struct listening *l, int at, double ppm, struct fault *why)
{
	int looks = 0, clipped = 0;

	listening_set(l, ppm, (int)lround(t->db[at] * 10));
	int got = listening_learn(l, why);
	roll_reset(t->roll);
	for (int i = 0; i < t->n * ROUNDS && got > 0; i++) {
		struct glimpse g;
		got = listening_look(l, t->hops[i % t->n], &g, why);
		if (got == SOURCE_DEAF)
			got = SOURCE_BLOCK;
		else if (got == SOURCE_BLOCK) {
			for (int k = 0; k < g.lines; k++)
				roll_hear(t->roll, &g.line[k], g.look->mono_us);
			clipped += g.look->clipped > CLIPPED;
			t->lsb[looks++] = g.noise_lsb;
		}
	}
	if (got != SOURCE_BLOCK)
		return got;
	t->n_heard[at] = roll_call(t->roll, (int)(STEADY * ROUNDS), t->heard[at]);
	t->step[at] =
		(struct gain_step){ t->db[at], looks ? quiet_quantile(t->lsb, looks, 0.5) : 1e-3,
				    looks ? (double)clipped / looks : 0, looks ? looks : 1 };
	return got;
}

static void print_table(const struct trial *t, const struct gain_advice *a)
{
	printf("\ngain, tried at %d places of the dial\n"
	       "     gain  noise in   of which  it rose   looks   reading\n"
	       "           the        from the  for each  that\n"
	       "           converter  outside   dB        clip\n", t->n);
	for (int i = 0; i < t->steps; i++) {
		const struct gain_step *s = &t->step[i];
		char rise[16] = "-";
		if (i > 0)
			snprintf(rise, sizeof rise, "%.2f dB", a->rise[i]);
		printf("  %4.1f dB  %4.2f steps %+5.1f dB   %7s  %5.1f %%  %s\n", s->gain_db,
		       s->noise_lsb, a->over_db[i], rise, 100 * s->clipped,
		       gain_clips(t->step, i) ? "overloads" :
		       a->over_db[i] < GAIN_OVER_DB ?
						"deaf: the converter's own noise is too near" :
		       s->noise_lsb < GAIN_LSB	    ? "coarse: weak signals get too few steps" :
		       s->gain_db > a->gain_db + 10 ? "more than is of use" :
						      "good");
	}
	printf("  from the outside: how far what comes through the gain stands over the converter's own\n"
	       "  noise of %.2f steps\n",
	       a->own_lsb);
}

/* Lines that rise by more than the gain does are mixed in the tuner. */
static void print_steep(const struct trial *t)
{
	int steep = 0;

	for (int i = 1; i < t->steps; i++)
		for (int k = 0; k < t->n_heard[i]; k++) {
			const struct heard *h = &t->heard[i][k], *low = NULL;
			for (int m = 0; m < t->n_heard[i - 1] && !low; m++)
				if (fabs(t->heard[i - 1][m].witness.hz - h->witness.hz) < 2000)
					low = &t->heard[i - 1][m];
			if (!low)
				continue;
			double slope = gain_slope(low->power, h->power, t->db[i] - t->db[i - 1]);
			if (slope < GAIN_STEEP)
				continue;
			printf("  %.4f MHz rises by %.1f dB for each dB from %.1f to %.1f dB: made in an "
			       "overloaded tuner\n",
			       h->witness.hz * 1e-6, slope, t->db[i - 1], t->db[i]);
			steep++;
		}
	if (steep == 0)
		printf("  no steady line rises by more than the gain does: no sign of mixing\n");
}

int calibrate_gain(const struct calibrate *c, struct listening *l, double ppm, const int *lively,
		   struct gain_advice *advice, struct fault *why)
{
	const struct gain_steps *gains = &c->on.about->gains;
	struct trial *t = calloc(1, sizeof *t);
	int got = SOURCE_FAULT;

	if (!t || !(t->roll = roll_create())) {
		fault_set(why, FAULT_FATAL, "no memory to try gains with");
		goto done;
	}
	choose(t, lively, c->on.hops->n);
	choose_gains(t, gains);
	if (t->steps < 2) {
		*advice = (struct gain_advice){ .gain_db = c->station->gain_db, .limit = GAIN_ONE };
		got = SOURCE_BLOCK;
		goto done;
	}
	for (int i = 0; i < t->steps; i++) {
		got = try_gain(t, l, i, ppm, why);
		if (got != SOURCE_BLOCK)
			goto done;
	}
	*advice = gain_advise(t->step, t->steps);
	advice->gain_db = gain_steps_nearest(gains, (int)lround(advice->gain_db * 10)) / 10.0;
	print_table(t, advice);
	print_steep(t);
done:
	if (t)
		roll_destroy(t->roll);
	free(t);
	return got;
}
