#include "tools/plan/typed.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>

#define DELAY_ROUNDED_S 0.051   /* plan.csv gives tenths */

void typed_free(struct typed_list *l)
{
	free(l->at);
	*l = (struct typed_list){ 0 };
}

/* All that a plan is made of. */
struct desk {
	const char            *path;
	const struct census   *c;
	const struct receiver *r;
	struct plan           *plan;
	struct fault          *why;
	int                   *next_slot;       /* of each bank, from 1              */
	bool                  *taken;           /* by bank and slot                  */
	int                    priorities;
};

static bool in_filter(const struct receiver *r, enum mode mode, struct freq landed,
		      struct freq centre)
{
	return fabs(freq_to_hz(landed) - freq_to_hz(centre)) <= r->filter_hz[mode] / 2;
}

/* The census channel nearest to where it lands; -1: none in the filter. */
static int channel_of(const struct memory *m, const struct census *c, const struct receiver *r)
{
	int64_t least = INT64_MAX;
	int best = -1;

	for (int i = 0; i < c->channels; i++) {
		int64_t off = llabs(c->channel[i].centre.thirds - m->landing.landed.thirds);
		if (off < least && in_filter(r, m->mode, m->landing.landed, c->channel[i].centre)) {
			least = off;
			best = i;
		}
	}
	return best;
}

int64_t typed_looks(const struct memory *m, const struct census *c, const struct receiver *r)
{
	int64_t looks = 0;

	for (int b = 0; b < c->bands; b++) {
		int32_t k = raster_nearest(&c->band[b].raster, m->landing.landed);
		if (k >= 0 && c->looked[b].of_channel &&
		    in_filter(r, m->mode, m->landing.landed,
			      raster_centre(&c->band[b].raster, k)) &&
		    c->looked[b].of_channel[k] > looks)
			looks = c->looked[b].of_channel[k];
	}
	return looks;
}

/* The mode that is used there: the surveyed band's, else the first that the receiver has. */
static enum mode mode_of(const struct desk *d, struct freq f)
{
	static const enum mode likely[] = { MODE_NFM, MODE_AM, MODE_WFM };

	for (int b = 0; b < d->c->bands; b++)
		if (raster_nearest(&d->c->band[b].raster, f) >= 0 &&
		    receiver_reach(d->r, f, d->c->band[b].mode))
			return d->c->band[b].mode;
	for (size_t i = 0; i < sizeof likely / sizeof likely[0]; i++)
		if (receiver_reach(d->r, f, likely[i]))
			return likely[i];
	return MODE_NFM;
}

/* "0, 2, 4": the seconds that can be set. */
static const char *delays(const struct receiver *r, char out[120])
{
	size_t n = 0;

	out[0] = '\0';
	if (r->delay_zero || r->delays == 0)
		n = (size_t)snprintf(out, 120, "0");
	for (int i = 0; i < r->delays && n < 110; i++)
		n += (size_t)snprintf(out + n, 120 - n, "%s%.3g", n ? ", " : "",
				      1e-6 * (double)r->delay_us[i]);
	return out;
}

static int delay_of(const struct desk *d, const struct typed *t, int64_t *out)
{
	const struct receiver *r = d->r;
	char has[120];

	*out = receiver_delay(r, TYPED_DELAY_S);
	if (t->delay_s < 0)
		return 0;
	for (int i = 0; i < r->delays; i++) {
		*out = r->delay_us[i];
		if (fabs(1e-6 * (double)*out - t->delay_s) < DELAY_ROUNDED_S)
			return 0;
	}
	*out = 0;
	if (t->delay_s == 0 && (r->delay_zero || r->delays == 0))
		return 0;
	return fault_set(d->why, FAULT_INPUT,
			 "%s:%d: delay_s is \"%g\", must be one of %s on \"%s\"", d->path, t->line,
			 t->delay_s, delays(r, has), r->name);
}

static int out_of(const struct desk *d, const struct typed *t, const char *what, int value,
		  int most)
{
	return fault_set(d->why, FAULT_INPUT, "%s:%d: %s is \"%d\", must be 1 to %d on \"%s\"",
			 d->path, t->line, what, value, most, d->r->name);
}

/* Its bank and slot, which must be there and free. */
static int place(struct desk *d, const struct typed *t, struct memory *m)
{
	*m = (struct memory){ .bank = t->bank, .slot = t->slot };
	if (t->bank > d->r->banks)
		return out_of(d, t, "bank", t->bank, d->r->banks);
	if (m->slot == 0)
		m->slot = d->next_slot[t->bank];
	if (m->slot > d->r->memories)
		return out_of(d, t, "slot", m->slot, d->r->memories);
	if (m->slot >= d->next_slot[t->bank])
		d->next_slot[t->bank] = m->slot + 1;
	bool *taken = &d->taken[(m->bank - 1) * d->r->memories + m->slot - 1];
	if (*taken)
		return fault_set(d->why, FAULT_INPUT,
				 "%s:%d: slot is \"%d\", which bank %d has already, must be one "
				 "memory a slot",
				 d->path, t->line, m->slot, m->bank);
	*taken = true;
	return 0;
}

static int program(struct desk *d, const struct typed *t)
{
	int most = d->r->priorities < 1 ? d->r->priorities : 1;         /* a rehearsal knows one */
	char f[FREQ_TEXT];
	struct memory m;

	if (place(d, t, &m) < 0)
		return -1;
	m.frequency = t->frequency;
	m.locked = t->locked || t->noted == NOTED_LOCKED;
	m.priority = t->priority;
	m.line = t->line;
	m.noted = t->noted;
	m.fixed = t->pinned;
	snprintf(m.name, sizeof m.name, "%s", t->name);
	m.weight = 1;
	m.mode = t->mode != MODE_NONE ? t->mode : mode_of(d, t->frequency);
	if (landing_find(d->r, t->frequency, m.mode, NULL, &m.landing) < 0)
		return fault_set(d->why, FAULT_INPUT,
				 "%s:%d: frequency is \"%s\" MHz in %s, must be one that \"%s\" "
				 "can tune",
				 d->path, t->line, freq_format_mhz(f, t->frequency),
				 mode_name(m.mode), d->r->name);
	d->priorities += t->priority;
	if (t->priority && d->priorities > most)
		return fault_set(d->why, FAULT_INPUT,
				 "%s:%d: priority is \"yes\" in memory %d of them, must be %d at "
				 "most",
				 d->path, t->line, d->priorities, most);
	if (delay_of(d, t, &m.delay_us) < 0)
		return -1;
	m.channel = channel_of(&m, d->c, d->r);
	d->plan->memory[d->plan->memories++] = m;
	return 0;
}

static int by_place(const void *a, const void *b)
{
	const struct memory *x = a, *y = b;

	return x->bank != y->bank ? x->bank - y->bank : x->slot - y->slot;
}

/* By bank and slot; who has a channel a second time says so. -1: no memory. */
static int order(struct plan *p, const struct census *c)
{
	struct memory_place *first = calloc((size_t)c->channels + 1, sizeof *first);

	if (!first)
		return -1;
	qsort(p->memory, (size_t)p->memories, sizeof *p->memory, by_place);
	for (int i = 0; i < p->memories; i++) {
		struct memory *m = &p->memory[i];
		if (m->channel < 0)
			continue;
		if (first[m->channel].bank)
			m->same_as = first[m->channel];
		else
			first[m->channel] = (struct memory_place){ m->bank, m->slot };
	}
	free(first);
	return 0;
}

static int program_all(struct desk *d, const struct typed_list *l)
{
	d->plan->memory = calloc((size_t)l->n + 1, sizeof *d->plan->memory);
	d->next_slot = calloc((size_t)d->r->banks + 1, sizeof *d->next_slot);
	d->taken = calloc((size_t)d->r->banks * (size_t)d->r->memories, sizeof *d->taken);
	if (!d->plan->memory || !d->next_slot || !d->taken)
		return fault_set(d->why, FAULT_FATAL, "%s: no memory", d->path);
	for (int b = 0; b <= d->r->banks; b++)
		d->next_slot[b] = 1;
	snprintf(d->plan->receiver, sizeof d->plan->receiver, "%s", d->r->name);
	for (int i = 0; i < l->n; i++)
		if (program(d, &l->at[i]) < 0)
			return -1;
	return order(d->plan, d->c) == 0 ? 0 :
					   fault_set(d->why, FAULT_FATAL, "%s: no memory", d->path);
}

struct plan *typed_plan(const struct typed_list *l, const char *path, const struct census *c,
			const struct receiver *r, struct fault *why)
{
	struct desk d = {
		.path = path, .c = c, .r = r, .plan = calloc(1, sizeof *d.plan), .why = why
	};

	if (!d.plan)
		fault_set(why, FAULT_FATAL, "%s: no memory", path);
	else if (program_all(&d, l) < 0) {
		plan_destroy(d.plan);
		d.plan = NULL;
	}
	free(d.next_slot);
	free(d.taken);
	return d.plan;
}
