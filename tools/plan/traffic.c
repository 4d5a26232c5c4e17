#include "tools/plan/traffic.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "tools/plan/census.h"
#include "tools/plan/glimpses.h"
#include "tools/plan/hold.h"
#include "tools/plan/list.h"
#include "tools/plan/regular.h"
#include "tools/plan/words.h"

#define ALWAYS_SHARE 0.9
#define STUCK_S      200        /* no over of people at work is so long (common practice) ... */
#define STUCK_SURE_S 600        /* ... whatever it sounds like: a shop's radio next to the key */
#define STUCK_TIMES  10
#define FIT_LEAST    3          /* overs                                             */
#define FIT_MOST     300        /* the latest of them: more change nothing           */
#define FIT_ALL      30000      /* of all channels together: time is spent on each over, */
#define FIT_FAIR     30         /* and fewer of each only widen the intervals        */
#define SHAPE_LEAST  5
#define BURST_S      1.0        /* nobody says anything in less (common practice)    */
#define CUT_SHORT    0.15       /* of looks that saw an edge: what is on for so few is short */
#define BUSY_TIMES   1.5
#define PERIOD_SHARE 0.3        /* of a period that a report lasts, at most          */
#define USUAL_S      2.5        /* from look to look, when nothing tells             */
#define LONE_S       1800       /* silence between exchanges, when there is one only */

const char *shape_name(enum shape s)
{
	static const char *const names[SHAPE_COUNT] = {
		"unknown", "always on", "periodic", "bursts", "talk",
	};

	return names[s];
}

static double length_s(const struct over *o)
{
	return 1e-6 * (double)(o->last_us - o->first_us);
}

/* All but stuck ones, which it notes: the overs themselves, or room with what is left of them. */
static const struct over *usual(const struct over *o, int *n, double *work, struct over *room,
				struct traffic *t)
{
	int all = *n;

	for (int i = 0; i < all; i++) {
		work[i] = length_s(&o[i]);
		t->longest_s = fmax(t->longest_s, work[i]);
	}
	if (all < 3 || t->longest_s <= STUCK_S)
		return o;
	double limit = fmax(STUCK_S, STUCK_TIMES * list_quantile(work, all, 0.5));
	*n = 0;
	for (int i = 0; i < all; i++) {
		bool bare = o[i].kind == KIND_CARRIER || o[i].kind == KIND_UNKNOWN;
		if (length_s(&o[i]) > (bare ? limit : fmax(limit, STUCK_SURE_S)))
			t->stuck_s = fmax(t->stuck_s, length_s(&o[i]));
		else
			room[(*n)++] = o[i];
	}
	return room;
}

/* From look to look in sweeps. Where it is not known, as the edges that were not seen have it:
 * rests make some lie far out, so a low quantile. */
static double every_s(const struct over *o, int n, const struct watched *w, double *work)
{
	int k = 0;

	if (w->revisit_s > 0)
		return fmin(fmax(w->revisit_s, 0.2), 60);

	for (int i = 0; i < n; i++)
		if (o[i].before_us > SEEN_US)
			work[k++] = 1e-6 * (double)o[i].before_us;
	double s = k >= 3 ? list_quantile(work, k, 0.3) : USUAL_S;
	return fmin(fmax(s, 0.2), 60);
}

/* Returns the seconds that exchanges lasted together, as far as they were met. */
static double count(const struct over *o, int n, const struct watched *w, struct traffic *t)
{
	double lasted_s = 0;

	for (int i = 0; i < n; i++) {
		int64_t silent = i ? o[i].first_us - o[i - 1].last_us : INT64_MAX;
		int64_t slack = i ? llabs(o[i].before_us) + llabs(o[i - 1].after_us) : 0;
		t->hours |= UINT32_C(1) << (o[i].first_us / HOUR_US % 24);
		bool afresh = (double)(silent - slack) >= 1e6 * EXCHANGE_S;
		t->exchanges += afresh;
		lasted_s += length_s(&o[i]) + (afresh ? 0 : 1e-6 * (double)silent);
		t->watched += edge_seen(o[i].before_us) || edge_seen(o[i].after_us);
	}
	t->overs_exchange = t->exchanges > 0 ? (double)n / t->exchanges : 0;
	if (w->wall_s <= 0)
		return lasted_s;
	/* The square root of a Poisson count has a deviation of a half (Anscombe 1948). */
	double hours = w->wall_s / 3600, root = sqrt(t->exchanges + 0.375);
	t->exchanges_h = (struct estimate){ t->exchanges / hours,
					    { pow(fmax(root - 0.98, 0), 2) / hours,
					      pow(root + 0.98, 2) / hours } };
	return lasted_s;
}

static void busy_hours(const struct over *o, int n, const struct watched *w, struct traffic *t)
{
	int of[24] = { 0 }, hours = 0;

	for (int i = 0; i < n; i++)
		of[o[i].first_us / HOUR_US % 24]++;
	for (int h = 0; h < 24; h++)
		hours += of[h] > 0 || (w->of_day >> h & 1);
	/* More than chance would have it, too: two deviations of a count. */
	double mean = hours > 0 ? (double)n / hours : 0;
	for (int h = 0; h < 24; h++)
		if (of[h] >= BUSY_TIMES * mean && of[h] > mean + 2 * sqrt(mean))
			t->busy_hours |= UINT32_C(1) << h;
}

/* Silence between exchanges, mean, while there are any: hours in which none came say nothing of it. */
static double idle_s(const struct over *o, int n, int exchanges, double lasted_s)
{
	int hours = 0;

	for (int i = 0; i < n; i++)
		hours += i == 0 || o[i].first_us / HOUR_US != o[i - 1].first_us / HOUR_US;
	return exchanges > 1 ? fmax(hours * 3600.0 - lasted_s, 0) / exchanges : LONE_S;
}

static int lengths(const struct over *o, int n, double idle, double every, int most,
		   struct traffic *t)
{
	int from = n > most ? n - most : 0;
	struct glimpses seen;
	struct renewal_fit fit;

	if (n < FIT_LEAST)
		return 0;
	if (glimpses_make(o + from, n - from, every, TRAFFIC_HANG_S, &seen) < 0)
		return -1;
	renewal_fit(seen.g, seen.n, every, fmax(idle, 20), TRAFFIC_HANG_S, &fit);
	glimpses_free(&seen);
	t->over_s = fit.on_s;
	t->over_median_s = fit.median_s;
	t->gap_s = fit.gap_s;
	t->guessed = (struct guessed){ fit.guessed_on_s, fit.guessed_gap_s, fit.more };
	/* After the hang gaps are exponential. */
	if (fit.gap_s.value > 0 && n >= SHAPE_LEAST)
		t->gap_most_s = TRAFFIC_HANG_S + (fit.gap_s.value - TRAFFIC_HANG_S) * -log(0.15);
	return 0;
}

/* Whether many looks saw an edge of what they met: such are on for some looks' length. */
static bool cut_short(const struct over *o, int n)
{
	int64_t most = 0;
	int single = 0, cut = 0;

	for (int i = 0; i < n; i++)
		if (o[i].looks == 1) {
			single++;
			most = o[i].busy_us > most ? o[i].busy_us : most;
		}
	for (int i = 0; i < n; i++)
		cut += o[i].looks == 1 && (double)o[i].busy_us < 0.9 * (double)most;
	return 2 * single > n && cut > CUT_SHORT * single;
}

/* Rests come at a period of their own, and what is met after one must not be taken for it: an
 * over is known no better than the longer holes before it. */
static double known_to_s(const struct over *o, int n, double every, double *work)
{
	for (int i = 0; i < n; i++)
		work[i] = 1e-6 * (double)o[i].before_us;
	return fmax(every, list_quantile(work, n, 0.9));
}

static void periodic(const struct over *o, int n, double every, double *work, struct traffic *t)
{
	struct regular found;
	double *at = work + 2 * n, known_s = known_to_s(o, n, every, work);

	for (int i = 0; i < n; i++)
		at[i] = 1e-6 * (double)(o[i].first_us - o[0].first_us -
					(o[i].before_us > 0 ? o[i].before_us / 2 : 0));
	regular_find(at, n, known_s, work, &found);
	for (int i = 0; i < n && found.period_s > 0; i++)
		work[i] = length_s(&o[i]);
	/* People who take turns at an even pace talk for most of it. */
	if (found.period_s > 0 && list_quantile(work, n, 0.5) > PERIOD_SHARE * found.period_s)
		found.period_s = 0;
	t->period_s = found.period_s;
	t->jitter_s = found.jitter_s;
}

static enum shape shape_of(int n, const struct traffic *t)
{
	if (t->period_s > 0)
		return SHAPE_PERIODIC;
	if (n < SHAPE_LEAST || t->over_s.value <= 0)
		return SHAPE_UNKNOWN;
	return t->over_s.likely.high < BURST_S ? SHAPE_BURSTS :
	       t->over_s.value >= BURST_S ? SHAPE_TALK : SHAPE_UNKNOWN;
}

/* most: overs whose lengths are fitted. */
static int measure(const struct over *o, int n, const struct watched *w, int most,
		   struct traffic *out)
{
	double *work = calloc(3 * (size_t)n + 1, sizeof *work);
	struct over *room = calloc((size_t)n + 1, sizeof *room);
	int result = -1;

	*out = (struct traffic){ 0 };
	if (!work || !room)
		goto out;
	result = 0;
	const struct over *kept = usual(o, &n, work, room, out);
	double lasted_s = count(kept, n, w, out);
	busy_hours(kept, n, w, out);
	if (w->occupancy > ALWAYS_SHARE) {
		out->shape = SHAPE_ALWAYS;
		out->stuck_s = 0;
		goto out;
	}
	double every = every_s(kept, n, w, work);
	periodic(kept, n, every, work, out);
	/* What fills part of the looks that meet it is far shorter than the time between looks:
	 * two in a row are two of them, and nothing tells how long one is. */
	bool short_ones = n >= SHAPE_LEAST && cut_short(kept, n);
	result = short_ones ? 0 :
			      lengths(kept, n, idle_s(kept, n, out->exchanges, lasted_s), every,
				      most, out);
	out->shape = short_ones && out->period_s <= 0 ? SHAPE_BURSTS : shape_of(n, out);
out:
	free(work);
	free(room);
	return result;
}

int traffic_measure(const struct over *o, int n, const struct watched *w, struct traffic *out)
{
	return measure(o, n, w, FIT_MOST, out);
}

int census_traffic(struct census *c)
{
	int fair = c->channels > 0 ? FIT_ALL / c->channels : FIT_MOST;
	int most = fair > FIT_MOST ? FIT_MOST : fair < FIT_FAIR ? FIT_FAIR : fair;

	for (int i = 0; i < c->channels; i++) {
		struct channel *ch = &c->channel[i];
		const struct looked *l = &c->looked[ch->band];
		const struct watched w = { ch->occupancy, 1e-6 * (double)c->wall_us,
					   l->beat.every_s, l->of_day };
		if (measure(&c->over[ch->over], ch->overs, &w, most, &ch->traffic) < 0)
			return -1;
		if (ch->traffic.over_s.value > 0)
			ch->over_s = ch->traffic.over_s.value;
		if (ch->traffic.gap_most_s > 0)
			ch->gap_s = ch->traffic.gap_most_s;
		ch->hold_share = hold_of(c, ch);
	}
	return 0;
}

static void estimate_words(const char *what, const struct estimate *e, char *out, size_t size)
{
	out[0] = '\0';
	if (e->value > 0)
		snprintf(out, size, "%s %.1f s (%.1f-%.1f)", what, e->value, e->likely.low,
			 e->likely.high);
}

char *traffic_words(const struct traffic *t, char *out, size_t size)
{
	char over[48], gap[48], hours[64], busiest[96] = "", more[96] = "";

	out[0] = '\0';
	if (t->exchanges == 0 || t->shape == SHAPE_ALWAYS)
		return out;
	estimate_words("overs", &t->over_s, over, sizeof over);
	estimate_words(", gaps", &t->gap_s, gap, sizeof gap);
	if (t->period_s > 0)
		snprintf(more, sizeof more, ", each %.1f s within %.1f s", t->period_s,
			 t->jitter_s);
	else if (t->stuck_s > 0)
		snprintf(more, sizeof more, ", once stuck for %.0f min", t->stuck_s / 60);
	if (t->busy_hours)
		snprintf(busiest, sizeof busiest, ", busiest %s UTC",
			 words_hours(t->busy_hours, hours, sizeof hours));
	snprintf(out, size, "%s: %s%s%s, %d exchange%s%s", shape_name(t->shape),
		 over[0] ? over : "how long overs are can't be told", gap, more, t->exchanges,
		 t->exchanges == 1 ? "" : "s", busiest);
	return out;
}
