#include "dsp/spacing.h"

#include <math.h>

#define GRID_THIRDS 1875        /* 625 Hz: every raster in use begins on a multiple       */
#define COMMON_THIRDS 7500      /* 2.5 kHz: most do                                       */
#define ODDS_MOST   1e9
#define LEAST       3           /* centres to be sure: through two a raster always goes  */
#define AGREES      2.0         /* likelier than chance by so much: on a channel          */
#define SHIFT_PPM   0.4         /* what the correction may have left, one sigma           */
#define SHIFTS      7           /* tried, from -3 to 3 sigma                              */
/* Share of centres that keep to no raster. Of eight 5 kHz channels seven lie on one raster of
 * 15 kHz in 0.7 % of all tries: at 0.01 that and a stray was likelier. */
#define STRAY       0.003

/* In thirds of a hertz. */
static const int64_t steps[] = { 15000, 18750, 22500, 25000, 30000, 37500, 45000, 60000, 75000 };
#define STEPS (int)(sizeof steps / sizeof steps[0])

/* How usual an offset is, beside others of its step (common practice: nearly all
 * rasters are whole multiples of their step, some are shifted by half a step or by
 * another raster's). */
#define USUAL_WHOLE  8.0
#define USUAL_COMMON 1.0
#define USUAL_OTHER  0.05

#define RANKS_MOST 256

/* One spacing under trial. */
struct rank {
	struct spacing is;
	double         weight;  /* beforehand; one step's add up to 1 */
	double         log;     /* of the marginal likelihood with it */
};

struct spacing spacing_of(const struct raster *r)
{
	int64_t step = r->step.thirds;

	return (struct spacing){ r->step, { (r->first.thirds % step + step) % step } };
}

bool spacing_holds(const struct spacing *outer, const struct spacing *inner)
{
	return inner->step.thirds % outer->step.thirds == 0 &&
	       (inner->offset.thirds - outer->offset.thirds) % outer->step.thirds == 0;
}

double spacing_beside(const struct spacing *s, double hz)
{
	double step = freq_to_hz(s->step), off = hz - freq_to_hz(s->offset);

	return off - step * rint(off / step);
}

static bool same(const struct spacing *a, const struct spacing *b)
{
	return a->step.thirds == b->step.thirds && a->offset.thirds == b->offset.thirds;
}

static double usual(int64_t step, int64_t offset)
{
	if (offset == 0)
		return USUAL_WHOLE;
	return offset % COMMON_THIRDS == 0 || 2 * offset == step ? USUAL_COMMON : USUAL_OTHER;
}

/* All offsets of a step; the one asked about is as usual as any. */
static int list_step(int64_t step, const struct spacing *asked, struct rank *out)
{
	double sum = 0;
	bool listed = asked->step.thirds != step;
	int n = 0;

	for (int64_t offset = 0; offset < step; offset += GRID_THIRDS) {
		struct spacing s = { { step }, { offset } };
		bool it = same(&s, asked);
		out[n++] = (struct rank){ s, it ? USUAL_WHOLE : usual(step, offset), 0 };
		listed |= it;
	}
	if (!listed)
		out[n++] = (struct rank){ *asked, USUAL_WHOLE, 0 };
	for (int i = 0; i < n; i++)
		sum += out[i].weight;
	for (int i = 0; i < n; i++)
		out[i].weight /= sum;
	return n;
}

/* The first is that there is no raster. */
static int list_all(const struct spacing *asked, struct rank *out)
{
	bool listed = false;
	int n = 0;

	out[n++] = (struct rank){ .weight = 1 };
	for (int s = 0; s < STEPS; s++) {
		n += list_step(steps[s], asked, out + n);
		listed |= steps[s] == asked->step.thirds;
	}
	if (!listed)
		out[n++] = (struct rank){ *asked, 1, 0 };
	return n;
}

/* Log of how well it explains all centres, given the spread and the common error. */
static double score(const struct spacing *s, const struct witness *witness, int n, double shift,
		    double spread)
{
	double step = freq_to_hz(s->step);
	struct comb_log all = COMB_LOG(STRAY);

	for (int i = 0; i < n; i++)
		comb_add(&all, comb_density(spacing_beside(s, witness[i].hz * (1 + shift * 1e-6)),
					    comb_sigma_hz(&witness[i], spread), step));
	return comb_total(&all);
}

/* Over all spreads and common errors. */
static double marginal(const struct spacing *s, const struct witness *witness, int n)
{
	double part[COMB_SPREADS * SHIFTS], top = -HUGE_VAL, sum = 0, all = 0;
	int k = 0;

	for (int i = 0; i < SHIFTS; i++) {
		double z = 6.0 * i / (SHIFTS - 1) - 3;
		for (int p = 0; p < COMB_SPREADS; p++) {
			part[k] = score(s, witness, n, z * SHIFT_PPM, comb_spread_ppm[p]) -
				  0.5 * z * z;
			all += exp(-0.5 * z * z);
			top = fmax(top, part[k++]);
		}
	}
	while (k-- > 0)
		sum += exp(part[k] - top);
	return top + log(sum / all);
}

/* The best by its log, other than `but`. */
static int best_of(const struct rank *r, int n, int but)
{
	int best = -1;

	for (int i = 0; i < n; i++)
		if (i != but && (best < 0 || r[i].log > r[best].log))
			best = i;
	return best;
}

static int count(const struct spacing *s, const struct witness *witness, int n)
{
	double step = freq_to_hz(s->step);
	int agree = 0;

	for (int i = 0; i < n; i++) {
		double most = 0;
		for (int p = 0; p < COMB_SPREADS; p++)
			most = fmax(most,
				    comb_density(spacing_beside(s, witness[i].hz),
						 comb_sigma_hz(&witness[i], comb_spread_ppm[p]),
						 step));
		agree += most >= AGREES;
	}
	return agree;
}

static void weigh(const struct rank *r, int n, int heard, const struct spacing *asked,
		  struct spacing_verdict *out)
{
	int best = best_of(r, n, -1), rival;
	bool none = best == 0;
	double others = 0;

	if (none)
		best = best_of(r, n, 0);
	rival = best_of(r, n, best);
	out->best = r[best].is;
	out->rival = r[rival].is;
	out->asked_odds = 1;
	for (int i = 0; i < n; i++) {
		if (i != best)
			others += exp(fmin(r[i].log - r[best].log, 700));
		if (i != best && same(&r[i].is, asked))
			out->asked_odds = fmin(exp(fmin(r[best].log - r[i].log, 700)), ODDS_MOST);
	}
	out->odds = fmin(1 / fmax(others, 1e-300), ODDS_MOST);
	out->word = none ? SPACING_NONE :
		heard >= LEAST && out->odds >= SPACING_ODDS ? SPACING_SURE : SPACING_NOT_SURE;
}

void spacing_judge(const struct witness *witness, int n, const struct spacing *asked,
		   struct spacing_verdict *out)
{
	struct rank r[RANKS_MOST];

	*out = (struct spacing_verdict){ .best = *asked, .odds = 1, .asked_odds = 1 };
	if (n < 2)
		return;
	int ranks = list_all(asked, r);
	for (int i = 0; i < ranks; i++)
		r[i].log = log(r[i].weight) + (i ? marginal(&r[i].is, witness, n) : 0);
	weigh(r, ranks, n, asked, out);
	out->agree = count(&out->best, witness, n);
}
