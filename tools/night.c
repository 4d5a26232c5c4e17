#include "tools/night.h"

#include "tools/plan/words.h"

#include <stdio.h>
#include <string.h>
#include <time.h>

struct reading {
	struct tally   *tally;
	struct narrowed part;
	int             bands;          /* of the survey */
};

/* The band among those read, or -1. */
static int32_t band_of(const struct reading *r, int32_t band)
{
	return band >= 0 && band < r->bands ? r->part.band_of[band] : -1;
}

/* Of the rows of hours only such are taken that lie in the range as a whole: when in it something
 * was looked at or heard, they do not tell. */
static bool hours_in(const struct reading *r, int64_t run, int64_t hour, int32_t more_hours)
{
	return site_has(&r->part.site, run) && hour >= r->part.since_us &&
	       (r->part.until_us == INT64_MAX ||
		hour + (1 + more_hours) * HOUR_US <= r->part.until_us);
}

static int run(void *self, const struct run_row *row)
{
	struct reading *r = self;
	struct run_row cut = *row;

	if (!narrow_has(&r->part, row->id, row->start_us, row->end_us ? row->end_us : INT64_MAX))
		return 0;
	if (cut.start_us < r->part.since_us)
		cut.start_us = r->part.since_us;
	if (cut.end_us > r->part.until_us)
		cut.end_us = r->part.until_us;
	return tally_run(r->tally, &cut);
}

static int coverage(void *self, const struct coverage_row *row)
{
	struct reading *r = self;
	struct coverage_row as = *row;

	as.band = band_of(r, row->band);
	return as.band >= 0 && hours_in(r, row->run, row->hour, row->more_hours) ?
		tally_coverage(r->tally, &as) : 0;
}

static int activity(void *self, const struct activity_row *row)
{
	struct reading *r = self;
	struct activity_row as = *row;

	as.band = band_of(r, row->band);
	return as.band >= 0 && hours_in(r, row->run, row->hour, row->more_hours) ?
		tally_activity(r->tally, &as) : 0;
}

/* By when it began. */
static int transmission(void *self, const struct transmission_row *row)
{
	struct reading *r = self;
	struct transmission_row as = *row;

	as.band = band_of(r, row->band);
	return as.band >= 0 && narrow_has(&r->part, row->run, row->first_us, row->first_us + 1) ?
		tally_transmission(r->tally, &as) : 0;
}

/* Whose making a line is, is not a matter of hours. */
static int artefact(void *self, const struct artefact_row *row)
{
	struct reading *r = self;
	struct artefact_row as = *row;

	as.band = band_of(r, row->band);
	return as.band >= 0 && site_has(&r->part.site, row->run) ? tally_artefact(r->tally, &as)
								 : 0;
}

static int32_t ahead_s(int64_t us)
{
	time_t s = (time_t)(us / 1000000);
	struct tm tm;

	return localtime_r(&s, &tm) ? (int32_t)tm.tm_gmtoff : 0;
}

/* "UTC", "CET (UTC+01:00)" */
static size_t zone_at(int64_t us, char *out, size_t size)
{
	time_t s = (time_t)(us / 1000000);
	struct tm tm;

	if (!localtime_r(&s, &tm) || tm.tm_gmtoff == 0)
		return (size_t)snprintf(out, size, "UTC");
	long minutes = tm.tm_gmtoff / 60, off = minutes < 0 ? -minutes : minutes;
	return (size_t)snprintf(out, size, "%.12s (UTC%c%02ld:%02ld)", tm.tm_zone,
				minutes < 0 ? '-' : '+', off / 60 % 24, off % 60);
}

#define WEEK_US (7 * 24 * HOUR_US)

/* As it is when the survey begins, and the first other one until its end, where the clocks
 * changed: "CET (UTC+01:00), then CEST (UTC+02:00)". */
static void zone_name(int64_t from_us, int64_t to_us, char out[ZONE_TEXT])
{
	size_t n = zone_at(from_us, out, ZONE_TEXT);
	int64_t us = from_us;

	while (us < to_us && ahead_s(us) == ahead_s(from_us))
		us = us + WEEK_US < to_us ? us + WEEK_US : to_us;
	if (us > from_us && ahead_s(us) != ahead_s(from_us)) {
		n += (size_t)snprintf(out + n, ZONE_TEXT - n, ", then ");
		zone_at(us, out + n, ZONE_TEXT - n);
	}
}

/* A range in which nobody was at work is a slip of the hand, not a quiet night. */
static int check_met(const struct census *c, const struct narrowed *n, const char *path,
		     struct fault *why)
{
	char from[TIME_TEXT] = "its beginning", to[TIME_TEXT] = "its end";

	if (c->wall_us > 0 || (n->since_us == INT64_MIN && n->until_us == INT64_MAX))
		return 0;
	if (n->since_us != INT64_MIN)
		words_time(from, n->since_us);
	if (n->until_us != INT64_MAX)
		words_time(to, n->until_us);
	return fault_set(why, FAULT_INPUT,
			 "%s: nothing was looked at from %s to %s, --since and --until must "
			 "leave an hour of it",
			 path, from, to);
}

static struct census *read_at(const char *path, const struct night_wants *w, struct fault *why)
{
	const struct band *band;
	struct census *c = NULL;
	struct reading r = { 0 };
	struct survey *s = survey_read(path, why);

	if (!s || narrow(w, s, path, &r.part, why) < 0)
		goto out;
	/* What a see returns -1 for is want of memory; the survey fills why itself. */
	fault_set(why, FAULT_FATAL, "%s: no memory", path);
	r.bands = survey_bands(s, &band);
	r.tally = tally_create(r.part.band, r.part.bands, (int)(w->squelch_db * 10 + 0.5));
	if (!r.tally)
		goto out;
	tally_zone(r.tally, ahead_s, "");
	if (w->hourly)
		tally_hourly(r.tally);
	if (survey_each_run(s, run, &r, why) == 0 &&
	    survey_each_coverage(s, coverage, &r, why) == 0 &&
	    survey_each_activity(s, activity, &r, why) == 0 &&
	    survey_each_transmission(s, transmission, &r, why) == 0 &&
	    survey_each_artefact(s, artefact, &r, why) == 0)
		c = tally_finish(r.tally);
	if (c)
		memcpy(c->part, r.part.words, sizeof c->part);
	if (c)
		zone_name(c->start_us, c->end_us, c->zone);
	if (c && check_met(c, &r.part, path, why) < 0) {
		census_destroy(c);
		c = NULL;
	}
out:
	tally_destroy(r.tally);
	narrow_free(&r.part);
	survey_close(s);
	return c;
}

/* Which frequencies are one repeater's does not depend on how strong a signal is wanted. */
struct census *night_read(const char *path, const struct night_wants *w, struct fault *why)
{
	struct night_wants usual = *w;
	struct census *c = read_at(path, w, why), *all = NULL;

	usual.squelch_db = SQUELCH_PRESET_DB;
	if (!c || w->squelch_db <= usual.squelch_db)
		return c;
	all = read_at(path, &usual, why);
	if (all) {
		pairs_adopt(c, all);
	} else {
		census_destroy(c);
		c = NULL;
	}
	census_destroy(all);
	return c;
}
