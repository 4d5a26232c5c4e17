#include "daemon/calibrate/baseline.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>

#include "dsp/crystal.h"
#include "dsp/roll.h"
#include "store/baseline.h"

#define USUAL_US   INT64_C(300000000)
#define SHARE      0.2          /* a line there in so many looks is always there        */
#define LOOKS      5            /* and in so many                                       */
#define NEAR_PPM   1.5          /* the crystal may stand so far elsewhere in the survey */
#define CLOCK_HZ   28.8e6

/* A band's noise over all looks at its hops. */
struct noise_of {
	double  ddb_sum;
	int64_t looks;
};

struct search {
	const struct baseline *b;
	struct noise_of       *noise;                   /* one a band */
	struct listening      *l;
	struct roll           *roll;
	int64_t                sweeps;
	int64_t                from_us, until_us;       /* UTC */
	struct heard           heard[ROLL_MAX];
	int                    n, kept;
};

/* As a survey keeps it: in the measured width of the channel in the middle of each span. */
static void note_noise(struct search *s, const struct hop *h, const struct glimpse *g)
{
	for (int i = 0; i < h->n_spans; i++) {
		const struct span *of = &h->spans[i];
		const struct band *b = &s->b->bands[of->band];
		struct freq at = raster_centre(&b->raster, of->first + of->count / 2);
		double off = freq_to_hz((struct freq){ at.thirds - g->look->centre.thirds });
		double half = band_measured_hz(b) / 2;
		double power = floor_power(g->floor, look_edge(g->look, off - half),
					   look_edge(g->look, off + half));
		s->noise[of->band].ddb_sum += 10 * log10(fmax(power, 1e-30));
		s->noise[of->band].looks++;
	}
}

static int look(struct search *s, struct fault *why)
{
	const struct listening_wants *on = &s->b->on;
	int64_t for_us = s->b->for_us ? s->b->for_us : USUAL_US, began = -1;

	progress_begin(on->progress, for_us);
	for (;; s->sweeps++) {
		for (int hop = 0; hop < on->hops->n; hop++) {
			struct glimpse g;
			int got = listening_look(s->l, hop, &g, why);
			if (got == SOURCE_DEAF)
				continue;
			if (got != SOURCE_BLOCK)
				return got == SOURCE_END && s->sweeps >= LOOKS ? SOURCE_BLOCK : got;
			note_noise(s, &on->hops->hops[hop], &g);
			for (int i = 0; i < g.lines; i++)
				roll_hear(s->roll, &g.line[i], g.look->mono_us);
			if (began < 0) {
				began = g.look->mono_us;
				s->from_us = g.look->start_us;
			}
			s->until_us = g.look->start_us;
		}
		progress_at(on->progress, listening_now_us(s->l) - began);
		if (began >= 0 && listening_now_us(s->l) - began >= for_us &&
		    s->sweeps + 1 >= LOOKS) {
			s->sweeps++;
			return SOURCE_BLOCK;
		}
		if (began < 0) {
			fault_set(why, FAULT_FATAL, "no part of the dial could be tuned");
			return SOURCE_FAULT;
		}
	}
}

/* Beside the line's own channel the next one, where the crystal's last ppm may have
 * put it. */
static int keep_line(struct search *s, const struct heard *h, int band, int32_t channel,
		     struct fault *why)
{
	struct artefact_row row = { .run = s->b->run, .at_us = s->from_us, .band = band,
				    .channel = channel };
	struct baseline_line line = { 10 * log10(h->power),
				      fmin(1, (double)h->looks / (double)s->sweeps),
				      s->b->station->gain_db, h->witness.hz * 1e-6 };

	snprintf(row.cause, sizeof row.cause, "%s", CAUSE_ANTENNA_OFF);
	baseline_tell(&line, row.text, sizeof row.text);
	return survey_add_artefact(s->b->survey, &row, why);
}

static int keep(struct search *s, const struct heard *h, struct fault *why)
{
	double reach = NEAR_PPM * 1e-6 * h->witness.hz;

	for (int i = 0; i < s->b->n_bands; i++) {
		const struct raster *r = &s->b->bands[i].raster;
		int32_t last = -1;
		for (int k = -1; k <= 1; k++) {
			int32_t c = raster_nearest(r, freq_from_hz(h->witness.hz + k * reach));
			if (c < 0 || c == last)
				continue;
			if (keep_line(s, h, i, c, why) < 0)
				return -1;
			last = c;
			s->kept++;
		}
	}
	return 0;
}

static int keep_noise(struct search *s, int band, struct fault *why)
{
	const struct noise_of *n = &s->noise[band];
	struct artefact_row row = { .run = s->b->run, .at_us = s->from_us, .band = band,
				    .channel = s->b->bands[band].raster.count / 2 };
	struct baseline_floor f = { .looks = n->looks, .gain_db = s->b->station->gain_db };

	if (n->looks == 0)
		return 0;
	f.dbfs = n->ddb_sum / (double)n->looks;
	snprintf(row.cause, sizeof row.cause, "%s", CAUSE_FLOOR_OFF);
	baseline_floor_tell(&f, row.text, sizeof row.text);
	return survey_add_artefact(s->b->survey, &row, why);
}

static int store(struct search *s, struct fault *why)
{
	struct incident_row off = { .run = s->b->run,
				    .at_us = s->from_us,
				    .until_us = s->until_us };

	snprintf(off.what, sizeof off.what, "%s", CAUSE_ANTENNA_OFF);
	snprintf(off.text, sizeof off.text, "%d lines of the receiver's own at %+.2f ppm", s->n,
		 s->b->ppm);
	if (survey_begin(s->b->survey, why) < 0)
		return -1;
	for (int i = 0; i < s->n; i++)
		if (keep(s, &s->heard[i], why) < 0)
			goto undo;
	for (int b = 0; b < s->b->n_bands; b++)
		if (keep_noise(s, b, why) < 0)
			goto undo;
	if (survey_add_incident(s->b->survey, &off, why) < 0 ||
	    survey_end_run(s->b->survey, s->b->run, s->until_us, why) < 0 ||
	    survey_commit(s->b->survey, why) < 0)
		goto undo;
	return 0;
undo:
	survey_rollback(s->b->survey);
	return -1;
}

static void print(const struct search *s)
{
	printf("antenna off: %d lines that the receiver makes itself, in %lld sweeps\n", s->n,
	       (long long)s->sweeps);
	for (int i = 0; i < s->n; i++) {
		const struct heard *h = &s->heard[i];
		printf("  %12.6f MHz  %6.1f dBFS  %4.0f dB over noise  in %3.0f %% of looks",
		       h->witness.hz * 1e-6, 10 * log10(h->power), h->over_db,
		       100 * fmin(1, (double)h->looks / (double)s->sweeps));
		if (crystal_own(h->witness.hz, s->b->ppm))
			printf("  %.0f times the receiver's clock",
			       round(h->witness.hz / CLOCK_HZ));
		putchar('\n');
	}
	printf("  kept for %d channels: what is heard there as strong is not proposed\n", s->kept);
}

static int run(struct search *s, struct fault *why)
{
	listening_set(s->l, s->b->ppm, (int)lround(s->b->station->gain_db * 10));
	int got = listening_learn(s->l, why);
	if (got == SOURCE_BLOCK)
		got = look(s, why);
	progress_clear(s->b->on.progress);
	if (got == SOURCE_END)
		fault_set(why, FAULT_FATAL,
			  "the baseline was stopped, or its source ended, too early");
	if (got != SOURCE_BLOCK)
		return -1;
	int least = (int)ceil(SHARE * (double)s->sweeps);
	s->n = roll_call(s->roll, least < LOOKS ? LOOKS : least, s->heard);
	if (store(s, why) < 0)
		return -1;
	print(s);
	return 0;
}

int baseline_run(const struct baseline *b, struct fault *why)
{
	struct search *s = calloc(1, sizeof *s);
	int result = -1;

	if (s) {
		s->b = b;
		s->l = listening_create(&b->on);
		s->roll = roll_create();
		s->noise = calloc((size_t)b->n_bands + 1, sizeof *s->noise);
	}
	if (!s || !s->l || !s->roll || !s->noise)
		fault_set(why, FAULT_FATAL, "no memory to look with the antenna off");
	else
		result = run(s, why);
	if (s) {
		listening_destroy(s->l);
		roll_destroy(s->roll);
		free(s->noise);
	}
	free(s);
	return result;
}
