#include "daemon/calibrate/crystal_hunt.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>

#define LOOKS      5            /* a carrier heard in fewer is no witness               */
#define JUDGE_US   10000000     /* how often it is tried to tell                        */
#define FRESH      2.0          /* agrees so much that its drift counts                 */

struct pursuit {
	const struct crystal_hunt *h;
	struct listening     *l;
	struct roll          *roll;
	struct crystal       *crystal;
	int64_t               began_us, judged_us;
	struct crystal_found *out;
};

static void judge(struct pursuit *p)
{
	static const struct crystal_wants least = { .witnesses = CRYSTAL_WITNESSES,
		.bands = CRYSTAL_BANDS, .sure_ppm = CRYSTAL_SURE_PPM };
	struct witness witness[ROLL_MAX];
	struct crystal_wants w = least;

	p->out->n = roll_call(p->roll, LOOKS, p->out->heard);
	for (int i = 0; i < p->out->n; i++)
		witness[i] = p->out->heard[i].witness;
	w.applied_ppm = p->h->applied_ppm;
	w.least_ppm = p->h->least_ppm;
	w.most_ppm = p->h->most_ppm;
	if (p->h->references) {
		w.reference = p->h->references->at;
		w.references = p->h->references->n;
	}
	crystal_judge(p->crystal, &w, witness, p->out->n, &p->out->verdict);
	p->judged_us = listening_now_us(p->l);
	p->out->heard_us = p->judged_us - p->began_us;
}

/* What shows lower and lower comes from a crystal that rises. */
static void reckon_drift(struct pursuit *p)
{
	double sum = 0, weight = 0;

	for (int i = 0; i < p->out->n; i++) {
		const struct heard *e = &p->out->heard[i];
		struct crystal_fit f = crystal_fit(p->crystal, &e->witness,
						   p->out->verdict.ppm - p->h->applied_ppm);
		if (f.agrees < FRESH || !isfinite(e->drift_error))
			continue;
		double per = -60e6 / e->witness.hz, w = 1 / pow(per * e->drift_error, 2);
		sum += w * per * e->drift_hz_s;
		weight += w;
	}
	p->out->drift_ppm_min = weight > 0 ? sum / weight : 0;
	p->out->drift_error = weight > 0 ? 1 / sqrt(weight) : HUGE_VAL;
}

static bool enough(const struct pursuit *p)
{
	const struct crystal_verdict *v = &p->out->verdict;
	int64_t heard = listening_now_us(p->l) - p->began_us;

	return heard >= p->h->most_us || (heard >= p->h->least_us && v->word == CRYSTAL_TOLD &&
					  v->error_ppm <= p->h->enough_ppm);
}

static void note(struct pursuit *p, int hop, const struct glimpse *g)
{
	for (int i = 0; i < g->lines; i++)
		if (!crystal_own(g->line[i].hz, p->h->applied_ppm))
			roll_hear(p->roll, &g->line[i], g->look->mono_us);
	if (p->h->lively)
		p->h->lively[hop] += g->lines;
}

static int pursue(struct pursuit *p, struct fault *why)
{
	const struct listening_wants *on = p->h->on;
	int deaf = 0;

	for (int hop = 0; ; hop = (hop + 1) % on->hops->n) {
		struct glimpse g;
		int got = listening_look(p->l, hop, &g, why);
		if (got == SOURCE_DEAF && ++deaf < on->hops->n)
			continue;
		if (got != SOURCE_BLOCK)
			return got == SOURCE_END ? SOURCE_END : SOURCE_FAULT;
		deaf = 0;
		if (p->began_us < 0)
			p->began_us = p->judged_us = listening_now_us(p->l);
		note(p, hop, &g);
		progress_at(on->progress, listening_now_us(p->l) - p->began_us);
		if (hop == on->hops->n - 1 && listening_now_us(p->l) - p->judged_us >= JUDGE_US)
			judge(p);
		if (enough(p))
			break;
	}
	judge(p);
	reckon_drift(p);
	return SOURCE_BLOCK;
}

int crystal_hunt(struct listening *l, const struct crystal_hunt *h, struct crystal_found *out,
		 struct fault *why)
{
	struct pursuit p = { .h = h, .l = l, .out = out, .began_us = -1 };
	int got = SOURCE_FAULT;

	*out = (struct crystal_found){ .verdict.word = CRYSTAL_TOO_FEW };
	p.roll = roll_create();
	p.crystal = crystal_create(h->bands, h->n_bands);
	if (!p.roll || !p.crystal) {
		fault_set(why, FAULT_FATAL, "no memory to tell the crystal's error");
		goto done;
	}
	listening_set(l, h->applied_ppm, h->gain_tenth_db);
	got = listening_learn(l, why);
	if (got == SOURCE_BLOCK)
		got = pursue(&p, why);
	/* A source that ends has said all it will. */
	if (got == SOURCE_END && p.began_us >= 0 && !*h->on->stop) {
		judge(&p);
		reckon_drift(&p);
		got = SOURCE_BLOCK;
	}
done:
	roll_destroy(p.roll);
	crystal_destroy(p.crystal);
	return got;
}

char *crystal_refusal(const struct crystal_found *f, char *out, size_t size)
{
	const struct crystal_verdict *v = &f->verdict;

	switch (v->word) {
	case CRYSTAL_TOLD:
		snprintf(out, size, "it is told");
		break;
	case CRYSTAL_TOO_FEW:
		snprintf(out, size,
			 "of %d steady carriers heard at most %d keep to channels at any "
			 "one error, must be %d; try a busier hour, more bands or a longer --for",
			 f->n, v->agree, CRYSTAL_WITNESSES);
		break;
	case CRYSTAL_ONE_BAND:
		snprintf(out, size,
			 "the %d carriers that agree on %.1f ppm are all of %d band, must be "
			 "of %d; survey more bands",
			 v->agree, v->ppm, v->bands, CRYSTAL_BANDS);
		break;
	case CRYSTAL_AMBIGUOUS:
		snprintf(out, size,
			 "%.1f ppm and %.1f ppm explain the %d carriers nearly alike; name one "
			 "you know in references, or survey more bands",
			 v->ppm, v->rival_ppm, f->n);
		break;
	case CRYSTAL_ROUGH:
		snprintf(out, size,
			 "it is about %.1f ppm but only to +- %.2f, must be %.2f; try a busier "
			 "hour, more bands or a longer --for",
			 v->ppm, v->error_ppm, CRYSTAL_SURE_PPM);
		break;
	}
	return out;
}
