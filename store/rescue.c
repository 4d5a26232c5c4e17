#include "store/rescue.h"

#include <inttypes.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <time.h>

#include "store/draft.h"
#include "store/salvage.h"
#include "store/text.h"

struct rescue {
	struct salvage *s;
	struct draft    draft;
	struct band    *band;           /* those that are left                    */
	int             bands;
	int32_t        *band_now;       /* [stage's bands] -1: lost               */
	struct { int64_t was, is; } *run;
	int             runs;
	struct doubt   *doubt;
	int             doubts;
	struct rescue_sum *sum;
	void          (*say)(void *self, const char *line);
	void           *self;
};

/* ---- bands and runs, which all others need ---- */

static int keep_bands(struct rescue *r, struct fault *why)
{
	const struct survey *g = r->s->stage;

	r->band = calloc((size_t)g->n_bands + 1, sizeof *r->band);
	r->band_now = calloc((size_t)g->n_bands + 1, sizeof *r->band_now);
	if (!r->band || !r->band_now)
		return fault_set(why, FAULT_RETRY, "%s: out of memory", g->path);
	for (int i = 0; i < g->n_bands; i++) {
		bool lost = g->bands[i].raster.count == INT32_MAX;
		r->band_now[i] = lost ? -1 : r->bands;
		if (!lost)
			r->band[r->bands++] = g->bands[i];
	}
	if (r->bands == 0)
		return fault_set(why, FAULT_FATAL,
				 "%s: its bands are lost, and without them nothing can be "
				 "saved",
				 g->path);
	return 0;
}

static int put_runs(struct rescue *r, struct fault *why)
{
	struct run_row row;
	int got;

	r->run = calloc((size_t)r->s->rows[TABLE_RUN] + 1, sizeof *r->run);
	if (!r->run)
		return fault_set(why, FAULT_RETRY, "%s: out of memory", r->s->stage->path);
	while ((got = survey_next_row(r->s->stage, TABLE_RUN, &row, why)) > 0) {
		if (survey_add_row(r->draft.survey, TABLE_RUN, &row, why) < 0)
			return -1;
		r->run[r->runs].was = row.id;
		r->run[r->runs++].is = database_last_id(r->draft.survey->db);
	}
	return got;
}

static int64_t run_now(const struct rescue *r, int64_t was)
{
	for (int i = 0; i < r->runs; i++)
		if (r->run[i].was == was)
			return r->run[i].is;
	return -1;
}

/* ---- all others ---- */

/* What of the channels from .. to is beyond doubt: the first stretch of it; false: nothing more. */
static bool beyond_doubt(const struct rescue *r, int64_t *from, int64_t *to)
{
	for (int i = 0; i < r->doubts && *from <= *to; i++) {
		const struct doubt *d = &r->doubt[i];
		if (d->to < *from || d->from > *to)
			continue;
		if (d->from > *from) {
			*to = d->from - 1;
			return true;
		}
		*from = d->to == SALVAGE_CHANNELS_END ? SALVAGE_CHANNELS_END : d->to + 1;
	}
	return *from <= *to;
}

static int put_coverage(struct rescue *r, const struct coverage_row *row, int32_t was,
			struct fault *why)
{
	int64_t at = salvage_key(was, row->first), last = at + row->count - 1;
	struct coverage_row part = *row;

	for (int64_t from = at, to = last; beyond_doubt(r, &from, &to); from = to + 1, to = last) {
		part.first = row->first + (int32_t)(from - at);
		part.count = (int32_t)(to - from + 1);
		if (survey_add_row(r->draft.survey, TABLE_COVERAGE, &part, why) < 0)
			return -1;
	}
	return 0;
}

static int put_row(struct rescue *r, enum table_id t, union any_row *row, struct fault *why)
{
	int64_t *run = survey_row_run(t, row), run_is = run ? run_now(r, *run) : 0;
	int32_t *band = survey_row_band(t, row), was = band ? *band : 0;

	if (run_is < 0 || (band && r->band_now[was] < 0)) {
		r->sum->table[t].homeless++;
		return 0;
	}
	if (run)
		*run = run_is;
	if (band)
		*band = r->band_now[was];
	r->sum->table[t].saved++;
	return t == TABLE_COVERAGE ? put_coverage(r, &row->coverage, was, why)
				   : survey_add_row(r->draft.survey, t, row, why);
}

static int put_table(struct rescue *r, enum table_id t, struct fault *why)
{
	union any_row row;
	int got;

	while ((got = survey_next_row(r->s->stage, t, &row, why)) > 0)
		if (put_row(r, t, &row, why) < 0)
			return -1;
	return got;
}

static int fill(struct rescue *r, struct fault *why)
{
	if (keep_bands(r, why) < 0 || survey_begin(r->draft.survey, why) < 0 ||
	    survey_lay_out(r->draft.survey, r->band, r->bands, why) < 0 || put_runs(r, why) < 0)
		return -1;
	for (enum table_id t = TABLE_RUN + 1; t < TABLE_COUNT; t++)
		if (put_table(r, t, why) < 0)
			return -1;
	return survey_commit(r->draft.survey, why);
}

/* ---- what is to be said ---- */

static void sum_up(struct rescue *r)
{
	struct rescue_sum *sum = r->sum;
	const struct salvage *s = r->s;

	sum->pages = pages_count(s->pages);
	sum->pages_lost = s->pages_lost;
	sum->table[TABLE_BAND].saved = r->bands;
	sum->table[TABLE_RUN].saved = r->runs;
	sum->whole = s->pages_lost == 0 && r->doubts == 0;
	for (int t = 0; t < TABLE_COUNT; t++) {
		sum->table[t].name = survey_table_name((enum table_id)t);
		if (s->pages_lost > 0 && t != TABLE_BAND && s->highest_id[t] > s->rows[t])
			sum->table[t].missing = s->highest_id[t] - s->rows[t];
		sum->whole &= sum->table[t].homeless == 0;
	}
}

/* The channels that were taken out of coverage, band by band. */
static void say_channels(const struct rescue *r)
{
	char line[256];
	int64_t done = -1;

	for (int i = 0; i < r->doubts; i++)
		for (int b = 0; b < r->s->stage->n_bands; b++) {
			const struct band *band = &r->s->stage->bands[b];
			int64_t from = salvage_key(b, 0),
				last = salvage_key(b, band->raster.count - 1);
			int64_t low = from > r->doubt[i].from ? from : r->doubt[i].from;
			int64_t high = last < r->doubt[i].to ? last : r->doubt[i].to;
			low = low > done ? low : done + 1;
			if (low > high || r->band_now[b] < 0)
				continue;
			done = high;
			char a[FREQ_TEXT], z[FREQ_TEXT];
			snprintf(line, sizeof line,
				 "%s: what was heard on %" PRId64 " channels from %s to %s is "
				 "lost, so they count as not looked at",
				 band->id, high - low + 1,
				 freq_format_mhz(
					 a, raster_centre(&band->raster, (int32_t)(low - from))),
				 freq_format_mhz(
					 z, raster_centre(&band->raster, (int32_t)(high - from))));
			r->say(r->self, line);
		}
}

/* Hours that anything tells of, and how many channels are covered in each, of the most in any. */
static const char hours_sql[] =
	"WITH told(hour) AS (SELECT hour FROM coverage UNION SELECT hour FROM activity"
	" UNION SELECT first_us / 3600000000 * 3600000000 FROM transmission"
	" UNION SELECT start_us / 3600000000 * 3600000000 FROM strip),"
	" part AS (SELECT DISTINCT band, hour, first, count FROM coverage),"
	" sums AS (SELECT band, hour, sum(count) AS n FROM part GROUP BY band, hour),"
	" most AS (SELECT band, max(n) AS n FROM sums GROUP BY band)"
	" SELECT band.id, told.hour, ifnull(sums.n, 0), ifnull(most.n, 0) FROM band, told"
	" LEFT JOIN most ON most.band=band.band"
	" LEFT JOIN sums ON sums.band=band.band AND sums.hour=told.hour"
	" WHERE ifnull(sums.n, 0) < max(ifnull(most.n, 0), 1) ORDER BY band.band, told.hour";

static int say_hours(const struct rescue *r, struct fault *why)
{
	struct statement *q = database_prepare(r->draft.survey->db, hours_sql, why);
	char line[256], hour[32], id[64];
	int got = q ? 0 : -1;

	while (q && (got = statement_step(r->draft.survey->db, q, why)) > 0) {
		time_t at = (time_t)(statement_int(q, 1) / 1000000);
		struct tm tm;
		strftime(hour, sizeof hour, "%Y-%m-%d %H:00", gmtime_r(&at, &tm));
		snprintf(id, sizeof id, "%s", statement_text(q, 0));
		if (statement_int(q, 3) == 0)
			snprintf(line, sizeof line, "%s: %s UTC is not covered", text_tame(id),
				 hour);
		else
			snprintf(line, sizeof line,
				 "%s: %s UTC is covered on %" PRId64 " channels, not %" PRId64,
				 text_tame(id), hour, statement_int(q, 2), statement_int(q, 3));
		r->say(r->self, line);
	}
	return got;
}

int survey_rescue(const char *from, const char *to, void (*say)(void *self, const char *line),
		  void *self, struct rescue_sum *sum, struct fault *why)
{
	struct rescue r = { .sum = sum, .say = say, .self = self };
	struct stat st;
	int result = -1;

	*sum = (struct rescue_sum){ .tables = TABLE_COUNT };
	if (survey_check_path(from, NULL, why) < 0)
		return -1;
	if (lstat(to, &st) == 0)
		return fault_set(why, FAULT_INPUT, "%s: is there already, name a new file", to);
	r.s = salvage_open(from, why);
	if (!r.s)
		return -1;
	r.doubts = salvage_doubts(r.s, &r.doubt);
	if (r.doubts < 0)
		fault_set(why, FAULT_RETRY, "%s: out of memory", from);
	else if (draft_open(&r.draft, to, why) == 0 && fill(&r, why) == 0) {
		sum_up(&r);
		say_channels(&r);
		result = sum->whole ? 0 : say_hours(&r, why);
		if (result == 0)
			result = draft_finish(&r.draft, to, why);
	}
	draft_drop(&r.draft);
	salvage_close(r.s);
	free(r.band);
	free(r.band_now);
	free(r.run);
	free(r.doubt);
	return result;
}
