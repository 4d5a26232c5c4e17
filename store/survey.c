#include "store/survey.h"

#include <errno.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#include "store/survey_file.h"
#include "store/text.h"

#define CHECKED_BYTES (32 << 20)       /* a survey of some nights */

struct survey *survey_create(const char *path, struct fault *why)
{
	struct survey *s = calloc(1, sizeof *s);

	if (!s) {
		fault_set(why, FAULT_RETRY, "%s: out of memory", path);
		return NULL;
	}
	s->lock = -1;
	if ((size_t)snprintf(s->path, sizeof s->path, "%s", path) + 16 > sizeof s->path) {
		fault_set(why, FAULT_INPUT, "%.200s...: the path is too long", path);
		free(s);
		return NULL;
	}
	return s;
}

int survey_check_path(const char *path, bool *missing, struct fault *why)
{
	struct stat st;

	if (missing)
		*missing = false;
	if (stat(path, &st) < 0) {
		if (errno == ENOENT && missing) {
			*missing = true;
			return 0;
		}
		return fault_set(why, fault_kind_of(errno), "%s: %s", path, strerror(errno));
	}
	if (S_ISREG(st.st_mode))
		return 0;
	return fault_set(why, FAULT_INPUT, "%s: is %s, must be a survey file", path,
			 S_ISDIR(st.st_mode) ? "a folder" : "no ordinary file");
}

/* The tables as we would have made them, against those that are there: no view, trigger or
 * table of another's making is ever read. */
static int same_schema(struct survey *s, struct database *ours, struct fault *why)
{
	static const char sql[] =
		"SELECT name, type || tbl_name || ifnull(sql, '') FROM sqlite_schema"
		" ORDER BY 1, 2";
	struct statement *a = database_prepare(s->db, sql, why);
	struct statement *b = a ? database_prepare(ours, sql, why) : NULL;
	int left = b ? 1 : -1, right = b ? 1 : -1;
	char name[48] = "";

	while (left > 0 && right > 0) {
		left = statement_step(s->db, a, why);
		right = left < 0 ? -1 : statement_step(ours, b, why);
		if (left < 0 || right < 0)
			return -1;
		if (left > 0)
			snprintf(name, sizeof name, "%s", statement_text(a, 0));
		int order = left && right ? strcmp(name, statement_text(b, 0)) : right - left;
		if (order > 0)          /* what is missing, else what is too many */
			snprintf(name, sizeof name, "%s", statement_text(b, 0));
		if (order || (left && strcmp(statement_text(a, 1), statement_text(b, 1)) != 0))
			return fault_set(
				why, FAULT_FATAL,
				"%s: it is damaged, or another program has "
				"changed it, about \"%s\": save what is left with bandcensus "
				"rescue",
				s->path, text_tame(name));
	}
	return left < 0 || right < 0 ? -1 : 0;
}

static int check_schema(struct survey *s, struct fault *why)
{
	struct database *ours = database_open(s->path, DATABASE_OWN, why);
	int result = ours ? database_run(ours, "BEGIN", why) : -1;

	for (const struct migration *m = survey_migrations; result == 0 && m->version; m++)
		if (m->version <= s->version)
			result = database_run(ours, m->sql, why);
	if (result == 0)
		result = same_schema(s, ours, why);
	database_close(ours);
	return result;
}

int survey_identify(struct survey *s, struct fault *why)
{
	int64_t id, version, pages;

	if (database_number(s->db, "PRAGMA application_id", &id, why) < 0 ||
	    database_number(s->db, "PRAGMA user_version", &version, why) < 0 ||
	    database_number(s->db, "SELECT count(*) FROM sqlite_schema", &pages, why) < 0)
		return -1;
	if (id == 0 && version == 0 && pages == 0) {
		s->version = 0;
		return 0;
	}
	if (id != SURVEY_APPLICATION_ID || version < 1)
		return fault_set(why, FAULT_INPUT, "%s: it is no survey", s->path);
	if (version > survey_newest_version())
		return fault_set(why, FAULT_INPUT,
				 "%s: is of version %lld, this program knows up to %d, "
				 "use a newer program",
				 s->path, (long long)version, survey_newest_version());
	s->version = (int)version;
	return 0;
}

/* ---- rows, one way and the other ---- */

int survey_damaged(const struct survey *s, enum table_id t, const char *column, struct fault *why)
{
	return fault_set(why, FAULT_FATAL, "%s: %s holds an impossible %s: " DATABASE_DAMAGED,
			 s->path, survey_table_name(t), column);
}

static bool channels_inside(const struct survey *s, int32_t band, int32_t first, int32_t count)
{
	return band >= 0 && band < s->n_bands && first >= 0 && count > 0 &&
	       (int64_t)first + count <= s->bands[band].raster.count;
}

bool survey_in_place(const struct survey *s, enum table_id t, const void *row)
{
	const struct coverage_row *c = row;
	const struct activity_row *a = row;
	const struct transmission_row *x = row;
	const struct artefact_row *f = row;
	const struct parked_row *p = row;
	const struct strip_row *m = row;

	switch (t) {
	case TABLE_COVERAGE:
		return channels_inside(s, c->band, c->first, c->count);
	case TABLE_ACTIVITY:
		return channels_inside(s, a->band, a->channel, 1);
	case TABLE_TRANSMISSION:
		return channels_inside(s, x->band, x->channel, 1);
	case TABLE_ARTEFACT:
		return channels_inside(s, f->band, f->channel, 1);
	case TABLE_PARKED:
		return channels_inside(s, p->band, p->first, p->count);
	case TABLE_STRIP:
		return channels_inside(s, m->band, 0, 1);
	default:
		return true;
	}
}

/* SQLite's own bytes are not ours to change. */
static int tame_setting(struct survey *s, struct setting_row *row, struct fault *why)
{
	const char **text[2] = { &row->file, &row->text };

	for (int i = 0; i < 2; i++) {
		free(s->tamed[i]);
		s->tamed[i] = strdup(*text[i]);
		if (!s->tamed[i]) {
			statement_reset(s->each[TABLE_SETTING]);
			return fault_set(why, FAULT_RETRY, "%s: out of memory", s->path);
		}
		*text[i] = i ? text_tame_lines(s->tamed[i]) : text_tame(s->tamed[i]);
	}
	return 1;
}

int survey_next_row(struct survey *s, enum table_id t, void *row, struct fault *why)
{
	int got = statement_step(s->db, s->each[t], why);

	if (got <= 0)
		return got;
	const char *bad = survey_get_row(t, s->each[t], row);
	if (!bad && !survey_in_place(s, t, row))
		bad = "band or channel";
	if (!bad)
		return t == TABLE_SETTING ? tame_setting(s, row, why) : 1;
	statement_reset(s->each[t]);
	return survey_damaged(s, t, bad, why);
}

int survey_prepare_reading(struct survey *s, struct fault *why)
{
	char sql[SURVEY_SQL];

	for (enum table_id t = 0; t < TABLE_COUNT; t++) {
		survey_select_sql(t, s->version, sql);
		s->each[t] = database_prepare(s->db, sql, why);
		if (!s->each[t])
			return -1;
	}
	return 0;
}

/* Its bands, into memory. */
int survey_load_bands(struct survey *s, struct fault *why)
{
	struct band_row row;
	int got;

	while ((got = survey_next_row(s, TABLE_BAND, &row, why)) > 0) {
		struct band *more = reallocarray(s->bands, (size_t)s->n_bands + 1, sizeof *more);
		if (!more) {
			statement_reset(s->each[TABLE_BAND]);
			return fault_set(why, FAULT_RETRY, "%s: out of memory", s->path);
		}
		s->bands = more;
		if (row.band != s->n_bands || row.what.raster.step.thirds <= 0 ||
		    row.what.raster.count <= 0 || row.what.raster.count > RASTER_MOST) {
			statement_reset(s->each[TABLE_BAND]);
			return survey_damaged(s, TABLE_BAND, "raster", why);
		}
		s->bands[s->n_bands++] = row.what;
	}
	return got;
}

void survey_rollback(struct survey *s)
{
	if (database_in_transaction(s->db))
		database_run(s->db, "ROLLBACK", NULL);
}

void survey_close(struct survey *s)
{
	char mode[16];

	if (!s)
		return;
	if (s->db)
		survey_rollback(s);
	/* At rest it is one file, which can be read from anywhere; while a reader
	 * looks on this fails, and the log just stays. */
	if (s->db && s->writing && s->lock >= 0)
		database_word(s->db, "PRAGMA journal_mode=DELETE", mode, sizeof mode, NULL);
	database_close(s->db);
	if (s->lock >= 0)
		close(s->lock);
	free(s->tamed[0]);
	free(s->tamed[1]);
	free(s->bands);
	free(s);
}

/* ---- reading ---- */

/* One moment of the survey for all its walks, while a writer goes on. At rest
 * there is no writer, and nothing is held that would keep one from starting. */
static int freeze(struct survey *s, struct fault *why)
{
	char mode[16];
	int64_t any;

	if (database_word(s->db, "PRAGMA journal_mode", mode, sizeof mode, why) < 0)
		return -1;
	if (strcmp(mode, "wal") != 0)
		return 0;
	if (database_run(s->db, "BEGIN", why) < 0)
		return -1;
	return database_number(s->db, "SELECT count(*) FROM sqlite_schema", &any, why);
}

int survey_check(struct survey *s, struct fault *why)
{
	char said[128];

	if (database_word(s->db, "PRAGMA integrity_check(1)", said, sizeof said, why) < 0)
		return -1;
	if (strcmp(said, "ok") == 0)
		return 0;
	return fault_set(why, FAULT_FATAL, "%s: " DATABASE_DAMAGED, s->path);
}

/* What fits into a moment: 5 ms a megabyte. Larger ones are walked as they are, and each row is
 * looked at. */
static int check_small(struct survey *s, struct fault *why)
{
	struct stat st;

	return stat(s->path, &st) == 0 && st.st_size <= CHECKED_BYTES ? survey_check(s, why) : 0;
}

static struct survey *look(const char *path, bool check, struct fault *why)
{
	struct survey *s = survey_create(path, why);

	if (!s || survey_check_path(path, NULL, why) < 0)
		goto fail;
	s->db = database_open(path, DATABASE_READ, why);
	if (!s->db || freeze(s, why) < 0 || survey_identify(s, why) < 0)
		goto fail;
	if (s->version > 0 && (check_schema(s, why) < 0 || (check && check_small(s, why) < 0) ||
			       survey_prepare_reading(s, why) < 0 || survey_load_bands(s, why) < 0))
		goto fail;
	return s;
fail:
	survey_close(s);
	return NULL;
}

struct survey *survey_look(const char *path, struct fault *why)
{
	return look(path, true, why);
}

/* An empty file tells nothing. */
static struct survey *not_empty(struct survey *s, const char *path, struct fault *why)
{

	if (!s || s->version > 0)
		return s;
	fault_set(why, FAULT_INPUT, "%s: it is empty, let the daemon write it first", path);
	survey_close(s);
	return NULL;
}

struct survey *survey_read(const char *path, struct fault *why)
{
	return not_empty(look(path, true, why), path, why);
}

struct survey *survey_glance(const char *path, struct fault *why)
{
	return not_empty(look(path, false, why), path, why);
}

int survey_bands(const struct survey *s, const struct band **bands)
{
	*bands = s->bands;
	return s->n_bands;
}

/* The walks differ in their row alone. */
#define SURVEY_EACH(noun, table)                                                                   \
	int survey_each_##noun(struct survey *s, int (*see)(void *, const struct noun##_row *),    \
			       void *self, struct fault *why)                                      \
	{                                                                                          \
		struct noun##_row row;                                                             \
		int got, stop;                                                                     \
                                                                                                   \
		while ((got = survey_next_row(s, table, &row, why)) > 0)                           \
			if ((stop = see(self, &row)) != 0) {                                       \
				statement_reset(s->each[table]);                                   \
				return stop;                                                       \
			}                                                                          \
		return got;                                                                        \
	}

SURVEY_EACH(run, TABLE_RUN)
SURVEY_EACH(coverage, TABLE_COVERAGE)
SURVEY_EACH(activity, TABLE_ACTIVITY)
SURVEY_EACH(transmission, TABLE_TRANSMISSION)
SURVEY_EACH(incident, TABLE_INCIDENT)
SURVEY_EACH(artefact, TABLE_ARTEFACT)
SURVEY_EACH(setting, TABLE_SETTING)
SURVEY_EACH(parked, TABLE_PARKED)
SURVEY_EACH(strip, TABLE_STRIP)
