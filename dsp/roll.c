#include "dsp/roll.h"

#include <math.h>
#include <stdlib.h>

#include "dsp/quiet.h"

#define NEAR_HZ   2500.0        /* the same: half of the finest step in common use       */
#define KEPT      64            /* looks remembered of each, the latest                  */
#define APART_US  5000000       /* silence that ends an exchange                         */
#define DRIFT_LOOKS 8           /* fewer show no movement                                */
#define LEAST_HZ  15.0          /* what a middle may be off however often it was measured */

struct entry {
	double  hz[KEPT], over[KEPT], at_s[KEPT];       /* rings */
	double  width, power;           /* sums  */
	double  mean;                   /* of hz */
	int     looks, exchanges;
	int64_t mono_us;
};

struct roll {
	struct entry entry[ROLL_MAX];
	int          n;
};

struct roll *roll_create(void)
{
	return calloc(1, sizeof(struct roll));
}

void roll_destroy(struct roll *r)
{
	free(r);
}

void roll_reset(struct roll *r)
{
	r->n = 0;
}

/* The entry a line belongs to; when the roll is full, the poorest makes room. */
static struct entry *place(struct roll *r, double hz)
{
	struct entry *near = NULL, *poorest = NULL;

	for (int i = 0; i < r->n; i++) {
		struct entry *e = &r->entry[i];
		if (fabs(e->mean - hz) < NEAR_HZ &&
		    (!near || fabs(e->mean - hz) < fabs(near->mean - hz)))
			near = e;
		if (!poorest || e->looks < poorest->looks)
			poorest = e;
	}
	if (near)
		return near;
	struct entry *e = r->n < ROLL_MAX ? &r->entry[r->n++] : poorest;
	*e = (struct entry){ .mean = hz };
	return e;
}

void roll_hear(struct roll *r, const struct line *line, int64_t mono_us)
{
	struct entry *e = place(r, line->hz);
	int kept = e->looks < KEPT ? e->looks + 1 : KEPT;

	e->hz[e->looks % KEPT] = line->hz;
	e->over[e->looks % KEPT] = line->over;
	e->at_s[e->looks % KEPT] = (double)mono_us * 1e-6;
	e->exchanges += e->looks == 0 || mono_us - e->mono_us > APART_US;
	e->looks++;
	e->mean += (line->hz - e->mean) / kept;
	e->width += line->width_hz;
	e->power += line->power;
	e->mono_us = mono_us;
}

static double median(double *x, int n)
{
	return quiet_quantile(x, n, 0.5);
}

/* Least squares through middles over time; those far from the median are others. */
static void fit_drift(const struct entry *e, int n, double far_hz, struct heard *h)
{
	double sum = 0, t = 0, tt = 0, tf = 0, f = 0, ff = 0;

	for (int i = 0; i < n; i++) {
		double x = e->at_s[i] - e->at_s[0], y = e->hz[i] - h->witness.hz;
		if (fabs(y) > far_hz)
			continue;
		sum++;
		t += x;
		f += y;
		tt += x * x;
		tf += x * y;
		ff += y * y;
	}
	double spread = tt - t * t / sum, rest;
	h->drift_error = HUGE_VAL;
	if (sum < DRIFT_LOOKS || !(spread > 1))
		return;
	h->drift_hz_s = (tf - t * f / sum) / spread;
	rest = ff - f * f / sum - h->drift_hz_s * h->drift_hz_s * spread;
	h->drift_error = sqrt((fmax(rest, 0) / (sum - 2) + LEAST_HZ * LEAST_HZ) / spread);
}

static struct heard summary(const struct entry *e)
{
	int n = e->looks < KEPT ? e->looks : KEPT;
	double x[KEPT];
	struct heard h = { .looks = e->looks, .exchanges = e->exchanges, .mono_us = e->mono_us };

	for (int i = 0; i < n; i++)
		x[i] = e->over[i];
	h.over_db = 10 * log10(median(x, n));
	for (int i = 0; i < n; i++)
		x[i] = e->hz[i];
	h.witness.hz = median(x, n);
	for (int i = 0; i < n; i++)
		x[i] = fabs(e->hz[i] - h.witness.hz);
	double deviation = 1.4826 * median(x, n);
	/* A median's standard error, by the median deviation (normal distribution). */
	h.witness.error_hz = hypot(1.2533 * deviation / sqrt(n), LEAST_HZ);
	fit_drift(e, n, 3 * deviation + LEAST_HZ, &h);
	h.width_hz = e->width / e->looks;
	h.power = e->power / e->looks;
	return h;
}

static int by_hz(const void *a, const void *b)
{
	const struct heard *x = a, *y = b;
	return (x->witness.hz > y->witness.hz) - (x->witness.hz < y->witness.hz);
}

int roll_call(struct roll *r, int looks, struct heard out[ROLL_MAX])
{
	int n = 0;

	for (int i = 0; i < r->n; i++)
		if (r->entry[i].looks >= looks)
			out[n++] = summary(&r->entry[i]);
	qsort(out, (size_t)n, sizeof *out, by_hz);
	return n;
}
