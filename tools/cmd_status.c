#include "tools/verbs.h"
#include "tools/export.h"
#include "tools/follow.h"
#include "tools/plan/list.h"
#include "tools/telling.h"
#include "tools/plan/occupancy.h"
#include "tools/plan/unknown.h"
#include "tools/plan/words.h"

#include <inttypes.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>

/* Runs and incidents of the part in hand. */
struct gathered {
	const struct narrowed *part;
	struct run_row        *run;
	struct incident_row   *incident;
	int                    runs, incidents;
};

static int gather_run(void *self, const struct run_row *r)
{
	struct gathered *g = self;

	if (!narrow_has(g->part, r->id, r->start_us, r->end_us ? r->end_us : INT64_MAX))
		return 0;
	if (list_room((void **)&g->run, g->runs, sizeof *g->run) < 0)
		return -1;
	g->run[g->runs++] = *r;
	return 0;
}

static int gather_incident(void *self, const struct incident_row *r)
{
	struct gathered *g = self;

	if (!narrow_has(g->part, r->run, r->at_us,
			r->until_us > r->at_us ? r->until_us : r->at_us + 1))
		return 0;
	if (list_room((void **)&g->incident, g->incidents, sizeof *g->incident) < 0)
		return -1;
	g->incident[g->incidents++] = *r;
	return 0;
}

static int gather(const struct choice *o, struct gathered *g, struct fault *why)
{
	struct narrowed part = { 0 };
	struct survey *s = survey_read(o->file[0], why);
	int result = -1;

	if (s && narrow(&o->night, s, o->file[0], &part, why) == 0) {
		fault_set(why, FAULT_FATAL, "%s: no memory", o->file[0]);
		g->part = &part;
		if (survey_each_run(s, gather_run, g, why) == 0 &&
		    survey_each_incident(s, gather_incident, g, why) == 0)
			result = 0;
	}
	narrow_free(&part);
	survey_close(s);
	return result;
}

static void run(const struct run_row *r)
{
	char from[TIME_TEXT], to[TIME_TEXT];

	printf("run %" PRId64 "  %s to %s\n", r->id, words_time(from, r->start_us),
	       r->end_us ? words_time(to, r->end_us) : "no end kept: still running, or cut off");
	printf("       station %s, source %s, version %s\n", r->station, r->source, r->version);
	printf("       %.3f MS/s, gain %.1f dB, %+.1f ppm, looks of %.1f ms, %g false alarms a look, at least %g dB\n",
	       r->rate_hz / 1e6, r->gain_ddb / 10.0, r->ppm, 1e-3 * (double)r->dwell_us, r->pfa,
	       r->margin_db);
}

static void incident(const struct incident_row *r)
{
	char from[TIME_TEXT];

	printf("  %s  %s", words_time(from, r->at_us), r->what);
	if (r->until_us > r->at_us)
		printf(" for %.0f s", 1e-6 * (double)(r->until_us - r->at_us));
	printf("%s%s\n", r->text[0] ? ": " : "", r->text);
}

static void bands(const struct census *c)
{
	printf("\nband              looked h  looks/ch  revisit s  floor dBFS  overload\n");
	for (int b = 0; b < c->bands; b++) {
		const struct looked *l = &c->looked[b];
		if (l->looks == 0) {
			printf("%-16s  not looked at\n", c->band[b].id);
			continue;
		}
		printf("%-16s %9.3f %9" PRId64 " %10.2f %11.1f %9" PRId64 "\n", c->band[b].id,
		       (double)l->looked_us / HOUR_US, l->looks, l->revisit_s, l->floor_dbfs,
		       l->clipped);
		if (l->share < 1)
			printf("%-16s  only %.0f %% of its channels were looked at\n", "",
			       100 * l->share);
		if (unknown_deaf(c, NULL, b))
			printf("%-16s  deaf here, not quiet: nothing heard, and its noise is that with the antenna off (%+.1f dB)\n",
			       "", l->floor_dbfs - l->off_dbfs);
	}
	/* Dwelling elsewhere is not looking here; neither is silence. */
	printf("\n\"looked h\" is the time the receiver listened to each channel; in all the rest of the\n"
	       "%.2f h that it ran it was not looking there, which is not the same as quiet.\n",
	       (double)c->wall_us / HOUR_US);
}

/* Overs of these lengths are told of. */
static const double over_s[] = { 1, OCCUPANCY_OVER_S, 20 };

static void use(const struct census *c)
{
	printf("\nin use            SRO %%  likely           FBO %%  busy hour        met: 1 s    5 s   20 s"
	       "   none heard\n");
	for (int b = 0; b < c->bands; b++) {
		const struct looked *l = &c->looked[b];
		struct band_use u = occupancy_of_band(c, b);
		char busy[40] = "-", likely[32];
		if (l->looks == 0)
			continue;
		double look_s = 1e-6 * (double)l->looked_us / (double)l->looks;
		if (u.busy_hour >= 0 && u.busy_hour_sro > 0)
			snprintf(busy, sizeof busy, "%02d-%02d h %.2g %%", u.busy_hour,
				 (u.busy_hour + 1) % DAY_HOURS, 100 * u.busy_hour_sro);
		if (u.sro > 0)
			snprintf(likely, sizeof likely, "%.3f-%.3f", 100 * u.sro_likely.low,
				 100 * u.sro_likely.high);
		else
			snprintf(likely, sizeof likely, "< %.1g", 100 * u.sro_likely.high);
		printf("%-16s %6.3f  %-15s %6.3f  %-16s  ", c->band[b].id, 100 * u.sro, likely,
		       100 * u.fbo, busy);
		for (size_t i = 0; i < sizeof over_s / sizeof over_s[0]; i++)
			printf(" %4.0f %%", 100 * occupancy_seen(over_s[i], look_s, l->revisit_s));
		double chance = occupancy_seen(OCCUPANCY_OVER_S, look_s, l->revisit_s);
		printf("   < %.2g/h\n",
		       interval_none_hour(chance, (double)l->looks * l->revisit_s));
	}
	printf("\nSRO: mean occupancy of the band's channels, always-on ones too; FBO: of its time and spectrum\n"
	       "(terms of ITU-R SM.1880 and SM.2256). met: share of overs of that length that a look meets.\n"
	       "none heard: of a channel without any, fewer overs of %g s an hour than that (95 %%).\n",
	       OCCUPANCY_OVER_S);
}

static void week(const struct census *c)
{
	static const char marks[WEEK_STATES] = {
		[WEEK_NOT_LOOKED] = '?', [WEEK_QUIET] = '.', [WEEK_HEARD] = '#'
	};

	printf("\nhours of the week, %s: # heard, . quiet, ? not looked at; days that are not there were not\n"
	       "looked at\n%-20s 0     6     12    18\n",
	       c->zone, "");
	for (int b = 0; b < c->bands; b++) {
		const char *name = c->band[b].id;
		for (int d = 0; d < WEEK_HOURS / DAY_HOURS; d++) {
			const struct week_cell *cell = &c->week[b].cell[d * DAY_HOURS];
			char line[DAY_HOURS + 1] = "";
			bool any = false;
			for (int h = 0; h < DAY_HOURS; h++) {
				enum week_state is = week_state(&cell[h]);
				any |= is != WEEK_NOT_LOOKED;
				line[h] = marks[is];
			}
			if (!any)
				continue;
			printf("%-16s %s %s\n", name, week_day_name(d), line);
			name = "";
		}
	}
}

static void table(const struct state *s)
{
	const struct census *c = s->census;

	printf("%s\n\n", s->file);
	for (int i = 0; i < s->runs; i++)
		run(&s->run[i]);
	if (c->part[0])
		printf("\nonly %s was asked for\n", c->part);
	printf("\nheard %d overs on %d channels of %d bands, at %g dB over the noise or more\n",
	       c->overs, c->channels, c->bands, 0.1 * c->squelch_ddb);
	bands(c);
	use(c);
	week(c);
	printf(s->incidents ? "\nincidents\n" : "\nno incidents\n");
	for (int i = 0; i < s->incidents; i++)
		incident(&s->incident[i]);
}

#define EVERY_US INT64_C(5000000)

/* All of what is being written, as it is: no part of it, and at the daemon's own threshold. */
static int verb_follow(const struct choice *o)
{
	const struct night_wants *n = &o->night;
	struct fault why = { 0 };

	if (o->csv || o->fields || n->site || n->since.text || n->until.text || n->band.n ||
	    n->service.n)
		fault_set(
			&why, FAULT_INPUT,
			"--follow shows all of a survey, for people or with --json: leave out the "
			"part, --csv and --fields");
	else if (follow(o->file[0], o->every_us ? o->every_us : EVERY_US, o->json, &why) == 0)
		return 0;
	return command_fail(&why);
}

int verb_status(const struct choice *o)
{
	if (o->follow)
		return verb_follow(o);

	struct fault why = { 0 };
	struct gathered g = { 0 };
	int code = 1;

	struct census *c = night_read(o->file[0], &o->night, &why);
	if (!c || gather(o, &g, &why) < 0) {
		code = command_fail(&why);
	} else {
		const struct state s = { o->file[0], c, g.run, g.runs, g.incident, g.incidents };
		int done = telling(o, "bands", tell_status, &s);
		if (done > 0)
			table(&s);
		code = done < 0 ? 1 : command_end();
	}
	free(g.run);
	free(g.incident);
	census_destroy(c);
	return code;
}
