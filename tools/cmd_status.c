#include "tools/command.h"
#include "tools/night.h"
#include "tools/plan/words.h"

#include <inttypes.h>
#include <stdio.h>

static int run(void *self, const struct run_row *r)
{
	char from[TIME_TEXT], to[TIME_TEXT];

	(void)self;
	printf("run %" PRId64 "  %s to %s\n", r->id, words_time(from, r->start_us),
	       r->end_us ? words_time(to, r->end_us) : "no end kept: still running, or cut off");
	printf("       station %s, source %s, version %s\n", r->station, r->source, r->version);
	printf("       %.3f MS/s, gain %.1f dB, %+.1f ppm, looks of %.1f ms, %g false alarms a look, at least %g dB\n",
	       r->rate_hz / 1e6, r->gain_ddb / 10.0, r->ppm, 1e-3 * (double)r->dwell_us, r->pfa,
	       r->margin_db);
	return 0;
}

struct incidents {
	int n;
};

static int incident(void *self, const struct incident_row *r)
{
	struct incidents *seen = self;
	char from[TIME_TEXT];

	if (seen->n++ == 0)
		printf("\nincidents\n");
	printf("  %s  %s", words_time(from, r->at_us), r->what);
	if (r->until_us > r->at_us)
		printf(" for %.0f s", 1e-6 * (double)(r->until_us - r->at_us));
	printf("%s%s\n", r->text[0] ? ": " : "", r->text);
	return 0;
}

static void bands(const struct census *c)
{
	printf("\nband              looked h  looks/ch  revisit s  floor dBFS  overload  UTC hours looked at\n");
	for (int b = 0; b < c->bands; b++) {
		const struct looked *l = &c->looked[b];
		char hours[160];
		if (l->looks == 0) {
			printf("%-16s  not looked at\n", c->band[b].id);
			continue;
		}
		printf("%-16s %9.3f %9" PRId64 " %10.2f %11.1f %9" PRId64 "  %s\n", c->band[b].id,
		       (double)l->looked_us / HOUR_US, l->looks, l->revisit_s, l->floor_dbfs,
		       l->clipped, words_hours(l->of_day, hours, sizeof hours));
		if (l->share < 1)
			printf("%-16s  only %.0f %% of its channels were looked at\n", "",
			       100 * l->share);
	}
	/* Dwelling elsewhere is not looking here; neither is silence. */
	printf("\n\"looked h\" is the time the receiver listened to each channel; in all the rest of the\n"
	       "%.2f h that it ran it was not looking there, which is not the same as quiet.\n",
	       (double)c->wall_us / HOUR_US);
}

static int show(struct survey *s, const struct census *c, const char *path, struct fault *why)
{
	struct incidents seen = { 0 };
	int overs = c->overs;

	printf("%s\n\n", path);
	if (survey_each_run(s, run, NULL, why) != 0)
		return -1;
	printf("\nheard %d overs on %d channels of %d bands, at 6 dB over the noise or more\n",
	       overs, c->channels, c->bands);
	bands(c);
	if (survey_each_incident(s, incident, &seen, why) != 0)
		return -1;
	if (seen.n == 0)
		printf("\nno incidents\n");
	return 0;
}

static int status(int argc, char **argv)
{
	struct fault why = { 0 };
	struct choice o;
	int code = command_read(&command_status, argc, argv, 0, 1, 1, &o);

	if (code)
		return code - 1;
	struct survey *s = survey_read(o.file[0], &why);
	struct census *c = s ? night_read(o.file[0], o.site, o.squelch_ddb, &why) : NULL;
	if (!c || show(s, c, o.file[0], &why) < 0)
		code = command_fail(&why);
	else
		code = command_end();
	census_destroy(c);
	survey_close(s);
	return code;
}

const struct command command_status = {
	.name = "status", .words = "SURVEY", .run = status,
	.help = "what was looked at, when, and what went wrong",
	.options = "",
};
