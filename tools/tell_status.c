#include "tools/export.h"

#include <math.h>

#include "tools/plan/occupancy.h"
#include "tools/plan/unknown.h"

static void run(struct teller *t, const struct run_row *r)
{
	tell_whole(t, "id", r->id, "of the run");
	tell_time(t, "from", r->start_us, "when it began");
	tell_time(t, "until", r->end_us, "when it ended; not known: still running, or cut off");
	tell_text(t, "station", r->station, "the place");
	tell_text(t, "source", r->source, "what was listened with");
	tell_text(t, "version", r->version, "of the daemon");
	tell_whole(t, "rate_hz", r->rate_hz, "samples a second");
	tell_real(t, "gain_db", 0.1 * r->gain_ddb, 1, "of the tuner");
	tell_real(t, "ppm", r->ppm, 2, "error of its crystal, as corrected");
	tell_real(t, "look_s", 1e-6 * (double)r->dwell_us, 4, "length of a look");
	tell_figure(t, "false_alarms", r->pfa, "asked for, a look and channel");
	tell_real(t, "margin_db", r->margin_db, 1, "evidence is at least so far over the floor");
}

static void hours(struct teller *t, const char *name, const struct week *w, enum week_state state,
		  const char *meaning)
{
	int64_t hour[WEEK_HOURS];
	int n = 0;

	for (int h = 0; h < WEEK_HOURS; h++)
		if (week_state(&w->cell[h]) == state)
			hour[n++] = h;
	tell_wholes(t, name, hour, n, meaning);
}

/* Shares of overs of that length that a look meets. */
static void met(struct teller *t, const struct looked *l, bool looked)
{
	double look_s = looked ? 1e-6 * (double)l->looked_us / (double)l->looks : 0;

	tell_real(t, "met_1s", looked ? occupancy_seen(1, look_s, l->revisit_s) : NAN, 3,
		  "share of overs of one second that a look meets");
	tell_real(t, "met_5s", looked ? occupancy_seen(5, look_s, l->revisit_s) : NAN, 3,
		  "of five seconds");
	tell_real(t, "met_20s", looked ? occupancy_seen(20, look_s, l->revisit_s) : NAN, 3,
		  "of twenty seconds");
	tell_figure(
	    t, "none_heard_an_hour",
	    looked ? interval_none_hour(occupancy_seen(OCCUPANCY_OVER_S, look_s, l->revisit_s),
					(double)l->looks * l->revisit_s)
		   : NAN,
	    "of a channel without any: fewer overs of five seconds an hour than that (95 %)");
}

static void band(struct teller *t, const struct census *c, int b)
{
	static const struct band nowhere = { .name = "" };
	static const struct looked nothing = { .looks = 0 };
	static const struct week no_week = { 0 };
	bool any = b < c->bands, looked = any && c->looked[b].looks > 0;
	const struct band *of = any ? &c->band[b] : &nowhere;
	const struct looked *l = any ? &c->looked[b] : &nothing;
	const struct week *w = any ? &c->week[b] : &no_week;
	struct band_use u = { .busy_hour = -1 };

	if (looked)
		u = occupancy_of_band(c, b);
	tell_text(t, "band", of->id, "id of the band");
	tell_text(t, "name", of->name, "of the band");
	tell_text(t, "service", of->service, "whose it is");
	tell_freq(t, "first_hz", of->raster.first, "its lowest channel");
	tell_freq(t, "step_hz", of->raster.step, "from channel to channel");
	tell_whole(t, "channels", of->raster.count, "in it");
	tell_whole(t, "looks", l->looks, "at each channel, mean; 0: not looked at");
	tell_real(t, "looked_h", (double)l->looked_us / HOUR_US, 4,
		  "hours that each channel was listened to, mean");
	tell_real(t, "looked_share", l->share, 3, "of its channels ever looked at");
	tell_real(t, "revisit_s", l->revisit_s > 0 ? l->revisit_s : NAN, 2, "from look to look");
	tell_real(t, "floor_dbfs", looked ? l->floor_dbfs : NAN, 1, "noise in a channel");
	tell_real(t, "off_floor_dbfs", l->off_looks > 0 ? l->off_dbfs : NAN, 1,
		  "the same with the antenna off (--baseline)");
	tell_yes(t, "deaf", any && unknown_deaf(c, NULL, b),
		 "nothing heard, and the noise is that with the antenna off: not quiet");
	tell_whole(t, "overload", l->clipped, "looks that were spoilt by it");
	tell_figure(t, "sro", looked ? u.sro : NAN,
		    "mean occupancy of its channels, 0 to 1 (ITU-R SM.1880)");
	tell_figure(t, "sro_low", looked ? u.sro_likely.low : NAN, "not below (95 %)");
	tell_figure(t, "sro_high", looked ? u.sro_likely.high : NAN, "nor above");
	tell_figure(t, "fbo", looked ? u.fbo : NAN,
		    "share of its time and spectrum in use (ITU-R SM.1880)");
	tell_real(t, "busy_hour", u.busy_hour >= 0 ? (double)u.busy_hour : NAN, 0,
		  "of the day, local, with the highest occupancy");
	tell_figure(t, "busy_hour_sro", u.busy_hour >= 0 ? u.busy_hour_sro : NAN,
		    "occupancy in it");
	met(t, l, looked);
	hours(t, "hours_heard", w, WEEK_HEARD,
	      "of the week, local, Monday's first is 0: something was heard");
	hours(t, "hours_quiet", w, WEEK_QUIET, "looked at, and nothing met");
	hours(t, "hours_not_looked", w, WEEK_NOT_LOOKED, "nobody looked, which is not quiet");
}

static void incident(struct teller *t, const struct incident_row *i)
{
	tell_time(t, "from", i->at_us, "when");
	tell_time(t, "until", i->until_us > i->at_us ? i->until_us : 0, "not known: at an instant");
	tell_text(t, "what", i->what, "lost, deaf, clock, overload, rest, warm-up, stopped ...");
	tell_text(t, "words", i->text, "for a person");
}

void tell_status(struct teller *t, const void *state)
{
	static const struct run_row no_run = { .id = 0 };
	static const struct incident_row no_incident = { .run = 0 };
	const struct state *s = state;
	const struct census *c = s->census;

	tell_open(t, NULL, true, "");
	tell_text(t, "file", s->file, "the survey");
	tell_text(t, "part", c->part, "bands that alone were asked for");
	tell_time(t, "from", c->start_us, "first looked at");
	tell_time(t, "until", c->end_us, "last looked at");
	tell_real(t, "ran_h", (double)c->wall_us / HOUR_US, 3, "hours that it ran");
	tell_real(t, "squelch_db", 0.1 * c->squelch_ddb, 1,
		  "over the noise, from which overs count");
	tell_whole(t, "overs", c->overs, "heard");
	tell_whole(t, "channels", c->channels, "on which something was heard");
	tell_text(t, "zone", c->zone, "whose local hours these are");
	tell_list(t, "runs", "starts of the daemon");
	for (int i = 0; tell_more(t, i, s->runs); i++)
		run(t, i < s->runs ? &s->run[i] : &no_run);
	tell_list(t, "bands", "upwards");
	for (int b = 0; tell_more(t, b, c->bands); b++)
		band(t, c, b);
	tell_list(t, "incidents", "as they came");
	for (int i = 0; tell_more(t, i, s->incidents); i++)
		incident(t, i < s->incidents ? &s->incident[i] : &no_incident);
	tell_close(t);
}
