#include "daemon/suspicion.h"

#include <math.h>
#include <string.h>

#include "daemon/dongle/synthesiser.h"

#define SAME_HZ     1500.0      /* two findings so near are one line, on whatever channel  */
#define FOLLOW      0.1         /* of a new look in the means                              */
#define CRYSTAL_NEAR_HZ 1500.0  /* a landing is not known better before it is challenged   */
#define STRONG_DB   (-30.0)     /* dBFS, from where a tuner may mix; overload levels all   */
#define PARENT_DB   6.0         /* those that mix are so far above their product: clipping */
				/* leaves little of what they are above it         */
#define STRONGER_DB 15.0        /* what mirrors or folds is so far above its ghost         */
#define MIX_HZ      2000.0      /* from where the sum says, and half the parents' widths   */
#define STRONG_MOST 24
#define PARENT_US   10000000    /* a parent was seen so lately                             */
#define ON_US       10000000    /* a line not seen for so long is off                      */
#define ALWAYS      0.95
#define ALWAYS_LOOKS 20
#define AGAIN_LOOKS 16          /* reasons are thought over so often                       */
#define NEVER_US    (INT64_MIN / 2)

/* ---- the list ---- */

static struct line_heard *line_of(struct lines_heard *h, const struct finding *f, double hz)
{
	for (int i = 0; i < h->n; i++) {
		struct line_heard *l = &h->line[i];
		if ((l->band == f->band && l->channel == f->channel) ||
		    fabs(l->proof.hz - hz) <= SAME_HZ)
			return l;
	}
	return NULL;
}

/* The verdict on a line's channel; BLIND where the hop does not judge it. */
static enum verdict verdict_on(const struct line_heard *l, const struct hop *hop,
			       const struct judged *j)
{
	int seat = 0;

	for (int i = 0; i < hop->n_spans; seat += hop->spans[i].count, i++) {
		const struct span *s = &hop->spans[i];
		int at = l->channel - s->first;
		if (s->band == l->band && at >= 0 && at < s->count)
			return j->verdict[seat + at];
	}
	return VERDICT_BLIND;
}

static void note(struct lines_heard *h, int hop, const struct band *bands, const struct look *l,
		 const struct finding *f)
{
	const struct band *b = &bands[f->band];
	double hz = freq_to_hz(raster_centre(&b->raster, f->channel)) + f->offset_hz;
	double power_db = 10 * log10(f->power);
	struct line_heard *x = line_of(h, f, hz);

	if (!x && h->n == LINES_HEARD)
		return;
	if (!x) {
		x = &h->line[h->n++];
		*x = (struct line_heard){ .band = f->band, .channel = f->channel, .hop = hop,
					  .power_db = power_db, .reason = REASON_NONE,
					  .tried_us = NEVER_US, .seen_us = NEVER_US };
		x->proof = (struct evidence){ .hz = hz, .wide_hz = band_measured_hz(b) };
	}
	if (x->seen_us != l->mono_us)
		x->before_us = x->seen_us;
	x->seen_us = l->mono_us;
	x->proof.on++;
	x->proof.hz += FOLLOW * (hz - x->proof.hz);
	x->power_db += FOLLOW * (power_db - x->power_db);
}

bool line_on(const struct lines_heard *h, const struct line_heard *l, int64_t now_us)
{
	return l->seen_us == h->looked_us[l->hop % HOPS_KNOWN] && now_us - l->seen_us <= ON_US;
}

/* ---- why ---- */

static int strong_ones(const struct lines_heard *h, const struct line_heard *child,
		       int64_t now_us, const struct line_heard *out[STRONG_MOST])
{
	int n = 0;

	for (int i = 0; i < h->n; i++) {
		const struct line_heard *p = &h->line[i];
		if (p->power_db < STRONG_DB || p->power_db < child->power_db + PARENT_DB ||
		    now_us - p->seen_us > PARENT_US)
			continue;
		int at = n < STRONG_MOST ? n++ : STRONG_MOST;
		for (; at > 0 && out[at - 1]->power_db < p->power_db; at--)
			if (at < STRONG_MOST)
				out[at] = out[at - 1];
		if (at < STRONG_MOST)
			out[at] = p;
	}
	return n;
}

static bool mixes(const struct line_heard *child, const struct line_heard *a,
		  const struct line_heard *b, const struct line_heard *minus)
{
	double at = a->proof.hz + b->proof.hz - minus->proof.hz;
	double wide = a->proof.wide_hz + b->proof.wide_hz + minus->proof.wide_hz;

	return a != minus && b != minus && fabs(at - child->proof.hz) <= MIX_HZ + wide / 2;
}

/* 2 a - b before a + b - c: fewer to blame. */
static int parents_of(const struct lines_heard *h, const struct line_heard *child,
		      int64_t now_us, double hz[PARENTS_MOST])
{
	const struct line_heard *s[STRONG_MOST];
	int n = strong_ones(h, child, now_us, s);

	for (int plain = 1; plain >= 0; plain--)
		for (int a = 0; a < n; a++)
			for (int b = plain ? a : a + 1; b < (plain ? a + 1 : n); b++)
				for (int m = 0; m < n; m++) {
					if (!mixes(child, s[a], s[b], s[m]))
						continue;
					hz[0] = s[a]->proof.hz;
					hz[1] = plain ? s[m]->proof.hz : s[b]->proof.hz;
					hz[2] = s[m]->proof.hz;
					return plain ? 2 : 3;
				}
	return 0;
}

/* A far stronger one within the child's width of that frequency. */
static bool strong_at(const struct lines_heard *h, const struct line_heard *child, double hz)
{
	for (int i = 0; i < h->n; i++)
		if (fabs(h->line[i].proof.hz - hz) <=
		    MIX_HZ + (h->line[i].proof.wide_hz + child->proof.wide_hz) / 2 &&
		    h->line[i].power_db >= child->power_db + STRONGER_DB)
			return true;
	return false;
}

/* About the centre, or past the IF where the tuner is an R820T. */
static bool mirrored(const struct lines_heard *h, const struct line_heard *l, const struct hop *hop)
{
	double centre = freq_to_hz(hop->centre), turned = 2 * centre - l->proof.hz;
	double if_hz = synthesiser_if_hz(hop->rate_hz);

	return strong_at(h, l, turned) || strong_at(h, l, turned + 2 * if_hz);
}

static enum reason reason_for(const struct lines_heard *h, const struct line_heard *l,
			      const struct hop *hop, bool mixed)
{
	double off;

	if (challenge_multiple(l->proof.hz, h->ppm, CRYSTAL_NEAR_HZ, &off))
		return REASON_CRYSTAL;
	if (mixed)
		return REASON_MIXED;
	if (mirrored(h, l, hop))
		return REASON_MIRROR;
	if (l->proof.looks >= ALWAYS_LOOKS && l->proof.on >= ALWAYS * l->proof.looks)
		return REASON_ALWAYS;
	return REASON_NONE;
}

/* Others than before: what was known of those says nothing of these. */
static void set_parents(struct line_heard *l, int n, const double hz[PARENTS_MOST])
{
	struct evidence *e = &l->proof;
	bool same = n == e->parents;

	for (int i = 0; i < n && same; i++)
		same = fabs(hz[i] - e->parent_hz[i]) <= SAME_HZ;
	if (same || n == 0)
		return;
	e->parents = n;
	memcpy(e->parent_hz, hz, (size_t)n * sizeof *hz);
	e->with = e->without = l->both = l->all = 0;
	e->parents_share = 0;
}

/* Parents in another hop were looked at another time: only one look tells of all. */
enum parents { PARENTS_UNKNOWN = 0, PARENTS_NOT_ALL, PARENTS_ON };

static enum parents parents_now(const struct lines_heard *h, const struct line_heard *child,
				const struct hop *hop, const struct judged *j, int64_t now_us)
{
	bool off = false, blind = child->proof.parents == 0;

	for (int k = 0; k < child->proof.parents; k++) {
		const struct line_heard *p = NULL;
		for (int i = 0; i < h->n && !p; i++)
			if (fabs(h->line[i].proof.hz - child->proof.parent_hz[k]) <= SAME_HZ)
				p = &h->line[i];
		if (p && p->hop == child->hop && p->seen_us == now_us)
			continue;
		if (p && p->hop == child->hop && verdict_on(p, hop, j) == VERDICT_IDLE)
			off = true;
		else
			blind = true;
	}
	return off ? PARENTS_NOT_ALL : blind ? PARENTS_UNKNOWN : PARENTS_ON;
}

/* It came on: an over counts once, however many looks it lasts. What was seen when its
 * parents were found is no evidence, for they were looked for among those that were on.
 * last_us: of the hop's look before. */
static void watch_parents(const struct lines_heard *h, struct line_heard *x, const struct hop *hop,
			  const struct look *l, const struct judged *j, int64_t last_us)
{
	enum parents are = parents_now(h, x, hop, j, l->mono_us);
	bool on = x->seen_us == l->mono_us;

	if (are == PARENTS_UNKNOWN)
		return;
	x->both++;
	x->all += are == PARENTS_ON;
	x->proof.parents_share = (x->all + 1.0) / (x->both + 2.0);
	x->proof.with += on && are == PARENTS_ON && x->before_us != last_us;
	x->proof.without += on && are == PARENTS_NOT_ALL;
}

void suspicion_parents(const struct lines_heard *h, struct line_heard *l, int32_t rate_hz,
		       int64_t now_us)
{
	double hz[PARENTS_MOST];

	set_parents(l, parents_of(h, l, now_us, hz), hz);
	for (int side = -1; side <= 1; side += 2)
		if (strong_at(h, l, l->proof.hz + side * (double)rate_hz))
			l->proof.beyond_hz = l->proof.hz + side * (double)rate_hz;
}

static void think_over(const struct lines_heard *h, struct line_heard *l, const struct hop *hop)
{
	double hz[PARENTS_MOST];
	int n = parents_of(h, l, l->seen_us, hz);

	set_parents(l, n, hz);
	l->reason = reason_for(h, l, hop, n > 0);
}

void lines_heard_look(struct lines_heard *h, const struct hop *hop, int hop_index,
		      const struct band *bands, const struct look *l, const struct judged *j)
{
	int64_t last_us = h->looked_us[hop_index % HOPS_KNOWN];

	h->looked_us[hop_index % HOPS_KNOWN] = l->mono_us;
	for (int i = 0; i < j->findings; i++)
		note(h, hop_index, bands, l, &j->finding[i]);
	for (int i = 0; i < h->n; i++) {
		struct line_heard *x = &h->line[i];
		if (x->hop != hop_index ||
		    (x->seen_us != l->mono_us && verdict_on(x, hop, j) == VERDICT_BLIND))
			continue;
		x->proof.looks++;
		watch_parents(h, x, hop, l, j, last_us);
		/* Who is strong now may not have been known when it was first heard. */
		if (x->seen_us == l->mono_us && !x->settled &&
		    (x->proof.looks < AGAIN_LOOKS || x->proof.looks % AGAIN_LOOKS == 0))
			think_over(h, x, hop);
	}
}
