#include "tests/bench/bare.h"

#include <complex.h>
#include <fftw3.h>
#include <stdbool.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

struct bare {
	float complex *in, *out;        /* out: NULL in place */
	fftwf_plan     plan;
};

static const struct {
	const char *name;
	unsigned    flags;
	bool        apart;
} plans[BARE_PLANS] = {
	[BARE_ESTIMATE]       = { "estimate",       FFTW_ESTIMATE, false },
	[BARE_ESTIMATE_APART] = { "estimate-apart", FFTW_ESTIMATE, true },
	[BARE_PATIENT]        = { "patient",        FFTW_PATIENT,  false },
	[BARE_PATIENT_APART]  = { "patient-apart",  FFTW_PATIENT,  true },
};

const char *bare_name(enum bare_plan plan)
{
	return plans[plan].name;
}

struct bare *bare_create(int bins, enum bare_plan plan, const char *wisdom)
{
	bool patient = plans[plan].flags == FFTW_PATIENT, apart = plans[plan].apart;
	struct bare *b = calloc(1, sizeof *b);
	if (!b)
		return NULL;
	b->in = fftwf_alloc_complex((size_t)bins);
	b->out = apart ? fftwf_alloc_complex((size_t)bins) : NULL;
	if (!b->in || (apart && !b->out))
		goto fail;
	if (patient)
		fftwf_import_wisdom_from_filename(wisdom);
	b->plan = fftwf_plan_dft_1d(bins, b->in, apart ? b->out : b->in, FFTW_FORWARD,
				    plans[plan].flags);
	if (!b->plan)
		goto fail;
	if (patient)
		fftwf_export_wisdom_to_filename(wisdom);
	/* What was learnt must not help plans by estimate, neither these nor the product's. */
	fftwf_forget_wisdom();
	memset(b->in, 0, (size_t)bins * sizeof *b->in);
	return b;
fail:
	bare_destroy(b);
	return NULL;
}

void bare_destroy(struct bare *b)
{
	if (!b)
		return;
	if (b->plan)
		fftwf_destroy_plan(b->plan);
	fftwf_free(b->out);
	fftwf_free(b->in);
	free(b);
}

void bare_run(struct bare *b, int transforms)
{
	for (int i = 0; i < transforms; i++)
		fftwf_execute(b->plan);
}

int bare_wisdom(int bins)
{
	float complex *in = fftwf_alloc_complex((size_t)bins), *out = fftwf_alloc_complex((size_t)bins);
	fftwf_plan plan = NULL;

	if (in && out)
		plan = fftwf_plan_dft_1d(bins, in, out, FFTW_FORWARD, FFTW_PATIENT);
	if (plan) {
		fftwf_export_wisdom_to_file(stdout);
		fftwf_destroy_plan(plan);
	}
	fftwf_forget_wisdom();
	fftwf_free(out);
	fftwf_free(in);
	return plan ? 0 : -1;
}
