#include "tests/traffic_world.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "tests/test.h"
#include "dsp/track.h"
#include "tools/plan/list.h"

#define EPOCH  TRAFFIC_US
#define SLICES 10
#define LOOK_S 0.02
#define PARK_LOOK_S 0.1         /* longer than the daemon's, to be quick */
#define PARK_S 10.0

/* ---- traffic ---- */

static double exponential(struct noise *r, double mean)
{
	return -mean * log(1 - noise_uniform(r));
}

static double length_of(const struct talker *t, struct noise *r)
{
	double sigma = sqrt(log(1 + 0.7 * 0.7));

	return t->lengths == LENGTHS_FIXED ? t->over_s :
	       t->lengths == LENGTHS_EXPONENTIAL ? exponential(r, t->over_s) :
	       t->over_s * exp(sigma * noise_normal(r) - sigma * sigma / 2);
}

static double say(struct spoken *out, double at_s, double length_s)
{
	assert_int_equal(list_room((void **)&out->on, out->n, sizeof *out->on), 0);
	out->on[out->n++] = (struct on){ at_s, at_s + length_s };
	return at_s + length_s;
}

void talker_speak(const struct talker *t, double hours, struct noise *r, struct spoken *out)
{
	double end_s = 3600 * hours, at_s = 0;

	*out = (struct spoken){ 0 };
	for (int k = 1; t->period_s > 0 && (k + 1) * t->period_s < end_s; k++)
		say(out, k * t->period_s + t->jitter_s * noise_normal(r), length_of(t, r));
	while (t->period_s <= 0) {
		at_s += exponential(r, t->every_s);
		if (at_s > end_s)
			break;
		at_s = say(out, at_s, length_of(t, r));
		while (noise_uniform(r) < 1 - 1 / t->overs)
			at_s = say(out, at_s + exponential(r, t->gap_s), length_of(t, r));
	}
}

void spoken_free(struct spoken *s)
{
	free(s->on);
}

/* Gaps are exponential: some are too short to end an over, and make it longer. */
double talker_over_s(const struct talker *t)
{
	double h = TRAFFIC_HANG_S, under = 1 - exp(-h / t->gap_s);
	double joins = (1 - 1 / t->overs) * under;
	double mean = t->gap_s - h * (1 - under) / under;       /* of those too short */

	return (t->over_s + joins * mean) / (1 - joins);
}

double talker_gap_s(const struct talker *t)
{
	return TRAFFIC_HANG_S + t->gap_s;
}

/* ---- what is seen of it ---- */

struct seeing {
	struct track        *track;
	const struct spoken *s;
	int                  at;        /* first over that has not ended */
	double               snr;
	struct over         *over;
	int                  n;
	struct watched_hours *kept;     /* NULL: nobody asks */
	int                  hour;
	bool                 parked;
};

static const struct band band = {
	.id = "test", .raster = { { 3 * INT64_C(150000000) }, { 37500 }, 1 },
	.mode = MODE_NFM, .width_hz = 11000,
};
static const struct span all = { 0, 0, 1 };
static const struct hop hop = {
	.centre = { 3 * INT64_C(150000000) }, .rate_hz = 2400000, .bins = 1920, .spans = &all,
	.n_spans = 1,
};

static void note(void *self, const struct transmission *t)
{
	struct seeing *w = self;

	assert_int_equal(list_room((void **)&w->over, w->n, sizeof *w->over), 0);
	w->over[w->n++] = (struct over){
		.first_us = t->first_us, .last_us = t->last_us, .before_us = t->before_us,
		.after_us = t->after_us, .busy_us = t->busy_us, .looks = t->looks,
		.level_ddb = (int32_t)lround(10 * t->level_db),
		.peak_ddb = (int32_t)lround(10 * t->peak_db), .kind = KIND_NFM,
	};
}

static void touched(void *self, const struct touch *t)
{
	struct seeing *w = self;

	if (!w->kept || w->parked || !t->busy)
		return;
	struct activity_row *a = &w->kept->activity[w->hour];
	a->busy_looks++;
	a->busy_us += t->busy_us;
	a->openings += t->opened;
	a->held += t->held;
	a->level[t->level] += t->busy_us;
	a->level_looks[t->level]++;
}

static void cover(struct seeing *w, int64_t at, int64_t span)
{
	w->hour = (int)(at / HOUR_US);
	if (!w->kept || w->parked)
		return;
	struct coverage_row *c = &w->kept->cover[w->hour];
	c->looks++;
	c->pairs += track_soon(w->track, &hop, at);
	c->looked_us += span;
}

static void look(struct seeing *w, double at_s, double length_s)
{
	int64_t at = llround(1e6 * at_s), span = llround(1e6 * length_s);
	struct look l = { .start_us = EPOCH + at, .mono_us = at, .span_us = span, .length_us = span,
			  .slices = SLICES, .slice_transforms = 1000,
			  .bin_hz = 0.5e6 * 1000 * SLICES / (double)span };
	enum verdict verdict[1] = { VERDICT_IDLE };
	cover(w, at, span);
	struct finding f = { .power = w->snr, .floor = 1, .width_hz = 8000, .first_slice = SLICES };
	struct judged j = { .verdict = verdict, .seats = 1, .finding = &f };

	while (w->at < w->s->n && w->s->on[w->at].to_s <= at_s)
		w->at++;
	for (int k = w->at; k < w->s->n && w->s->on[k].from_s < at_s + length_s; k++) {
		double from = (w->s->on[k].from_s - at_s) / length_s * SLICES;
		double to = (w->s->on[k].to_s - at_s) / length_s * SLICES;
		int first = (int)fmax(from, 0), last = (int)fmin(to, SLICES - 1);
		f.first_slice = first < f.first_slice ? first : f.first_slice;
		f.last_slice = last > f.last_slice ? last : f.last_slice;
		verdict[0] = VERDICT_BUSY;
	}
	j.findings = verdict[0] == VERDICT_BUSY;
	track_look(w->track, &hop, &l, &j);
}

struct over *watcher_see(const struct watcher *w, const struct spoken *s, double hours, double snr,
			 struct noise *r, int *n, struct watched_hours *kept)
{
	struct track_rules rules = { llround(1e6 * TRAFFIC_HANG_S), 8000, llround(1e6 * w->revisit_s) };
	struct seeing see = { .s = s, .snr = snr, .kept = kept };
	int sweeps = 0;
	double sweeping_s = w->parked > 0 ? PARK_S / w->parked - PARK_S : INFINITY, park_at = sweeping_s;

	see.track = track_create(&rules, &band, 1, note, touched, &see);
	assert_non_null(see.track);
	for (double at_s = w->phase_s; at_s < 3600 * hours; ) {
		look(&see, at_s, LOOK_S);
		at_s += w->revisit_s * (0.95 + 0.1 * noise_uniform(r));
		if (w->sweeps > 0 && ++sweeps % w->sweeps == 0)
			at_s += w->rest_s;
		if (at_s < park_at)
			continue;
		see.parked = true;
		for (int k = 0; k < PARK_S / PARK_LOOK_S; k++)
			look(&see, at_s + k * PARK_LOOK_S, PARK_LOOK_S);
		see.parked = false;
		at_s += PARK_S + w->revisit_s * 0.5;
		park_at = at_s + sweeping_s;
	}
	track_end(see.track);
	track_destroy(see.track);
	*n = see.n;
	return see.over;
}
