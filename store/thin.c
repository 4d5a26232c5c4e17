#include "store/thin.h"

#include <stddef.h>
#include <stdio.h>
#include <stdlib.h>

#include "store/picture.h"
#include "store/room.h"
#include "store/survey_file.h"

#define DAY_US  (24 * HOUR_US)
#define AT_ONCE 256             /* rows joined in one transaction */

/* ---- accounts ---- */

static int add_coverage(struct survey *s, const union any_row *row, struct fault *why)
{
	return survey_add_coverage(s, &row->coverage, why);
}

static int add_activity(struct survey *s, const union any_row *row, struct fault *why)
{
	return survey_add_activity(s, &row->activity, why);
}

static int add_parked(struct survey *s, const union any_row *row, struct fault *why)
{
	return survey_add_parked(s, &row->parked, why);
}

#define ACCOUNT(noun, table, key) { table, key, offsetof(struct noun##_row, hour), \
				    offsetof(struct noun##_row, more_hours), add_##noun }
static const struct account {
	enum table_id t;
	const char   *key;
	size_t        hour, more_hours;
	int         (*add)(struct survey *s, const union any_row *row, struct fault *why);
} accounts[THIN_DONE] = {
	[THIN_COVERAGE] = ACCOUNT(coverage, TABLE_COVERAGE, "hour, band, first, run, count"),
	[THIN_ACTIVITY] = ACCOUNT(activity, TABLE_ACTIVITY, "band, channel, hour, run"),
	[THIN_PARKED] = ACCOUNT(parked, TABLE_PARKED, "hour, band, first, run, count"),
};

/* The first of those that are due: which ones is the same when asked again, as long as none is
 * dropped, for what they are added to is not due. */
static void which_aged(const struct account *a, const char *before_us, char out[SURVEY_SQL])
{
	snprintf(out, SURVEY_SQL, "WHERE hour<%s AND hour%%%lld<>0 ORDER BY %s LIMIT %d", before_us,
		 (long long)DAY_US, a->key, AT_ONCE);
}

static struct statement *statement_of(struct survey *s, const struct account *a, struct fault *why)
{
	char which[SURVEY_SQL], sql[SURVEY_SQL];

	which_aged(a, "?1", which);
	survey_choose_sql(a->t, which, sql);
	if (!s->aged[a->t])
		s->aged[a->t] = database_prepare(s->db, sql, why);
	return s->aged[a->t];
}

/* How many; -1. */
static int read_aged(struct survey *s, const struct account *a, int64_t before_us,
		     union any_row rows[AT_ONCE], struct fault *why)
{
	struct statement *q = statement_of(s, a, why);
	int n = 0, got = -1;

	if (q)
		statement_set_int(q, 1, before_us);
	while (q && (got = statement_step(s->db, q, why)) > 0) {
		const char *bad = survey_get_row(a->t, q, &rows[n]);
		if (!bad && !survey_in_place(s, a->t, &rows[n]))
			bad = "band or channel";
		if (bad) {
			statement_reset(q);
			return survey_damaged(s, a->t, bad, why);
		}
		n++;
	}
	return got < 0 ? -1 : n;
}

static int drop_aged(struct survey *s, const struct account *a, int64_t before_us,
		     struct fault *why)
{
	char before[24], which[SURVEY_SQL], sql[3 * SURVEY_SQL];
	const char *name = survey_table_name(a->t);

	snprintf(before, sizeof before, "%lld", (long long)before_us);
	which_aged(a, before, which);
	snprintf(sql, sizeof sql, "DELETE FROM %s WHERE (%s) IN (SELECT %s FROM %s %s)", name,
		 a->key, a->key, name, which);
	return database_run(s->db, sql, why);
}

/* Hours become days: each is added to the account that has the day's first hour. How many. */
static int join_days(struct survey *s, const struct account *a, int64_t before_us,
		     struct fault *why)
{
	union any_row *rows = malloc(AT_ONCE * sizeof *rows);
	int n = -1;

	if (!rows)
		return fault_set(why, FAULT_RETRY, "%s: out of memory", s->path);
	n = read_aged(s, a, before_us, rows, why);
	for (int i = 0; i < n; i++) {
		int64_t *hour = (int64_t *)(void *)((char *)&rows[i] + a->hour);
		*hour -= *hour % DAY_US;
		*(int32_t *)(void *)((char *)&rows[i] + a->more_hours) = 23;
		if (a->add(s, &rows[i], why) < 0)
			n = -1;
	}
	if (n > 0 && drop_aged(s, a, before_us, why) < 0)
		n = -1;
	free(rows);
	return n;
}

/* ---- what is dropped ---- */

static int drop(struct survey *s, const char *what, int64_t before_us, int most,
		struct fault *why)
{
	char sql[256];

	snprintf(sql, sizeof sql, "%s<%lld LIMIT %d)", what, (long long)before_us, most);
	return database_run(s->db, sql, why) < 0 ? -1 : database_changes(s->db);
}

static int drop_strips(struct survey *s, int64_t before_us, struct fault *why)
{
	return drop(s, "DELETE FROM strip WHERE (start_us, band, run, cell_us) IN"
		    " (SELECT start_us, band, run, cell_us FROM strip"
		    " WHERE start_us+(cells-1)*cell_us", before_us, 64, why);
}

static int drop_overs(struct survey *s, int64_t before_us, struct fault *why)
{
	return drop(s, "DELETE FROM transmission WHERE id IN"
		    " (SELECT id FROM transmission WHERE last_us", before_us, 2000, why);
}

/* ---- stage by stage ---- */

static int64_t age_of(const struct keep *k, enum thin_stage stage)
{
	switch (stage) {
	case THIN_MINUTES:
		return k->minutes_us;
	case THIN_STRIPS:
		return k->strips_us;
	case THIN_OVERS:
		return k->overs_us;
	default:
		return k->hours_us;
	}
}

/* How many rows: 0 when nothing is due any more. The picture commits by itself. */
static int do_some(struct survey *s, enum thin_stage stage, int64_t before_us, struct fault *why)
{
	int n = -1;

	if (stage == THIN_MINUTES)
		return picture_coarsen(s, before_us, why);
	if (survey_begin(s, why) < 0)
		return -1;
	if (stage == THIN_STRIPS)
		n = drop_strips(s, before_us, why);
	else if (stage == THIN_OVERS)
		n = drop_overs(s, before_us, why);
	else
		n = join_days(s, &accounts[stage], before_us, why);
	if (n >= 0 && survey_commit(s, why) == 0)
		return n;
	survey_rollback(s);
	return -1;
}

int thin_step(struct survey *s, const struct keep *k, int64_t now_us, struct thinning *t,
	      struct fault *why)
{
	while (t->stage != THIN_DONE) {
		int64_t age = age_of(k, t->stage), before = now_us - age - (now_us - age) % DAY_US;
		int n = age > 0 && now_us > age ? do_some(s, t->stage, before, why) : 0;
		if (n < 0)
			return -1;
		t->rows += n;
		if (n > 0)
			return 1;
		t->stage++;
	}
	return 0;
}

int thin_newest(struct survey *s, int64_t *hour_us, struct fault *why)
{
	return database_number(s->db, "SELECT ifnull(max(hour), 0) FROM coverage", hour_us, why);
}

/* ---- a survey at rest ---- */

static int thin_all(struct survey *s, const struct keep *k, int64_t now_us, int64_t *rows,
		    struct fault *why)
{
	struct thinning t = { 0 };
	int more;

	while ((more = picture_tidy(s, 0, INT64_MAX, why)) > 0)
		;
	while (more >= 0 && (more = thin_step(s, k, now_us, &t, why)) > 0)
		;
	*rows = t.rows;
	return more;
}

static int tell(struct survey *s, int64_t rows, int64_t at_us, struct fault *why)
{
	struct incident_row row = { .at_us = at_us, .what = "thinned" };

	if (database_number(s->db, "SELECT ifnull(max(id), 0) FROM run", &row.run, why) < 0)
		return -1;
	snprintf(row.text, sizeof row.text,
		 "%lld rows that were older than was asked to keep them were "
		 "joined or dropped",
		 (long long)rows);
	if (survey_begin(s, why) < 0)
		return -1;
	if (survey_add_incident(s, &row, why) == 0 && survey_commit(s, why) == 0)
		return 0;
	survey_rollback(s);
	return -1;
}

/* The new one is written beside the old, and once more into the log. */
static bool has_room(const char *path, int64_t bytes)
{
	struct room r;

	return room_of(path, &r) < 0 || r.free > 2 * bytes;
}

int survey_thin(const char *path, const struct keep *k, int64_t now_us, struct thin_sum *sum,
		struct fault *why)
{
	struct survey *s = survey_amend(path, why);
	int64_t newest_us, bytes, free_bytes;
	int result = -1;

	*sum = (struct thin_sum){ 0 };
	if (!s || survey_size(s, &sum->before_bytes, &free_bytes, why) < 0 ||
	    thin_newest(s, &newest_us, why) < 0 ||
	    thin_all(s, k, now_us ? now_us : newest_us, &sum->rows, why) < 0 ||
	    (sum->rows > 0 && tell(s, sum->rows, newest_us, why) < 0) ||
	    survey_size(s, &bytes, &free_bytes, why) < 0)
		goto out;
	sum->tight = free_bytes > 0 && !has_room(path, bytes - free_bytes);
	if (free_bytes > 0 && !sum->tight && survey_shrink(s, why) < 0)
		goto out;
	result = survey_size(s, &sum->after_bytes, &free_bytes, why);
out:
	survey_close(s);
	return result;
}
