#include "store/survey.h"

#include <errno.h>
#include <fcntl.h>
#include <stdio.h>
#include <string.h>
#include <sys/file.h>
#include <sys/stat.h>
#include <unistd.h>

#include "store/survey_file.h"
#include "store/text.h"

#define SIDE_ROOM (PATH_MAX + 16)

static const char *const side_files[] = { "", "-wal", "-shm", "-journal" };
#define SIDE_FILES (sizeof side_files / sizeof side_files[0])

static char *beside(char out[SIDE_ROOM], const struct survey *s, const char *suffix)
{
	snprintf(out, SIDE_ROOM, "%s%s", s->path, suffix);
	return out;
}

int survey_add_row(struct survey *s, enum table_id t, const void *row, struct fault *why)
{
	struct row_bytes bytes;

	/* A failed write may have undone the transaction by itself; what is added
	 * after that would be kept at once, and again by the retry. */
	if (!database_in_transaction(s->db))
		return fault_set(why, FAULT_FATAL, "%s: a %s outside begin and commit", s->path,
				 survey_table_name(t));
	if (!survey_in_place(s, t, row))
		return fault_set(why, FAULT_FATAL,
				 "%s: a %s for a band or channel it does not have", s->path,
				 survey_table_name(t));
	survey_set_row(t, s->add[t], row, &bytes);
	return statement_step(s->db, s->add[t], why);
}

static int prepare_writing(struct survey *s, struct fault *why)
{
	char sql[SURVEY_SQL];

	for (enum table_id t = 0; t < TABLE_COUNT; t++) {
		survey_insert_sql(t, sql);
		s->add[t] = database_prepare(s->db, sql, why);
		if (!s->add[t])
			return -1;
	}
	survey_choose_sql(TABLE_ACTIVITY, "WHERE band=?1 AND channel=?2 AND hour=?3 AND run=?4",
			  sql);
	s->old_activity = database_prepare(s->db, sql, why);
	if (!s->old_activity)
		return -1;
	s->end_run = database_prepare(s->db, "UPDATE run SET end_us=?1 WHERE id=?2", why);
	return s->end_run ? 0 : -1;
}

/* What was read back is tame. */
static bool same_text(const char *given, const char *kept)
{
	char text[256];

	snprintf(text, sizeof text, "%s", given);
	return strcmp(text_tame(text), kept) == 0;
}

static bool same_band(const struct band *a, const struct band *b)
{
	return same_text(a->id, b->id) && same_text(a->name, b->name) &&
	       same_text(a->service, b->service) &&
	       a->raster.first.thirds == b->raster.first.thirds &&
	       a->raster.step.thirds == b->raster.step.thirds &&
	       a->raster.count == b->raster.count && a->mode == b->mode &&
	       a->width_hz == b->width_hz;
}

static int compare_bands(const struct survey *s, const struct band *bands, int n_bands,
			 struct fault *why)
{
	for (int i = 0; i < n_bands && i < s->n_bands; i++)
		if (!same_band(&bands[i], &s->bands[i]))
			return fault_set(why, FAULT_INPUT,
					 "%s: was begun with other bands: %s is not "
					 "the %s it holds, start a new survey file",
					 s->path, bands[i].id, s->bands[i].id);
	if (n_bands != s->n_bands)
		return fault_set(why, FAULT_INPUT,
				 "%s: was begun with %d bands, not %d, start a new "
				 "survey file",
				 s->path, s->n_bands, n_bands);
	return 0;
}

/* Looks at a file that is there, and changes nothing. An empty one is what a death while
 * creating leaves: it is begun anew. */
static int check_existing(const char *path, const struct band *bands, int n_bands, bool whole, struct fault *why)
{
	struct survey *old = survey_look(path, why);
	int ok = !old ? -1 : old->version > 0 ? compare_bands(old, bands, n_bands, why) : 0;

	if (ok == 0 && whole && old->version > 0)
		ok = survey_check(old, why);
	survey_close(old);
	return ok;
}

int survey_fits(const char *path, const struct band *bands, int n_bands, struct fault *why)
{
	return check_existing(path, bands, n_bands, true, why);
}

/* Only one may write. The lock is on the log beside the file, which is there as
 * long as a writer is: the file itself carries SQLite's own locks, and those go
 * when any handle of this process on it is closed. A dead process holds nothing. */
static int take_lock(struct survey *s, struct fault *why)
{
	char log[SIDE_ROOM];
	char mode[16];
	int64_t any;

	if (database_word(s->db, "PRAGMA journal_mode=WAL", mode, sizeof mode, why) < 0)
		return -1;
	if (strcmp(mode, "wal") != 0)
		return fault_set(why, FAULT_INPUT, "%s: its disk can't keep a log beside it, use a "
				 "local disk", s->path);
	if (database_number(s->db, "SELECT count(*) FROM sqlite_schema", &any, why) < 0)
		return -1;              /* the log is made by the first read */
	s->lock = open(beside(log, s, "-wal"), O_RDWR | O_CLOEXEC);
	if (s->lock < 0)
		return fault_set(why, FAULT_RETRY, "%s: %s", log, strerror(errno));
	if (flock(s->lock, LOCK_EX | LOCK_NB) == 0)
		return 0;
	close(s->lock);
	s->lock = -1;
	return fault_set(why, FAULT_RETRY,
			 "%s: another program is writing it, stop that one or use "
			 "another file",
			 s->path);
}

static int migrate(struct survey *s, struct fault *why)
{
	char sql[96];

	if (survey_identify(s, why) < 0)       /* again: it may have changed before we held it */
		return -1;
	for (const struct migration *m = survey_migrations; m->version; m++)
		if (m->version > s->version && database_run(s->db, m->sql, why) < 0)
			return -1;
	if (s->version == survey_newest_version())
		return 0;
	snprintf(sql, sizeof sql, "PRAGMA application_id=%d; PRAGMA user_version=%d",
		 SURVEY_APPLICATION_ID, survey_newest_version());
	return database_run(s->db, sql, why);
}

static int add_bands(struct survey *s, const struct band *bands, int n_bands, struct fault *why)
{
	for (int32_t i = 0; i < n_bands; i++) {
		struct band_row row = { .band = i, .what = bands[i] };
		if (survey_add_row(s, TABLE_BAND, &row, why) < 0)
			return -1;
	}
	return 0;
}

int survey_lay_out(struct survey *s, const struct band *bands, int n_bands, struct fault *why)
{
	int old_version;

	if (migrate(s, why) < 0)
		return -1;
	old_version = s->version;
	s->version = survey_newest_version();
	if (survey_prepare_reading(s, why) < 0 || prepare_writing(s, why) < 0)
		return -1;
	if (old_version == 0 && add_bands(s, bands, n_bands, why) < 0)
		return -1;
	return survey_load_bands(s, why);
}

/* Schema, bands and run in one transaction: a survey is whole or not there. */
static int start_run(struct survey *s, struct run_row *run, const struct band *bands, int n_bands,
		     struct fault *why)
{
	if (survey_begin(s, why) < 0)
		return -1;
	if (survey_lay_out(s, bands, n_bands, why) < 0 || compare_bands(s, bands, n_bands, why) < 0)
		goto undo;
	if (survey_add_row(s, TABLE_RUN, run, why) < 0)
		goto undo;
	run->id = database_last_id(s->db);
	if (survey_commit(s, why) < 0)
		goto undo;
	return 0;
undo:
	survey_rollback(s);
	return -1;
}

static int create_file(const char *path, struct fault *why)
{
	int fd = open(path, O_RDWR | O_CREAT | O_EXCL | O_CLOEXEC, 0600);

	if (fd < 0)
		/* EEXIST: another one has made it just now. */
		return fault_set(why, errno == EEXIST ? FAULT_RETRY : fault_kind_of(errno),
				 "%s: can't be made: %s", path, strerror(errno));
	close(fd);
	return 0;
}

static void make_private(const struct survey *s)
{
	char path[SIDE_ROOM];

	for (size_t i = 0; i < SIDE_FILES; i++)
		chmod(beside(path, s, side_files[i]), 0600);
}

static void remove_files(const char *path)
{
	char side[SIDE_ROOM];

	for (size_t i = 0; i < SIDE_FILES; i++) {
		snprintf(side, sizeof side, "%.4095s%s", path, side_files[i]);
		unlink(side);
	}
}

struct survey *survey_write(const char *path, struct run_row *run,
			    const struct band *bands, int n_bands, struct fault *why)
{
	bool made = false;
	struct survey *s = survey_create(path, why);

	if (!s || survey_check_path(path, &made, why) < 0)
		goto fail;
	if (made && create_file(path, why) < 0) {
		made = false;
		goto fail;
	}
	if (!made && check_existing(path, bands, n_bands, false, why) < 0)
		goto fail;
	s->writing = true;
	s->db = database_open(path, DATABASE_WRITE, why);
	if (!s->db || take_lock(s, why) < 0 || start_run(s, run, bands, n_bands, why) < 0)
		goto fail;
	make_private(s);
	return s;
fail:
	survey_close(s);
	if (made)
		remove_files(path);
	return NULL;
}

struct survey *survey_amend(const char *path, struct fault *why)
{
	struct survey *s = survey_create(path, why), *old = NULL;

	if (!s || survey_check_path(path, NULL, why) < 0 || !(old = survey_look(path, why)))
		goto fail;
	if (old->version == 0) {
		fault_set(why, FAULT_INPUT, "%s: is empty, there is nothing in it", path);
		goto fail;
	}
	survey_close(old);
	old = NULL;
	s->writing = true;
	s->db = database_open(path, DATABASE_WRITE, why);
	if (!s->db || take_lock(s, why) < 0 || survey_begin(s, why) < 0 ||
	    survey_lay_out(s, NULL, 0, why) < 0 || survey_commit(s, why) < 0)
		goto fail;
	make_private(s);
	return s;
fail:
	survey_close(old);
	survey_close(s);
	return NULL;
}

int survey_begin(struct survey *s, struct fault *why)
{
	return database_run(s->db, "BEGIN IMMEDIATE", why);
}

int survey_commit(struct survey *s, struct fault *why)
{
	return database_run(s->db, "COMMIT", why);
}

static void sum_activity(struct activity_row *to, const struct activity_row *more)
{
	to->busy_looks += more->busy_looks;
	to->busy_us += more->busy_us;
	to->openings += more->openings;
	to->held += more->held;
	to->blind_looks += more->blind_looks;
	to->blind_us += more->blind_us;
	to->more_hours = more->more_hours > to->more_hours ? more->more_hours : to->more_hours;
	for (int i = 0; i < LEVEL_BINS; i++) {
		to->level[i] += more->level[i];
		to->level_looks[i] += more->level_looks[i];
	}
}

int survey_add_activity(struct survey *s, const struct activity_row *row, struct fault *why)
{
	struct statement *q = s->old_activity;
	struct activity_row sum;

	statement_set_int(q, 1, row->band);
	statement_set_int(q, 2, row->channel);
	statement_set_int(q, 3, row->hour);
	statement_set_int(q, 4, row->run);
	int there = statement_step(s->db, q, why);
	if (there <= 0)
		return there < 0 ? -1 : survey_add_row(s, TABLE_ACTIVITY, row, why);
	const char *bad = survey_get_row(TABLE_ACTIVITY, q, &sum);
	statement_reset(q);
	if (bad)
		return survey_damaged(s, TABLE_ACTIVITY, bad, why);
	sum_activity(&sum, row);
	return survey_add_row(s, TABLE_ACTIVITY, &sum, why);
}

/* These are added as they are. */
#define SURVEY_ADD(noun, table) \
int survey_add_##noun(struct survey *s, const struct noun##_row *row, struct fault *why) \
{ \
	return survey_add_row(s, table, row, why); \
}

SURVEY_ADD(coverage, TABLE_COVERAGE)
SURVEY_ADD(transmission, TABLE_TRANSMISSION)
SURVEY_ADD(incident, TABLE_INCIDENT)
SURVEY_ADD(artefact, TABLE_ARTEFACT)
SURVEY_ADD(setting, TABLE_SETTING)
SURVEY_ADD(parked, TABLE_PARKED)
SURVEY_ADD(strip, TABLE_STRIP)

int survey_set_ppm(struct survey *s, int64_t run, double ppm, struct fault *why)
{
	char sql[96];

	snprintf(sql, sizeof sql, "UPDATE run SET ppb=%lld WHERE id=%lld",
		 (long long)(ppm * 1000 + (ppm < 0 ? -0.5 : 0.5)), (long long)run);
	return database_run(s->db, sql, why);
}

int survey_end_run(struct survey *s, int64_t run, int64_t end_us, struct fault *why)
{
	statement_set_int(s->end_run, 1, end_us);
	statement_set_int(s->end_run, 2, run);
	if (statement_step(s->db, s->end_run, why) < 0)
		return -1;
	if (database_changes(s->db) != 1)
		return fault_set(why, FAULT_FATAL, "%s: has no run %lld", s->path, (long long)run);
	return 0;
}

const char *survey_path(const struct survey *s)
{
	return s->path;
}

int survey_size(struct survey *s, int64_t *bytes, int64_t *free, struct fault *why)
{
	int64_t pages, unused, page;

	if (database_number(s->db, "PRAGMA page_count", &pages, why) < 0 ||
	    database_number(s->db, "PRAGMA freelist_count", &unused, why) < 0 ||
	    database_number(s->db, "PRAGMA page_size", &page, why) < 0)
		return -1;
	*bytes = pages * page;
	*free = unused * page;
	return 0;
}

int survey_shrink(struct survey *s, struct fault *why)
{
	return database_shrink(s->db, why);
}
