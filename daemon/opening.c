#include "daemon/opening.h"

#include <math.h>
#include <stdio.h>

#include "store/setting_files.h"

/* "dongle 1, R820T + dongle 2, R820T", as far as there is room. */
static void name_sources(const struct opening *o, char *out, size_t size)
{
	size_t n = 0;

	for (int i = 0; i < o->n_sources && n < size; i++)
		n += (size_t)snprintf(out + n, size - n, "%s%s", i ? " + " : "",
				      o->sources[i].about.label);
}

static struct run_row run_of(const struct opening *o)
{
	const struct source_about *a = &o->sources[0].about;
	struct run_row r = {
		.start_us = a->start_us, .rate_hz = a->rate_hz,
		.gain_ddb = (int32_t)lround(o->station->gain_db * 10), .ppm = o->station->ppm,
		.dwell_us = watch_look_us(o->station, a), .pfa = o->station->false_alarm,
		.margin_db = o->station->margin_db,
	};

	snprintf(r.station, sizeof r.station, "%s", o->station->name);
	name_sources(o, r.source, sizeof r.source);
	snprintf(r.version, sizeof r.version, "%s", BANDCENSUS_VERSION);
	return r;
}

/* The station's, its band plan's and the town's. */
static int keep_settings(const struct opening *o, struct survey *s, int64_t run, struct fault *why)
{
	char band_plan[4096] = "";
	const char *const files[] = { o->config, band_plan, o->sources[0].about.settings };

	if (o->config && o->station->band_plan[0] &&
	    settings_beside(o->config, o->station->band_plan, band_plan, sizeof band_plan) < 0)
		return fault_set(why, FAULT_INPUT, "%s: band_plan is too long a path", o->config);
	return setting_files_keep(s, run, files, sizeof files / sizeof files[0], why);
}

struct survey *opening_write(const struct opening *o, struct run_row *run, struct fault *why)
{
	*run = run_of(o);
	struct survey *s = survey_write(o->path, run, o->bands, o->n_bands, why);

	if (s && keep_settings(o, s, run->id, why) < 0) {
		survey_close(s);
		return NULL;
	}
	return s;
}
