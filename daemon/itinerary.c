#include "daemon/itinerary.h"

#include <math.h>
#include <stdio.h>

/* Chance that an over of exponential length, mean_s on the average, is met at
 * all when a channel is looked at every revisit_s. */
static double met(double mean_s, double revisit_s)
{
	return mean_s / revisit_s * (1 - exp(-revisit_s / mean_s));
}

/* Twelve hours of an invented busy night (tests/bench/record.sh). What most of it is are strips, which
 * deflate the better the more channels are quiet. */
static const struct { double channels, bytes; } measured[] = {
	{ 0, 0.1e6 }, { 1500, 1.6e6 }, { 6000, 4.8e6 }, { 13500, 8.0e6 }, { 24000, 11e6 },
};
enum { MEASURED = sizeof measured / sizeof measured[0] };

double itinerary_night_bytes(int channels)
{
	int i = 1;

	while (i < MEASURED - 1 && channels > measured[i].channels)
		i++;
	double slope = (measured[i].bytes - measured[i - 1].bytes) /
		       (measured[i].channels - measured[i - 1].channels);
	return measured[i].bytes + slope * (channels - measured[i].channels);
}

static void print_bands(const struct band *bands, int n_bands)
{
	char low[FREQ_TEXT], high[FREQ_TEXT], step[FREQ_TEXT];
	int channels = 0;

	for (int i = 0; i < n_bands; i++) {
		const struct band *b = &bands[i];
		freq_format_mhz(low, b->raster.first);
		freq_format_mhz(high, raster_last(&b->raster));
		snprintf(step, sizeof step, "%.4g kHz", freq_to_hz(b->raster.step) / 1000);
		printf("  %-16s %11s - %-11s MHz  %9s  %6d channels  %-4s %s\n", b->id, low, high,
		       step, b->raster.count, mode_name(b->mode), b->service);
		channels += b->raster.count;
	}
	printf("  in all %d channels in %d bands\n", channels, n_bands);
}

static void print_hops(const struct hop_plan *hops)
{
	char text[FREQ_TEXT];

	for (int i = 0; i < hops->n; i++) {
		int n = 0;
		for (int k = 0; k < hops->hops[i].n_spans; k++)
			n += hops->hops[i].spans[k].count;
		printf("  %3d  %12s MHz  %5d channels\n", i + 1,
		       freq_format_mhz(text, hops->hops[i].centre), n);
	}
}

/* The first post's share, as the others' are like it: the largest. */
static struct schedule *first_share(const struct schedule_rules *rules, int hops, int sources)
{
	struct schedule *s = schedule_create(rules, hops);

	for (int i = 0; s && i < hops; i++)
		if ((int64_t)i * sources / hops == 0)
			schedule_take(s, i);
	return s;
}

static void print_schedule(const struct schedule_rules *rules, const struct schedule_facts *f)
{
	double sweep = (double)f->sweep_us * 1e-6, promise = (double)f->revisit_us * 1e-6;

	printf("revisit: every hop again within %.1f s at the latest; of the time %.0f %% is left by that\n",
	       promise, 100 * f->left);
	if (f->left <= 0 && f->revisit_us < f->sweep_us)
		printf("         a sweep takes %.1f s, so that cannot be kept: survey fewer bands, or "
		       "allow more\n",
		       sweep);
	printf("parks: %.0f %% of what is left, ", 100 * rules->park_share);
	if (f->park_us > 0)
		printf("about %.0f an hour of %.1f s each\n", f->parks_an_hour,
		       (double)f->park_us * 1e-6);
	else
		printf("none\n");
	printf("challenges: %.0f %% of what is left, when a line is suspicious\n",
	       100 * rules->challenge_share);
}

/* From look to look at one channel. */
struct gaps {
	double sweep_s, hole_s;         /* from look to look: by a sweep, and past a park    */
	double in_holes;                /* share of the time awake that lies in those        */
	double rest_s, in_rests;        /* likewise past a rest: of all time                 */
	double average_s;               /* from look to look, rests and all                  */
};

static struct gaps gaps_of(const struct station *s, const struct schedule_rules *rules,
			   const struct schedule_facts *f)
{
	double busy = f->left * (rules->park_share + rules->challenge_share);
	double sweep = (double)f->sweep_us * 1e-6, rest = (double)s->rest_us * 1e-6;
	double spell = s->sweeps_per_spell * sweep / (1 - busy) + rest;
	struct gaps g = {
		.sweep_s = sweep, .hole_s = sweep + (double)f->park_us * 1e-6,
		.rest_s = sweep + rest, .average_s = spell / s->sweeps_per_spell,
	};

	g.in_holes = fmin(1, f->parks_an_hour * g.hole_s / 3600);
	g.in_rests = rest > 0 ? fmin(1, g.rest_s / spell) : 0;
	return g;
}

/* An over begins in each of these as often as they take time. */
static double met_in_all(double mean_s, const struct gaps *g)
{
	double awake = (1 - g->in_holes) * met(mean_s, g->sweep_s) + g->in_holes * met(mean_s, g->hole_s);

	return (1 - g->in_rests) * awake + g->in_rests * met(mean_s, g->rest_s);
}

static void print_odds(const struct schedule_rules *rules, const struct gaps *g)
{
	printf("look %.0f ms, retune about %.0f ms: a sweep takes %.1f s; with parks and challenges "
	       "between\nthem each channel is looked at every %.1f s on the average\n",
	       (double)rules->look_us * 1e-3, (double)(rules->visit_us - rules->look_us) * 1e-3,
	       g->sweep_s, g->average_s);
	printf("chance to meet an over (exponential lengths): 2 s %.0f %%, 4 s %.0f %%, 8 s %.0f %%\n",
	       100 * met_in_all(2, g), 100 * met_in_all(4, g), 100 * met_in_all(8, g));
}

int itinerary_print(const struct station *s, const struct band *bands, int n_bands,
		    const struct hop_plan *hops, const struct schedule_rules *rules, int sources,
		    struct fault *why)
{
	int channels = 0;

	for (int i = 0; i < hops->n_spans; i++)
		channels += hops->spans[i].count;
	printf("station %s\nbands\n", s->name);
	print_bands(bands, n_bands);
	printf("hops: %d, covering %d channels at %.4g MS/s\n", hops->n, channels,
	       hops->n ? hops->hops[0].rate_hz * 1e-6 : 0);
	print_hops(hops);
	if (sources == 0)
		return 0;       /* one place, one endless look */
	struct schedule *first = first_share(rules, hops->n, sources);
	if (!first)
		return fault_set(why, FAULT_FATAL, "no memory for a schedule");
	struct schedule_facts f = schedule_facts(first);
	if (sources > 1)
		printf("receivers: %d, of up to %d hops each\n", sources, schedule_held(first));
	schedule_destroy(first);
	struct gaps g = gaps_of(s, rules, &f);
	print_odds(rules, &g);
	print_schedule(rules, &f);
	if (s->rest_us)
		printf("after every %d sweeps a rest of %.0f s, which counts as not looked\n",
		       s->sweeps_per_spell, (double)s->rest_us * 1e-6);
	printf("survey: about %.1f MB for 12 hours where one channel in forty is in use, and as much for each "
	       "night more\n",
	       itinerary_night_bytes(channels) * 1e-6);
	return 0;
}
