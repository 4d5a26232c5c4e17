#include "tools/night.h"

#include <stdio.h>
#include <time.h>

#include "tools/site.h"

struct reading {
	struct tally *tally;
	struct site   site;
};

/* One for each kind of row: hands it to the tally, if the site is the one. */
#define TAKE(noun, of) \
static int noun(void *self, const struct noun##_row *row) \
{ \
	struct reading *r = self; \
\
	return site_has(&r->site, row->of) ? tally_##noun(r->tally, row) : 0; \
}

TAKE(run, id)
TAKE(coverage, run)
TAKE(activity, run)
TAKE(transmission, run)
TAKE(artefact, run)

static int32_t ahead_s(int64_t us)
{
	time_t s = (time_t)(us / 1000000);
	struct tm tm;

	return localtime_r(&s, &tm) ? (int32_t)tm.tm_gmtoff : 0;
}

/* "UTC", "CET (UTC+01:00)": as it is now in the survey. */
static void zone_name(int64_t us, char out[32])
{
	time_t s = (time_t)(us / 1000000);
	struct tm tm;

	if (!localtime_r(&s, &tm) || tm.tm_gmtoff == 0) {
		snprintf(out, 32, "UTC");
		return;
	}
	long minutes = tm.tm_gmtoff / 60, off = minutes < 0 ? -minutes : minutes;
	snprintf(out, 32, "%.12s (UTC%c%02ld:%02ld)", tm.tm_zone, minutes < 0 ? '-' : '+', off / 60 % 24,
		 off % 60);
}

static int first_start(void *self, const struct run_row *row)
{
	*(int64_t *)self = row->start_us;
	return 1;
}

struct census *night_read(const char *path, const char *site, int squelch_ddb, struct fault *why)
{
	const struct band *band;
	struct census *c = NULL;
	struct reading r = { 0 };
	char zone[32];
	int64_t start = 0;
	struct survey *s = survey_read(path, why);

	if (!s || site_choose(s, path, site, &r.site, why) < 0)
		goto out;
	/* What a see returns -1 for is want of memory; the survey fills why itself. */
	fault_set(why, FAULT_FATAL, "%s: no memory", path);
	int n = survey_bands(s, &band);
	r.tally = tally_create(band, n, squelch_ddb);
	if (!r.tally || survey_each_run(s, first_start, &start, why) < 0)
		goto out;
	zone_name(start, zone);
	tally_zone(r.tally, ahead_s, zone);
	if (survey_each_run(s, run, &r, why) == 0 &&
	    survey_each_coverage(s, coverage, &r, why) == 0 &&
	    survey_each_activity(s, activity, &r, why) == 0 &&
	    survey_each_transmission(s, transmission, &r, why) == 0 &&
	    survey_each_artefact(s, artefact, &r, why) == 0)
		c = tally_finish(r.tally);
out:
	tally_destroy(r.tally);
	site_free(&r.site);
	survey_close(s);
	return c;
}
