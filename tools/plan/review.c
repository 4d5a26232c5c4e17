#include "tools/plan/review.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "tools/plan/scan.h"

/* What every play of one set needs. */
struct rig {
	const struct plan       *p;
	const struct census     *c;
	const struct receiver   *r;
	const struct repertoire *on;
	uint64_t                 banks;
	bool                    *seated;        /* channels that are scanned         */
};

static bool is_on(const struct memory *m, uint64_t banks)
{
	return !m->locked && banks >> (m->bank - 1) & 1;
}

/* One draw, of all channels scanned but one. */
static struct part sum_but(const struct rig *g, const struct part *line, int but)
{
	struct part sum = { 0 };

	for (int i = 0; i < g->c->channels; i++)
		if (g->seated[i] && i != but)
			part_add(&sum, &line[i]);
	return sum;
}

static double heard_share(const struct part *p)
{
	return p->overs > 0 ? (double)p->heard / p->overs : 0;
}

/* The set without a channel, priority looks at it included. -1: no memory. */
static int play_without(const struct rig *g, int channel, struct part *line)
{
	struct plan p = *g->p;
	struct forecast told;
	bool left = false;
	int result = 0;

	p.memory = calloc((size_t)p.memories + 1, sizeof *p.memory);
	if (!p.memory)
		return -1;
	memcpy(p.memory, g->p->memory, (size_t)p.memories * sizeof *p.memory);
	for (int i = 0; i < p.memories; i++) {
		struct memory *m = &p.memory[i];
		if (m->channel == channel) {
			m->locked = true;
			m->priority = false;
		}
		left |= is_on(m, g->banks);
	}
	if (left)
		result = forecast_lines(&p, g->c, g->r, g->on, g->banks, &told, line);
	free(p.memory);
	return result;
}

/* What the others gain without the channel. */
static int weigh(const struct rig *g, const struct part *with, int channel, struct part *without,
		 struct burden *out)
{
	int lines = g->c->channels + 1, heard = 0;
	double held_s = 0, seconds = 0;

	*out = (struct burden){ .channel = channel, .low = INFINITY, .high = -INFINITY };
	if (play_without(g, channel, without) < 0)
		return -1;
	for (int d = 0; d < g->on->draws; d++) {
		const struct part *a = with + (ptrdiff_t)d * lines,
				  *b = without + (ptrdiff_t)d * lines;
		struct part before = sum_but(g, a, channel), after = sum_but(g, b, channel);
		double gain = heard_share(&after) - heard_share(&before);
		out->gained += (double)(after.heard - before.heard) / g->on->draws;
		out->gain += gain / g->on->draws;
		out->low = fmin(out->low, gain);
		out->high = fmax(out->high, gain);
		held_s += a[channel].held_s;
		heard += a[channel].heard;
		seconds += g->on->draw[d].seconds;
	}
	out->held = seconds > 0 ? held_s / seconds : 0;
	out->lost = (double)heard / g->on->draws;
	return 0;
}

/* The scanned channel that holds the receiver longest of those not yet tried; -1: none. */
static int next_holder(const struct rig *g, const struct part *line, const int *tried, int n)
{
	int best = -1;

	for (int i = 0; i < g->c->channels; i++) {
		bool again = false;
		for (int k = 0; k < n; k++)
			again |= tried[k] == i;
		if (g->seated[i] && !again && line[i].held_s > (best < 0 ? 0 : line[best].held_s))
			best = i;
	}
	return best;
}

static int find_burden(const struct rig *g, const struct part *with, struct review *out)
{
	struct part *without =
		calloc((size_t)g->on->draws * ((size_t)g->c->channels + 1) + 1, sizeof *without);
	int tried[BURDEN_TRIED], n = 0, result = -1;

	out->burden = (struct burden){ .channel = -1 };
	if (!without)
		return -1;
	for (; n < BURDEN_TRIED && (tried[n] = next_holder(g, out->line, tried, n)) >= 0; n++) {
		struct burden b;
		if (weigh(g, with, tried[n], without, &b) < 0)
			goto out;
		if (b.gain >= BURDEN_GAIN && b.low > 0 && b.gain > out->burden.gain)
			out->burden = b;
	}
	result = 0;
out:
	free(without);
	return result;
}

/* All draws together, and how far they differ. */
static void sum_draws(const struct rig *g, const struct part *with, struct review *out)
{
	int lines = g->c->channels + 1;

	out->low = INFINITY;
	out->high = -INFINITY;
	for (int d = 0; d < g->on->draws; d++) {
		const struct part *line = with + (ptrdiff_t)d * lines;
		struct part all = sum_but(g, line, -1);
		double share = heard_share(&all);
		for (int i = 0; i < lines; i++)
			part_add(&out->line[i], &line[i]);
		out->low = fmin(out->low, share);
		out->high = fmax(out->high, share);
	}
}

static int count_seats(const struct rig *g)
{
	int n = 0;

	for (int i = 0; i < g->p->memories; i++) {
		const struct memory *m = &g->p->memory[i];
		if (!is_on(m, g->banks))
			continue;
		n++;
		if (m->channel >= 0)
			g->seated[m->channel] = true;
	}
	return n;
}

int review_create(const struct plan *p, const struct census *c, const struct receiver *r,
		  const struct repertoire *on, uint64_t banks, struct review *out)
{
	size_t lines = (size_t)c->channels + 1;
	struct rig g = { p, c, r, on, banks, calloc(lines, sizeof *g.seated) };
	struct part *with = calloc((size_t)on->draws * lines + 1, sizeof *with);
	int result = -1;

	*out = (struct review){ .banks = banks, .draws = on->draws, .burden.channel = -1 };
	out->line = calloc(lines, sizeof *out->line);
	if (!g.seated || !with || !out->line)
		goto out;
	out->scanned = count_seats(&g);
	out->cycle_s = scan_cycle_s(out->scanned, r->scan_rate);
	result = 0;
	if (out->scanned == 0)
		goto out;
	result = forecast_lines(p, c, r, on, banks, &out->told, with);
	if (result == 0) {
		sum_draws(&g, with, out);
		result = find_burden(&g, with, out);
	}
out:
	free(g.seated);
	free(with);
	if (result < 0)
		review_free(out);
	return result;
}

void review_free(struct review *v)
{
	free(v->line);
	*v = (struct review){ 0 };
}

struct interval review_met(const struct part *part, int draws)
{
	return interval_wilson((double)part->met / draws, (double)part->exchanges / draws);
}

uint64_t review_banks(const struct plan *p)
{
	uint64_t banks = 0;

	for (int i = 0; i < p->memories; i++)
		banks |= UINT64_C(1) << (p->memory[i].bank - 1);
	return banks;
}
