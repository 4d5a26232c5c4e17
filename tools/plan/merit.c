#include "tools/plan/merit.h"

#include <stdlib.h>
#include <string.h>

#define FEW_DRAWS 2             /* enough to compare two plans on the same nights */

double merit_line(const struct part *p)
{
	int all = p->overs + (p->overs - p->exchanges);

	return all > 0 ? (double)(p->heard + p->replied) / all : 1;
}

static void want(struct merit *v, const struct plan *p, int set)
{
	double *of = &v->want[set * v->lines];

	for (int i = 0; i < p->memories; i++) {
		const struct memory *m = &p->memory[i];
		if (!m->locked && m->channel >= 0 && v->banks[set] >> (m->bank - 1) & 1)
			of[m->channel] = m->weight;
	}
	for (int k = 0; k < v->lines; k++)
		v->of[set] += of[k];
}

int merit_create(struct merit *v, const struct plan *p, const struct census *c,
		 const struct receiver *r, const struct repertoire *on)
{
	*v = (struct merit){
		.census = c, .receiver = r, .on = *on, .lines = c->channels + 1, .sets = p->sets
	};
	v->on.draws = on->draws < FEW_DRAWS ? on->draws : FEW_DRAWS;
	v->want = calloc((size_t)v->lines * ((size_t)v->sets + 1), sizeof *v->want);
	v->draw = calloc((size_t)v->lines * ((size_t)v->on.draws + 1), sizeof *v->draw);
	v->line = calloc((size_t)v->lines, sizeof *v->line);
	if (!v->want || !v->draw || !v->line) {
		merit_free(v);
		return -1;
	}
	for (int s = 0; s < v->sets; s++) {
		v->banks[s] = p->set[s].banks;
		v->kept[s] = -1;
		want(v, p, s);
	}
	return 0;
}

void merit_free(struct merit *v)
{
	free(v->want);
	free(v->draw);
	free(v->line);
	*v = (struct merit){ 0 };
}

double merit_set(struct merit *v, const struct plan *p, int set)
{
	const double *of = &v->want[set * v->lines];
	struct forecast f;
	double got = 0;

	if (forecast_lines(p, v->census, v->receiver, &v->on, v->banks[set], &f, v->draw) < 0)
		return -1;
	memset(v->line, 0, (size_t)v->lines * sizeof *v->line);
	for (int d = 0; d < v->on.draws; d++)
		for (int k = 0; k < v->lines; k++)
			part_add(&v->line[k], &v->draw[d * v->lines + k]);
	for (int k = 0; k < v->lines; k++)
		got += of[k] > 0 ? of[k] * merit_line(&v->line[k]) : 0;
	return v->of[set] > 0 ? got / v->of[set] : 1;
}

double merit_kept(struct merit *v, const struct plan *p, int set)
{
	if (v->kept[set] < 0)
		v->kept[set] = merit_set(v, p, set);
	return v->kept[set];
}

void merit_changed(struct merit *v, uint64_t banks)
{
	for (int s = 0; s < v->sets; s++)
		if (v->banks[s] & banks)
			v->kept[s] = -1;
}

int merit_gain(struct merit *v, const struct plan *p, uint64_t all, uint64_t none, double *gain)
{
	double sum = 0;
	int n = 0;

	for (int s = 0; s < v->sets; s++) {
		if ((v->banks[s] & all) != all || v->banks[s] & none)
			continue;
		double got = merit_set(v, p, s);
		if (got < 0 || v->kept[s] < 0)
			return -1;
		sum += got - v->kept[s];
		n++;
	}
	*gain = n > 0 ? sum / n : 0;
	return 0;
}
