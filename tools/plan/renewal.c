#include "tools/plan/renewal.h"

#include <math.h>
#include <string.h>

/* States: the phases of an over, then these two. */
enum { GAP = 0, IDLE, SILENT };
#define STATES (RENEWAL_PHASES + SILENT)
#define TINY   1e-300
#define NEGLIGIBLE 1e-13        /* of a chance near 1 */

/* Times between looks in sixteenths of the usual, up to 64 of it by powers of two. */
#define POWERS 11
#define LONGEST ((1 << POWERS) - 1)

struct matrix {
	double at[STATES][STATES];
};

struct chain {
	int           on, n;            /* phases; states                          */
	double        leave, next, wake;/* a phase; a gap; silence, 1/s            */
	double        more, joins, step_s;      /* joins: chance of a gap below the hang */
	struct matrix step[POWERS];     /* what becomes of it in 1, 2, 4 ... of these */
	int           powers;           /* so many are made                        */
};

/* ---- the chain ---- */

/* out = a b, row by row and as long as rows can be: compilers make few instructions of that. */
static void times(int n, const double *a, const struct matrix *b, double *out)
{
	double sum[STATES] = { 0 };

	for (int k = 0; k < n; k++)
		for (int j = 0; j < STATES; j++)
			sum[j] += a[k] * b->at[k][j];
	memcpy(out, sum, sizeof sum);
}

static void multiply(int n, const struct matrix *a, const struct matrix *b, struct matrix *out)
{
	for (int i = 0; i < n; i++)
		times(n, a->at[i], b, out->at[i]);
}

/* exp(q t): Taylor of what is halved until it is small, then squared as often. */
static void exponential(int n, const struct matrix *q, double t, struct matrix *out)
{
	struct matrix term = { 0 }, x = { 0 }, y = { 0 };
	double most = 0;
	int halved = 0;

	for (int i = 0; i < n; i++)
		most = fmax(most, -q->at[i][i] * t);
	for (; most > 0.5; most /= 2)
		halved++;
	t = ldexp(t, -halved);
	*out = term;
	for (int i = 0; i < n; i++)
		for (int j = 0; j < n; j++) {
			x.at[i][j] = q->at[i][j] * t;
			out->at[i][j] = term.at[i][j] = i == j;
		}
	for (int order = 1; order <= 10; order++) {
		multiply(n, &term, &x, &y);
		for (int i = 0; i < n; i++)
			for (int j = 0; j < n; j++) {
				term.at[i][j] = y.at[i][j] / order;
				out->at[i][j] += term.at[i][j];
			}
	}
	while (halved-- > 0) {
		multiply(n, out, out, &y);
		*out = y;
	}
}

double renewal_joins(const struct renewal *r)
{
	return r->more * (1 - exp(-r->hang_s / r->gap_s));
}

int renewal_looks(double s, double every_s)
{
	return (int)(s / every_s + 0.75);
}

static void chain_make(const struct renewal *r, double every_s, struct chain *c)
{
	struct matrix q = { 0 };
	int on = r->phases, gap = on + GAP, idle = on + IDLE;

	c->on = on;
	c->n = on + SILENT;
	c->leave = on / r->on_s;
	c->next = 1 / r->gap_s;
	c->wake = 1 / r->idle_s;
	c->more = r->more;
	c->joins = renewal_joins(r);
	c->step_s = every_s / RENEWAL_PARTS;
	for (int i = 0; i < on; i++)
		q.at[i][i] = -c->leave;
	for (int i = 0; i + 1 < on; i++)
		q.at[i][i + 1] = c->leave;
	q.at[on - 1][gap] = c->leave * r->more;
	q.at[on - 1][idle] = c->leave * (1 - r->more);
	q.at[gap][0] = c->next, q.at[gap][gap] = -c->next;
	q.at[idle][0] = c->wake, q.at[idle][idle] = -c->wake;
	exponential(c->n, &q, c->step_s, &c->step[0]);
	c->powers = 1;
}

static void pass(struct chain *c, double *a, double s)
{
	double steps = s / c->step_s + 0.5;
	int left = steps < LONGEST ? (int)steps : LONGEST;

	for (int power = 0; left > 0; power++, left >>= 1) {
		if (power == c->powers) {
			multiply(c->n, &c->step[power - 1], &c->step[power - 1], &c->step[power]);
			c->powers++;
		}
		if (left & 1)
			times(c->n, a, &c->step[power], a);
	}
}

/* Which phase, at a look, when s ago there was long silence; what came and went in
 * between, and that an over of the same exchange did, is in it. */
static void afresh(struct chain *c, double *a, double s)
{
	a[c->on + IDLE] = 1;
	pass(c, a, s);
	memset(a + c->on, 0, SILENT * sizeof *a);
}

/* All phases are left at one rate, so their number in s is Poisson; the last leads to silence
 * that ends the over, or through less of it back to the first. */
static void stayed_on(const struct chain *c, double *a, double s)
{
	double x = c->leave * s, b[STATES] = { 0 };

	if (x > 500) {                          /* exp(-x) would vanish */
		stayed_on(c, a, s / 2);
		stayed_on(c, a, s / 2);
		return;
	}
	/* Short stays need few terms: past the mean each is a fraction of the one before. */
	double term = exp(-x);
	for (int i = 0; i < x || term > NEGLIGIBLE; i++) {
		double last = a[c->on - 1];
		for (int j = 0; j < c->on; j++)
			b[j] += term * a[j];
		for (int j = c->on - 1; j > 0; j--)
			a[j] = a[j - 1];
		a[0] = last * c->joins;
		term *= x / (i + 1);
	}
	memcpy(a, b, sizeof b);
}

static void stayed_off(const struct chain *c, double *a, double s)
{
	a[c->on + GAP] *= exp(-c->next * s);
	a[c->on + IDLE] *= exp(-c->wake * s);
	memset(a, 0, (size_t)c->on * sizeof *a);
}

/* Looks up to s later, each of which showed it off. */
static void looked_off(struct chain *c, double *a, double s)
{
	double every_s = c->step_s * RENEWAL_PARTS;
	int n = s > 0.02 * every_s ? (int)fmax(renewal_looks(s, every_s), 1) : 0;

	for (int i = 0; i < n; i++) {
		pass(c, a, s / n);
		memset(a, 0, (size_t)c->on * sizeof *a);
	}
}

/* The mean over what the watched part may have lasted, in so many parts of it. */
#define WATCHED 4

static void partly_watched(struct chain *c, double *a, const struct glimpse *g)
{
	double all_s = (double)g->after_s, range_s = (double)g->most_s - (double)g->least_s;
	double sum[STATES] = { 0 };
	int parts = range_s > 0 ? WATCHED : 1;

	for (int i = 0; i < parts; i++) {
		double b[STATES], s = (double)g->least_s + range_s * (i + 0.5) / parts;
		memcpy(b, a, sizeof b);
		if (g->what == GLIMPSE_LEFT)
			stayed_off(c, b, s);
		looked_off(c, b, all_s - s);
		if (g->what == GLIMPSE_MET)
			stayed_off(c, b, s);
		for (int j = 0; j < c->n; j++)
			sum[j] += b[j] / parts;
	}
	memcpy(a, sum, sizeof sum);
}

static void rose(const struct chain *c, double *a)
{
	double rate = a[c->on + GAP] * c->next + a[c->on + IDLE] * c->wake;

	memset(a, 0, STATES * sizeof *a);
	a[0] = rate;
}

static void fell(const struct chain *c, double *a)
{
	double rate = a[c->on - 1] * c->leave;

	memset(a, 0, STATES * sizeof *a);
	a[c->on + GAP] = rate * (c->more - c->joins);
	a[c->on + IDLE] = rate * (1 - c->more);
}

/* A chain begins with nothing in any state. */
static void see(struct chain *c, double *a, const struct glimpse *g)
{
	double s = (double)g->after_s;

	switch (g->what) {
	case GLIMPSE_AFRESH:
		afresh(c, a, s);
		break;
	case GLIMPSE_BEGAN:
		a[0] = 1;
		break;
	case GLIMPSE_ON:
		pass(c, a, s);
		memset(a + c->on, 0, SILENT * sizeof *a);
		break;
	case GLIMPSE_OFF:
		pass(c, a, s);
		memset(a, 0, (size_t)c->on * sizeof *a);
		break;
	case GLIMPSE_STAYED_ON:
		stayed_on(c, a, s);
		break;
	case GLIMPSE_STAYED_OFF:
		stayed_off(c, a, s);
		break;
	case GLIMPSE_LEFT:
	case GLIMPSE_MET:
		partly_watched(c, a, g);
		break;
	case GLIMPSE_ROSE:
		rose(c, a);
		break;
	case GLIMPSE_FELL:
		fell(c, a);
		break;
	}
}

/* One chain, from its first glimpse to before the next one's. Logarithms are dear: the chances
 * are multiplied until the product is so small. */
#define SMALL 1e-100

static int follow(struct chain *c, const struct glimpse *g, int n, double *log_of)
{
	double a[STATES] = { 0 }, all = 0, was = 1;
	int i = 0;

	*log_of = 0;
	do {
		see(c, a, &g[i]);
		all = 0;
		for (int j = 0; j < STATES; j++)        /* 0 where there are fewer */
			all += a[j];
		if (i > 0 && all > SMALL) {
			was = all;
			continue;
		}
		/* What the first tells of itself does not count. */
		if (i > 0)
			*log_of += log(was) + log(fmax(all / was, TINY));
		for (int j = 0; j < c->n; j++)
			a[j] /= fmax(all, TINY);
		was = 1;
	} while (++i < n && g[i].what > GLIMPSE_BEGAN);
	*log_of += log(was);
	return i;
}

double renewal_likelihood(const struct renewal *r, const struct glimpse *g, int n, double every_s)
{
	struct chain c;
	double sum = 0, of_chain;

	chain_make(r, every_s, &c);
	for (int i = 0, taken; i < n; i += taken) {
		taken = follow(&c, &g[i], n - i, &of_chain);
		sum += (1 + g[i].again) * of_chain;
	}
	return sum;
}
