#include "store/station.h"

#include <stdlib.h>
#include <string.h>

#include "store/bandplan.h"
#include "store/timetable.h"

#define LONG (100 * 366 * 86400.0)      /* s */

#define AT(member) .at = offsetof(struct station, member), \
		   .size = sizeof ((struct station *)0)->member

static const char *const kinds[] = { "daemon", NULL };

const struct field station_fields[] = {
	{ .name = "kind",
	  .type = FIELD_TEXT,
	  AT(kind),
	  .preset = "daemon",
	  .choices = kinds,
	  .help = "What this file is: daemon." },
	{ .name = "station",
	  .type = FIELD_TEXT,
	  AT(name),
	  .preset = "home",
	  .help = "Name of the place, kept in the survey." },
	{ .name = "band_plan",
	  .type = FIELD_TEXT,
	  AT(band_plan),
	  .preset = "",
	  .help = "Band plan file, beside this one unless absolute." },
	{ .name = "survey",
	  .type = FIELD_TEXTS,
	  AT(survey),
	  .preset = "",
	  .help = "Bands to survey, by id or service; none: all of the plan." },
	{ .name = "hours",
	  .type = FIELD_TEXT,
	  AT(hours),
	  .preset = "",
	  .form = timetable_hours,
	  .formed = TIMETABLE_HOURS,
	  .help = "Hours of watch in local time, 20:00-08:00; without: always." },
	{ .name = "days",
	  .type = FIELD_TEXTS,
	  AT(days),
	  .preset = "",
	  .choices = timetable_days,
	  .help = "Days on which a watch begins, monday to sunday; none: every day." },
	{ .name = "rate",
	  .type = FIELD_NUMBER,
	  AT(rate_msps),
	  .min = 0.225001,
	  .max = 3.2,
	  .preset = "2.4 MS/s",
	  .unit = "MS/s",
	  .help = "Samples a second; 2.4 is the most that dongles keep up with." },
	{ .name = "gain",
	  .type = FIELD_NUMBER,
	  AT(gain_db),
	  .min = -10,
	  .max = 60,
	  .preset = "29.7 dB",
	  .unit = "dB",
	  .help = "Tuner gain, fixed all night; the nearest the tuner has." },
	{ .name = "ppm",
	  .type = FIELD_NUMBER,
	  AT(ppm),
	  .min = -200,
	  .max = 200,
	  .preset = "0 ppm",
	  .unit = "ppm",
	  .help = "Error of the dongle's crystal, + when it runs fast." },
	{ .name = "track",
	  .type = FIELD_BOOL,
	  AT(track),
	  .preset = "true",
	  .help = "Follow the crystal by who keeps to channels; ppm is where to begin." },
	{ .name = "references",
	  .type = FIELD_FREQS,
	  AT(references),
	  .min = 1e6,
	  .max = 2e9,
	  .preset = "",
	  .help = "Carriers known to be on the air, to tell the crystal's error by." },
	{ .name = "bias_tee",
	  .type = FIELD_BOOL,
	  AT(bias_tee),
	  .preset = "false",
	  .help = "Feed an amplifier at the antenna through the dongle's socket." },
	{ .name = "dwell",
	  .type = FIELD_DURATION,
	  AT(dwell_us),
	  .min = 0.002,
	  .max = 0.5,
	  .preset = "20 ms",
	  .help = "Length of one look." },
	{ .name = "false_alarm",
	  .type = FIELD_NUMBER,
	  AT(false_alarm),
	  .min = 1e-12,
	  .max = 0.1,
	  .preset = "1e-8",
	  .unit = "",
	  .help = "Chance that a look at an empty channel opens it." },
	{ .name = "margin",
	  .type = FIELD_NUMBER,
	  AT(margin_db),
	  .min = 3,
	  .max = 20,
	  .preset = "3 dB",
	  .unit = "dB",
	  .help = "Evidence is at least this far over the floor." },
	{ .name = "hang",
	  .type = FIELD_DURATION,
	  AT(hang_us),
	  .min = 0,
	  .max = 60,
	  .preset = "500 ms",
	  .help = "Silence that ends an over, at the least." },
	{ .name = "warm_up",
	  .type = FIELD_DURATION,
	  AT(warm_up_us),
	  .min = 0,
	  .max = 7200,
	  .preset = "20 min",
	  .help = "Time the crystal is given before the first look." },
	{ .name = "sweeps_per_spell",
	  .type = FIELD_INT,
	  AT(sweeps_per_spell),
	  .min = 1,
	  .max = 100000,
	  .preset = "1",
	  .help = "Sweeps between two rests." },
	{ .name = "rest",
	  .type = FIELD_DURATION,
	  AT(rest_us),
	  .min = 0,
	  .max = 3600,
	  .preset = "0 s",
	  .help = "Rest after each spell; 0: none. Counts as not looked." },
	{ .name = "revisit",
	  .type = FIELD_DURATION,
	  AT(revisit_us),
	  .min = 0,
	  .max = 3600,
	  .preset = "0 s",
	  .help = "Each hop is swept at least so often; 0: two sweeps and a park." },
	{ .name = "park",
	  .type = FIELD_DURATION,
	  AT(park_us),
	  .min = 0.1,
	  .max = 600,
	  .preset = "10 s",
	  .help = "Length of a park, long enough for an over and its answer." },
	{ .name = "park_share",
	  .type = FIELD_NUMBER,
	  AT(park_share),
	  .min = 0,
	  .max = 0.9,
	  .preset = "0.2",
	  .unit = "",
	  .help = "Share of the time left by sweeps that goes to parks." },
	{ .name = "challenge_share",
	  .type = FIELD_NUMBER,
	  AT(challenge_share),
	  .min = 0,
	  .max = 0.1,
	  .preset = "0.05",
	  .unit = "",
	  .help = "Share of it that goes to finding out what suspicious lines are." },
	{ .name = "commit",
	  .type = FIELD_DURATION,
	  AT(commit_us),
	  .min = 0.1,
	  .max = 60,
	  .preset = "5 s",
	  .help = "What a power cut may cost at the most." },
	{ .name = "keep_minutes",
	  .type = FIELD_DURATION,
	  AT(keep_minutes_us),
	  .min = 0,
	  .max = LONG,
	  .preset = "30 d",
	  .help = "Age up to which strips are kept minute by minute; 0: any." },
	{ .name = "keep_strips",
	  .type = FIELD_DURATION,
	  AT(keep_strips_us),
	  .min = 0,
	  .max = LONG,
	  .preset = "400 d",
	  .help = "Age up to which they are kept hour by hour; 0: any." },
	{ .name = "keep_overs",
	  .type = FIELD_DURATION,
	  AT(keep_overs_us),
	  .min = 0,
	  .max = LONG,
	  .preset = "400 d",
	  .help = "Age up to which single overs are kept; 0: any." },
	{ .name = "keep_hours",
	  .type = FIELD_DURATION,
	  AT(keep_hours_us),
	  .min = 0,
	  .max = LONG,
	  .preset = "400 d",
	  .help = "Age up to which accounts are kept by the hour, then by the day; 0: any." },
	{ 0 }
};

int station_read(const char *path, struct station *out, struct fault *why)
{
	if (settings_read(path, station_fields, out, why) < 0)
		return -1;
	if (out->days.n == 0 || *out->hours)
		return 0;
	station_free(out);
	return fault_set(why, FAULT_INPUT, "%s: hours is missing, must be " TIMETABLE_HOURS ", for days are named",
			 path);
}

void station_free(struct station *s)
{
	settings_free(station_fields, s);
}

static bool chosen(const struct station *s, const struct band *b)
{
	for (int i = 0; i < s->survey.n; i++)
		if (strcmp(s->survey.at[i], b->id) == 0 || strcmp(s->survey.at[i], b->service) == 0)
			return true;
	return s->survey.n == 0;
}

static int all_known(const struct station *s, const char *path, const struct bandplan *plan,
		     struct fault *why)
{
	for (int i = 0; i < s->survey.n; i++) {
		int b = 0;
		while (b < plan->n_bands && strcmp(s->survey.at[i], plan->bands[b].id) != 0 &&
		       strcmp(s->survey.at[i], plan->bands[b].service) != 0)
			b++;
		if (b == plan->n_bands)
			return fault_set(why, FAULT_INPUT,
					 "%s: survey names \"%s\", which is neither a band nor a "
					 "service of %s", path, s->survey.at[i], s->band_plan);
	}
	return 0;
}

int station_bands(const struct station *s, const char *path, struct band **bands, int *n,
		  struct fault *why)
{
	char file[4096];
	struct bandplan plan = { 0 };
	int result = -1;

	if (!s->band_plan[0])
		return fault_set(why, FAULT_INPUT,
				 "%s: band_plan is missing, must name a band plan file", path);
	if (settings_beside(path, s->band_plan, file, sizeof file) < 0)
		return fault_set(why, FAULT_INPUT, "%s: band_plan is too long a path", path);
	if (bandplan_read(file, &plan, why) < 0)
		return -1;
	if (all_known(s, path, &plan, why) < 0)
		goto done;
	*n = 0;
	*bands = calloc((size_t)plan.n_bands + 1, sizeof **bands);
	if (!*bands) {
		fault_set(why, FAULT_FATAL, "no memory for %d bands", plan.n_bands);
		goto done;
	}
	for (int i = 0; i < plan.n_bands; i++)
		if (chosen(s, &plan.bands[i]))
			(*bands)[(*n)++] = plan.bands[i];
	result = 0;
done:
	bandplan_free(&plan);
	return result;
}
