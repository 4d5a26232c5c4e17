#include "daemon/itinerary.h"

#include <math.h>
#include <stdio.h>

#include "daemon/growth.h"
#include "daemon/upkeep.h"
#include "dsp/track.h"

/* Chance that an over of exponential length, mean_s on the average, is met at
 * all when a channel is looked at every revisit_s. */
static double met(double mean_s, double revisit_s)
{
	return mean_s / revisit_s * (1 - exp(-revisit_s / mean_s));
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
	double spell_s;                 /* from one to the next; 0: there are none           */
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
		.rest_s = sweep + rest, .spell_s = rest > 0 ? spell : 0,
		.average_s = spell / s->sweeps_per_spell,
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

#define SIZE_TEXT 60

/* "2.2 MB (1.1 to 4.4)" */
static void size(double bytes, char out[SIZE_TEXT])
{
	static const struct {
		const char *name;
		double      bytes;
	} units[] = { { "kB", 1e3 }, { "MB", 1e6 }, { "GB", 1e9 } };
	int u = (bytes >= 1e6) + (bytes >= 1e9);
	double is = bytes / units[u].bytes;
	int digits = is < 10 ? 1 : 0;

	snprintf(out, SIZE_TEXT, "%.*f %s (%.*f to %.*f)", digits, is, units[u].name, digits,
		 is / GROWTH_FACTOR, digits, is * GROWTH_FACTOR);
}

/* A short rest parts no overs. */
static struct looking looking_of(const struct gaps *g)
{
	bool parted = g->spell_s > 0 && g->rest_s > TRACK_SOON * g->sweep_s;

	return (struct looking){
		.looks = 3600 / g->average_s,
		.spells = parted ? 3600 / g->spell_s : 0,
		.followed = parted ? 1 - g->in_rests : 1,
	};
}

static void print_growth(const struct station *s, const struct timetable *t,
			 const struct growth *g)
{
	const struct keep keep = upkeep_keep(s);
	char first[SIZE_TEXT], more[SIZE_TEXT], week[SIZE_TEXT], year[SIZE_TEXT];
	int shifts;
	double hours = timetable_week_hours(t, &shifts);

	size(growth_bytes(g, 1, 12), first);
	size(growth_bytes(g, 1, 12) - growth_bytes(g, 0, 0), more);
	size(growth_bytes(g, shifts, hours), week);
	size(growth_year(g, shifts, hours, &keep), year);
	printf("survey: about %s for 12 hours, and %s for each night more, where one channel\n"
	       "        in %d is in use; about four times as much where one in forty is\n",
	       first, more, GROWTH_IN_USE);
	printf("        with the hours and days set, %.4g hours a week: about %s a week, %s a year\n",
	       hours, week, year);
}

int itinerary_print(const struct station *s, const struct timetable *t, const struct band *bands,
		    int n_bands, const struct hop_plan *hops, const struct schedule_rules *rules, int sources,
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
		printf("after %d sweep%s a rest of %.0f s, which counts as not looked\n",
		       s->sweeps_per_spell, s->sweeps_per_spell == 1 ? "" : "s", (double)s->rest_us * 1e-6);
	struct looking looking = looking_of(&g);
	struct growth growth = growth_of(channels, hops->n_spans, &looking);
	print_growth(s, t, &growth);
	return 0;
}
