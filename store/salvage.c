#include "store/salvage.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "store/picture.h"
#include "store/schema.h"

/* ---- our own tables ---- */

static enum part_type type_named(const char *name)
{
	static const struct { const char *name; enum part_type type; } types[] = {
		{ "INTEGER", PART_INT }, { "TEXT", PART_TEXT }, { "BLOB", PART_BLOB },
	};

	for (size_t i = 0; i < sizeof types / sizeof types[0]; i++)
		if (strcmp(types[i].name, name) == 0)
			return types[i].type;
	return PART_OTHER;
}

/* "SELECT name, type, has a default, is of the key, by key", in the order that rows have. */
static struct statement *columns_of(struct survey *s, const char *table, struct fault *why)
{
	char sql[1024];

	snprintf(sql, sizeof sql,
		 "SELECT t.name, t.type, t.dflt_value IS NOT NULL, t.pk > 0, s.sql LIKE '%%WITHOUT "
		 "ROWID%%',"
		 " ifnull(i.seqno, t.cid) AS place FROM sqlite_schema s, pragma_table_info('%s') t "
		 "LEFT JOIN"
		 " pragma_index_xinfo('sqlite_autoindex_%s_1') i ON s.sql LIKE '%%WITHOUT ROWID%%' "
		 "AND i.name=t.name"
		 " WHERE s.name='%s' ORDER BY place",
		 table, table, table);
	return database_prepare(s->db, sql, why);
}

static int learn_layout(struct survey *s, enum table_id t, struct layout *l, struct fault *why)
{
	struct statement *q = columns_of(s, survey_table_name(t), why);
	char which[512] = "WHERE ", sql[SURVEY_SQL], *to = which + strlen(which);
	int got;

	if (!q)
		return -1;
	while ((got = statement_step(s->db, q, why)) > 0 && l->columns < SALVAGE_COLUMNS) {
		int at = l->columns++;
		bool key = statement_int(q, 3);
		l->by_key = statement_int(q, 4);
		snprintf(l->column[at].name, sizeof l->column[at].name, "%s", statement_text(q, 0));
		l->column[at].type =
			key && !l->by_key ? PART_NONE : type_named(statement_text(q, 1));
		if (!statement_int(q, 2))
			l->least = l->columns;
		if (key)
			to += sprintf(to, "%s%s=?%d", l->keys++ ? " AND " : "", l->column[at].name,
				      at + 1);
	}
	if (got < 0)
		return -1;
	if (l->columns == 0)
		return 0;               /* it came later */
	statement_reset(q);
	survey_select_sql(t, s->version, sql);
	strcpy(strstr(sql, " ORDER BY ") + 1, which);
	l->find = database_prepare(s->db, sql, why);
	return l->find ? 0 : -1;
}

static struct statement *putter(struct survey *s, enum table_id t, struct layout *l, int columns,
				struct fault *why)
{
	char sql[SURVEY_SQL], *to = sql + sprintf(sql, "INSERT INTO %s(", survey_table_name(t));

	if (l->put[columns])
		return l->put[columns];
	for (int i = 0; i < columns; i++)
		to += sprintf(to, "%s%s", i ? ", " : "", l->column[i].name);
	to += sprintf(to, ") VALUES(");
	for (int i = 0; i < columns; i++)
		to += sprintf(to, "%s?%d", i ? ", " : "", i + 1);
	strcpy(to, ")");
	return l->put[columns] = database_prepare(s->db, sql, why);
}

static int make_stage(struct salvage *s, const char *path, struct fault *why)
{
	s->stage = survey_create(path, why);
	if (!s->stage)
		return -1;
	s->stage->db = database_open(path, DATABASE_OWN, why);
	int version = pages_version(s->pages);
	if (version > survey_newest_version())
		return fault_set(why, FAULT_INPUT,
				 "%s: is of version %d, this program knows up to %d, use a "
				 "newer program",
				 path, version, survey_newest_version());
	s->stage->version = version > 0 ? version : survey_newest_version();
	for (const struct migration *m = survey_migrations; s->stage->db && m->version; m++)
		if (m->version <= s->stage->version && database_run(s->stage->db, m->sql, why) < 0)
			return -1;
	if (!s->stage->db || survey_prepare_reading(s->stage, why) < 0)
		return -1;
	for (enum table_id t = 0; t < TABLE_COUNT; t++)
		if (learn_layout(s->stage, t, &s->layout[t], why) < 0)
			return -1;
	return database_run(s->stage->db, "BEGIN", why);
}

/* ---- one row ---- */

static bool fits(const struct layout *l, enum page_kind kind, const struct part *parts, int n)
{
	if ((kind == PAGE_LEAF) == l->by_key || n < l->least || n > l->columns)
		return false;
	for (int i = 0; i < n; i++)
		if (parts[i].type != l->column[i].type ||
		    (parts[i].type == PART_TEXT && memchr(parts[i].bytes, '\0', parts[i].n)))
			return false;
	return true;
}

static void set_parts(struct statement *q, const struct cell *c, const struct part *parts, int n)
{
	for (int i = 0; i < n; i++)
		switch (parts[i].type) {
		case PART_NONE:
			statement_set_int(q, i + 1, c->id);
			break;
		case PART_TEXT:
			statement_set_part(q, i + 1, parts[i].bytes, parts[i].n);
			break;
		case PART_BLOB:
			statement_set_blob(q, i + 1, parts[i].bytes, parts[i].n);
			break;
		default:
			statement_set_int(q, i + 1, parts[i].number);
		}
}

/* Values that no writer of ours makes of what it heard. What is of a band that is lost goes with it. */
static bool sensible(const struct salvage *s, enum table_id t, const union any_row *r)
{
	switch (t) {
	case TABLE_BAND:
		return r->band.band >= 0 && r->band.band < 100000 &&
		       r->band.what.raster.step.thirds > 0 && r->band.what.raster.count > 0 &&
		       r->band.what.raster.count < INT32_MAX;
	case TABLE_COVERAGE:
		return r->coverage.hour % HOUR_US == 0 && r->coverage.looks >= 0 &&
		       r->coverage.looked_us >= 0 && r->coverage.pairs >= 0 &&
		       r->coverage.clipped >= 0;
	case TABLE_ACTIVITY:
		return r->activity.hour % HOUR_US == 0 && r->activity.busy_us >= 0 &&
		       r->activity.busy_looks >= 0 && r->activity.blind_us >= 0 &&
		       r->activity.blind_looks >= 0;
	case TABLE_TRANSMISSION:
		return r->transmission.first_us <= r->transmission.last_us &&
		       r->transmission.looks >= 0;
	case TABLE_STRIP:
		return s->stage->bands[r->strip.band].raster.count == INT32_MAX || picture_holds(s->stage, &r->strip);
	default:
		return true;
	}
}

/* The row just put, read as any reader would. */
static int reads_well(struct salvage *s, enum table_id t, const struct cell *c,
		      const struct part *parts, struct fault *why)
{
	struct layout *l = &s->layout[t];
	union any_row row;

	set_parts(l->find, c, parts, l->by_key ? l->keys : 1);
	int got = statement_step(s->stage->db, l->find, why);
	if (got <= 0)
		return got;
	bool good = !survey_get_row(t, l->find, &row) && survey_in_place(s->stage, t, &row) &&
		    sensible(s, t, &row);
	statement_reset(l->find);
	return good;
}

/* 1: it is there now; 0: it is no row of that table; -1. */
static int put_row(struct salvage *s, enum table_id t, const struct cell *c,
		   const struct part *parts, int n, struct fault *why)
{
	struct layout *l = &s->layout[t];
	struct statement *q = putter(s->stage, t, l, n, why);

	if (!q)
		return -1;
	set_parts(q, c, parts, n);
	switch (statement_try(s->stage->db, q, why)) {
	case STATEMENT_DONE:
		s->rows[t]++;
		if (!l->by_key && c->id > s->highest_id[t])
			s->highest_id[t] = c->id;
		return reads_well(s, t, c, parts, why);
	case STATEMENT_AGAIN:
		return 1;               /* another copy of a page */
	case STATEMENT_REFUSED:
		return 0;
	default:
		return -1;
	}
}

/* ---- one page ---- */

static int table_of(const struct salvage *s, enum page_kind kind, const struct part *parts, int n)
{
	for (int t = 0; t < TABLE_COUNT; t++)
		if (fits(&s->layout[t], kind, parts, n))
			return t;
	return -1;
}

/* All rows of a page, or none: 1, 0 or -1. */
static int put_page(struct salvage *s, enum page_kind kind, int cells, enum table_id t,
		    struct fault *why)
{
	struct part parts[SALVAGE_COLUMNS];
	struct cell c;
	int64_t rows = s->rows[t], highest = s->highest_id[t];
	int good = 1;

	if (database_run(s->stage->db, "SAVEPOINT page", why) < 0)
		return -1;
	for (int i = 0; i < cells && good > 0; i++) {
		int n = pages_cell(s->pages, i, &c, parts, SALVAGE_COLUMNS);
		good = n > 0 && fits(&s->layout[t], kind, parts, n)
			       ? put_row(s, t, &c, parts, n, why)
			       : 0;
	}
	if (good <= 0) {
		s->rows[t] = rows;
		s->highest_id[t] = highest;
	}
	if (good < 0 ||
	    database_run(s->stage->db, good ? "RELEASE page" : "ROLLBACK TO page; RELEASE page",
			 why) < 0)
		return -1;
	return good;
}

/* A table, index or the like: type, name, table, where it begins, what made it. */
static bool is_schema_row(const struct part *parts, int n)
{
	return n == 5 && parts[0].type == PART_TEXT && parts[1].type == PART_TEXT &&
	       parts[2].type == PART_TEXT && parts[3].type == PART_INT &&
	       (parts[4].type == PART_TEXT || parts[4].type == PART_NONE);
}

/* An index's entries, and the list of tables, hold nothing that the rows don't say. */
static bool is_other(struct salvage *s, enum page_kind kind, int cells)
{
	struct part parts[SALVAGE_COLUMNS];
	struct cell c;

	for (int i = 0; i < cells; i++) {
		int n = pages_cell(s->pages, i, &c, parts, SALVAGE_COLUMNS);
		if (n <= 0 || (kind == PAGE_LEAF && !is_schema_row(parts, n)))
			return false;
	}
	return true;
}

/* Bands come first: all other rows are judged by them. */
static int read_page(struct salvage *s, uint32_t page, bool bands, struct fault *why)
{
	struct part parts[SALVAGE_COLUMNS];
	struct cell c;
	int cells;
	enum page_kind kind = pages_take(s->pages, page, &cells);
	bool rows = kind == PAGE_LEAF || kind == PAGE_KEY_LEAF || kind == PAGE_KEY_BRANCH;

	if (kind == PAGE_EMPTY || pages_free(s->pages, page))
		s->holds[page] = HOLDS_NOTHING;
	else if (kind == PAGE_BRANCH || page == 1)
		s->holds[page] = kind == PAGE_BAD ? HOLDS_LOST : HOLDS_OTHER;
	if (!rows || s->holds[page] != HOLDS_LOST)
		return 0;
	int n = pages_cell(s->pages, 0, &c, parts, SALVAGE_COLUMNS);
	int t = n > 0 ? table_of(s, kind, parts, n) : -1;
	if (t >= 0 && (t == TABLE_BAND) == bands) {
		int good = put_page(s, kind, cells, (enum table_id)t, why);
		if (good > 0)
			s->holds[page] = (uint8_t)(HOLDS_TABLE + t);
		return good < 0 ? -1 : 0;
	}
	if (t < 0 && is_other(s, kind, cells))
		s->holds[page] = HOLDS_OTHER;
	return 0;
}

/* By number, with holes where one is lost: there any channel goes, for now. */
static int place_bands(struct salvage *s, struct fault *why)
{
	struct survey *g = s->stage;
	struct band_row row;
	int got;

	while ((got = survey_next_row(g, TABLE_BAND, &row, why)) > 0) {
		struct band *more = reallocarray(g->bands, (size_t)row.band + 1, sizeof *more);
		if (!more) {
			statement_reset(g->each[TABLE_BAND]);
			return fault_set(why, FAULT_RETRY, "%s: out of memory", g->path);
		}
		g->bands = more;
		for (; g->n_bands <= row.band; g->n_bands++) {
			g->bands[g->n_bands] = (struct band){ 0 };
			g->bands[g->n_bands].raster.count = INT32_MAX;
		}
		g->bands[row.band] = row.what;
	}
	return got;
}

struct salvage *salvage_open(const char *path, struct fault *why)
{
	struct salvage *s = calloc(1, sizeof *s);
	int result = 0;

	if (!s) {
		fault_set(why, FAULT_RETRY, "%s: out of memory", path);
		return NULL;
	}
	s->pages = pages_open(path, why);
	if (!s->pages || make_stage(s, path, why) < 0)
		goto fail;
	uint32_t n = pages_count(s->pages);
	s->holds = calloc((size_t)n + 1, sizeof *s->holds);
	if (!s->holds) {
		fault_set(why, FAULT_RETRY, "%s: out of memory", path);
		goto fail;
	}
	for (uint32_t i = 1; i <= n && result == 0; i++)
		result = read_page(s, i, true, why);
	if (result < 0 || place_bands(s, why) < 0)
		goto fail;
	for (uint32_t i = 1; i <= n && result == 0; i++)
		result = read_page(s, i, false, why);
	for (uint32_t i = 1; i <= n && result == 0; i++)
		s->pages_lost += s->holds[i] == HOLDS_LOST && !pages_chained(s->pages, i);
	if (result == 0)
		return s;
fail:
	salvage_close(s);
	return NULL;
}

void salvage_close(struct salvage *s)
{
	if (!s)
		return;
	survey_close(s->stage);
	pages_close(s->pages);
	free(s->holds);
	free(s);
}
