#include "daemon/calibrate/calibrate.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>

#include "daemon/calibrate/crystal_hunt.h"
#include "daemon/log.h"

#define MOST_US    INT64_C(300000000)   /* listening for the crystal, if not said otherwise */
#define LEAST_US   INT64_C(60000000)    /* so that talkers had time to talk                 */
#define ENOUGH_PPM 0.15
#define MOVING     3.0                  /* standard errors; and at least ...                */
#define MOVING_PPM 0.2                  /* ... so much a minute                             */

static int warm_up(const struct calibrate *c, struct listening *l)
{
	if (c->station->warm_up_us == 0)
		return SOURCE_BLOCK;
	progress_clear(c->on.progress);
	log_line(LOG_INFO, "warming up: minutes=%.0f", (double)c->station->warm_up_us / 60e6);
	return listening_rest(l, c->station->warm_up_us);
}

static void print_witness(const struct crystal *k, const struct band *bands, const struct heard *h,
			  double shift)
{
	struct crystal_fit f = crystal_fit(k, &h->witness, shift);
	char channel[FREQ_TEXT] = "-";

	if (f.band >= 0)
		freq_format_mhz(channel, f.channel);
	printf("  %12.6f  %5d  %4.0f dB  %12s  ", h->witness.hz * 1e-6, h->looks, h->over_db,
	       channel);
	if (f.band < 0)
		printf("%17s  in no band surveyed\n", "");
	else
		printf("%+6.0f Hz %+5.1f ppm  %s%s\n", f.residual_hz,
		       f.residual_hz / h->witness.hz * 1e6, bands[f.band].id,
		       f.agrees >= 2 ? "" : ", on no channel: not counted");
}

static int print_witnesses(const struct calibrate *c, const struct crystal_found *f)
{
	struct crystal *k = crystal_create(c->bands, c->n_bands);

	if (!k)
		return -1;
	printf("\n      seen MHz  looks  over     nearest MHz  true place less that, and band\n"
	       "                        noise\n");
	for (int i = 0; i < f->n; i++)
		print_witness(k, c->bands, &f->heard[i], f->verdict.ppm - c->station->ppm);
	crystal_destroy(k);
	return 0;
}

static void print_verdict(const struct calibrate *c, const struct crystal_found *f)
{
	const struct crystal_verdict *v = &f->verdict;
	char why[300];

	printf("crystal of %s\n", c->on.about->label);
	printf("  listened %.0f s at %.1f dB of gain, with %+.2f ppm taken out already\n",
	       (double)f->heard_us * 1e-6, c->station->gain_db, c->station->ppm);
	if (v->word != CRYSTAL_TOLD) {
		printf("  not told: %s\n", crystal_refusal(f, why, sizeof why));
		return;
	}
	printf("  it runs %.2f ppm %s, +- %.2f (one standard error): %.1f kHz at 460 MHz\n",
	       fabs(v->ppm), v->ppm < 0 ? "slow" : "fast", v->error_ppm, 460e-3 * fabs(v->ppm));
	printf("  %d of %d carriers in %d bands keep to channels then; all other errors together, the best\n"
	       "  %+.1f ppm, are %.3g times less likely\n",
	       v->agree, f->n, v->bands, v->rival_ppm, v->odds);
	if (fabs(f->drift_ppm_min) > MOVING * f->drift_error && fabs(f->drift_ppm_min) > MOVING_PPM)
		printf("  it still moves by %+.1f ppm a minute: it is not warm, come back later\n",
		       f->drift_ppm_min);
	else if (isfinite(f->drift_error))
		printf("  it moves by %+.2f +- %.2f ppm a minute: steady\n", f->drift_ppm_min,
		       f->drift_error);
}

static const char *const limits[] = {
	[GAIN_NOISE_BELOW] = "less would let the converter's own noise in",
	[GAIN_STEPS_BELOW] = "less would leave the noise too few of the converter's steps",
	[GAIN_CLIPS_ABOVE] =
		"weak signals want more, but then more looks clip: filter the strong one out",
	[GAIN_RANGE_ENDS] =
		"the most that was tried, and still little comes through: is the antenna on?",
	[GAIN_ONE] = "as before: the tuner has no two",
};

static void print_settings(const struct calibrate *c, const struct crystal_found *f,
			   const struct gain_advice *g)
{
	printf("\nfor the settings file\n");
	if (f->verdict.word == CRYSTAL_TOLD)
		printf("  ppm = \"%.2f ppm\";\n", f->verdict.ppm);
	else
		printf("  ppm = \"%.2f ppm\";\t# as before: not told\n", c->station->ppm);
	printf("  gain = \"%.1f dB\";\t# %s\n", g->gain_db, limits[g->limit]);
}

static int stopped(int got, struct fault *why)
{
	if (got == SOURCE_END)
		fault_set(why, FAULT_FATAL,
			  "the calibration was stopped, or its source ended, too early");
	return -1;
}

static int run(const struct calibrate *c, struct listening *l, int *lively,
	       struct crystal_found *found, struct fault *why)
{
	struct gain_advice advice;
	struct crystal_hunt h = {
		.on = &c->on,
		.bands = c->bands,
		.n_bands = c->n_bands,
		.references = &c->station->references,
		.applied_ppm = c->station->ppm,
		.gain_tenth_db = (int)lround(c->station->gain_db * 10),
		.least_ppm = -CRYSTAL_RANGE_PPM,
		.most_ppm = CRYSTAL_RANGE_PPM,
		.most_us = c->for_us ? c->for_us : MOST_US,
		.enough_ppm = ENOUGH_PPM,
		.lively = lively,
	};
	char text[300];

	h.least_us = h.most_us < LEAST_US ? h.most_us : LEAST_US;
	int got = warm_up(c, l);
	progress_begin(c->on.progress, h.most_us);
	if (got == SOURCE_BLOCK)
		got = crystal_hunt(l, &h, found, why);
	progress_clear(c->on.progress);
	if (got != SOURCE_BLOCK)
		return stopped(got, why);
	print_verdict(c, found);
	if (print_witnesses(c, found) < 0)
		return fault_set(why, FAULT_FATAL, "no memory to print witnesses with");
	bool told = found->verdict.word == CRYSTAL_TOLD;
	got = calibrate_gain(c, l, told ? found->verdict.ppm : c->station->ppm, lively, &advice,
			     why);
	if (got != SOURCE_BLOCK)
		return stopped(got, why);
	print_settings(c, found, &advice);
	return told ? 0 : fault_set(why, FAULT_FATAL, "the crystal's error can't be told: %s",
				    crystal_refusal(found, text, sizeof text));
}

int calibrate_run(const struct calibrate *c, struct fault *why)
{
	int result = -1;
	struct listening *l = listening_create(&c->on);
	int *lively = calloc((size_t)c->on.hops->n, sizeof *lively);
	struct crystal_found *found = calloc(1, sizeof *found);

	if (!l || !lively || !found)
		fault_set(why, FAULT_FATAL, "no memory to calibrate with");
	else
		result = run(c, l, lively, found, why);
	free(found);
	free(lively);
	listening_destroy(l);
	return result;
}
