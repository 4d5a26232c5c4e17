#include "tests/bench/ground.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "dsp/look.h"
#include "store/station.h"

#define STATION   SOURCE_ROOT "/config/harlow-ferry-night.conf"
#define TOWN      SOURCE_ROOT "/config/harlow-ferry.conf"
#define SEED      UINT64_C(20260217)
#define BEGIN_US  INT64_C(6600000000)   /* 21:50, while a warehouse burns           */
#define BETWEEN_US INT64_C(2300000)     /* from look to look: what a sweep takes    */

static const struct {
	const char *title;
	double      mhz;                /* the hop whose centre is nearest */
} wanted[GROUNDS] = {
	[GROUND_QUIET]     = { "quiet",     438.94 },
	[GROUND_AIR]       = { "air",       122.17 },
	[GROUND_FINE]      = { "fine",      153.78 },
	[GROUND_BROADCAST] = { "broadcast", 97.35 },
};

const char *ground_title(enum ground_name which)
{
	return wanted[which].title;
}

static const struct hop *nearest_hop(const struct hop_plan *p, double mhz)
{
	const struct hop *best = &p->hops[0];

	for (int i = 1; i < p->n; i++)
		if (fabs(freq_to_hz(p->hops[i].centre) - mhz * 1e6) <
		    fabs(freq_to_hz(best->centre) - mhz * 1e6))
			best = &p->hops[i];
	return best;
}

static int seats(const struct hop *h)
{
	int n = 0;

	for (int i = 0; i < h->n_spans; i++)
		n += h->spans[i].count;
	return n;
}

static int read_station(struct grounds *g, struct fault *why)
{
	struct station s;

	if (station_read(STATION, &s, why) < 0)
		return -1;
	g->false_alarm = s.false_alarm;
	g->margin_db = s.margin_db;
	g->ppm = s.ppm;
	g->gain_tenth_db = (int)(s.gain_db * 10 + 0.5);
	int result = station_bands(&s, STATION, &g->bands, &g->n_bands, why);
	station_free(&s);
	if (result < 0)
		return -1;
	if (hop_plan_sweep(&g->plan, g->bands, g->n_bands, BENCH_RATE_HZ) < 0)
		return fault_set(why, FAULT_FATAL, "no memory for hops");
	for (int i = 0; i < g->plan.n; i++)
		if (seats(&g->plan.hops[i]) > g->max_seats)
			g->max_seats = seats(&g->plan.hops[i]);
	return 0;
}

int grounds_visit(struct grounds *g, const struct ground *at, struct block *out, struct fault *why)
{
	struct tuning to = { at->hop->centre, BENCH_RATE_HZ, g->ppm, g->gain_tenth_db };

	if (source_town.tune(g->town, &to, why) < 0)
		return -1;
	if (source_town.read(g->town, at->n, out, why) != SOURCE_BLOCK)
		return -1;
	source_town.rest(g->town, BETWEEN_US);
	return 0;
}

static int keep_samples(struct grounds *g, struct ground *at, double mhz, struct fault *why)
{
	struct block b;

	at->hop = nearest_hop(&g->plan, mhz);
	at->bins = at->hop->bins;
	at->n = look_samples(BENCH_RATE_HZ, at->bins, BENCH_LOOK_US);
	at->iq = malloc(2 * at->n * BENCH_KEPT);
	if (!at->iq)
		return fault_set(why, FAULT_FATAL, "no memory for samples");
	for (size_t i = 0; i < BENCH_KEPT; i++) {
		if (grounds_visit(g, at, &b, why) < 0)
			return -1;
		memcpy(at->iq + 2 * at->n * i, b.iq, 2 * at->n);
	}
	return 0;
}

int grounds_make(struct grounds *g, struct fault *why)
{
	memset(g, 0, sizeof *g);
	if (read_station(g, why) < 0)
		return -1;
	g->town = source_town.open(&(struct source_request){ .arg = TOWN, .seed = SEED }, why);
	if (!g->town)
		return -1;
	for (int i = 0; i < GROUNDS; i++) {
		if (source_town.restart(g->town, why) < 0)
			return -1;
		source_town.rest(g->town, BEGIN_US);
		if (keep_samples(g, &g->ground[i], wanted[i].mhz, why) < 0)
			return -1;
	}
	return 0;
}

void grounds_free(struct grounds *g)
{
	for (int i = 0; i < GROUNDS; i++)
		free(g->ground[i].iq);
	source_town.close(g->town);
	hop_plan_free(&g->plan);
	free(g->bands);
}

struct block ground_block(const struct ground *g, size_t n, int look)
{
	size_t fit = g->n * BENCH_KEPT / n;

	return (struct block){
		.iq = g->iq + 2 * n * ((size_t)look % fit), .format = SAMPLE_CU8, .n = n,
		.rate_hz = BENCH_RATE_HZ, .centre = g->hop->centre,
		.start_us = look * BETWEEN_US, .mono_us = look * BETWEEN_US,
	};
}
