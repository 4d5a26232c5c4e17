#include "store/picture.h"

#include <stdlib.h>
#include <string.h>
#include <time.h>

#include "store/survey_file.h"

#define LONGEST_US STRIP_DAY_US         /* of any row */
#define CELLS_MOST (64 << 20)           /* that are looked through in any row: a day of 46,000 channels */

#define AT_ONCE    64                   /* rows made in one transaction */

/* Rows are made of cells of one length, and are as long as the next. */
struct grain {
	int64_t cell_us, row_us;
	int32_t whole;                  /* fewer minutes than this in a row, and it is due */
};
static const struct grain minutes = { STRIP_MINUTE_US, STRIP_HOUR_US, 60 };
static const struct grain hours = { STRIP_HOUR_US, STRIP_DAY_US, 1440 };

static const char *const sql[PICTURE_STATEMENTS] = {
	[PICTURE_ROWS] =
		"SELECT run, band, start_us, cell_us, cells, packed FROM strip"
		" WHERE start_us>=?1 AND start_us<?2 AND band=?3 AND (?4=0 OR run=?4)",
	[PICTURE_DROP] =
		"DELETE FROM strip WHERE start_us>=?1 AND start_us<?2 AND band=?3 AND run=?4"
		" AND cell_us=?5",
	[PICTURE_FIND] =
		"SELECT run, band, start_us FROM strip WHERE cell_us=?1 AND cells<?2"
		" AND start_us>=?3 AND start_us<?4 ORDER BY start_us, band, run LIMIT 1",
};

static struct statement *statement_of(struct survey *s, enum picture_statement which,
				      struct fault *why)
{
	if (!s->picture[which])
		s->picture[which] = database_prepare(s->db, sql[which], why);
	return s->picture[which];
}

static size_t channels_of(const struct survey *s, int32_t band)
{
	return (size_t)s->bands[band].raster.count;
}

/* ---- a sheet of cells, and rows joined to it ---- */

struct sheet {
	int64_t  from_us, cell_us;
	int64_t  n;                     /* cells of time            */
	size_t   channels;
	uint8_t *cells;                 /* [n x channels], borrowed */
	int64_t  longest_us;            /* of any cell joined       */
	int      rows;                  /* that were joined         */
	int32_t  most;                  /* cells of any of them     */
	bool   (*of)(const void *self, int64_t run);    /* rows wanted; NULL: all */
	const void *self;
};

/* A cell goes wherever it reaches. */
static void join_cell(struct sheet *to, int64_t start_us, int64_t cell_us, const uint8_t *cell)
{
	int64_t first = (start_us - to->from_us) / to->cell_us;
	int64_t last = (start_us + cell_us - 1 - to->from_us) / to->cell_us;

	if (start_us + cell_us <= to->from_us)
		return;
	for (int64_t i = first < 0 ? 0 : first; i <= last && i < to->n; i++) {
		strip_join(to->cells + (size_t)i * to->channels, cell, to->channels);
		to->longest_us = cell_us > to->longest_us ? cell_us : to->longest_us;
	}
}

static bool of_a_day(const struct strip_row *row)
{
	return row->cells > 0 && row->cell_us > 0 && row->cell_us <= LONGEST_US &&
	       row->cells <= LONGEST_US / row->cell_us;
}

bool picture_holds(const struct survey *s, const struct strip_row *row)
{
	size_t n = (size_t)row->cells * channels_of(s, row->band);

	return of_a_day(row) && n <= CELLS_MOST && strip_holds(row->packed.at, row->packed.n, n);
}

static int damaged(const struct survey *s, const struct strip_row *row, struct fault *why)
{
	time_t from = (time_t)(row->start_us / 1000000);
	char when[32] = "";
	struct tm tm;

	if (gmtime_r(&from, &tm))
		strftime(when, sizeof when, "%Y-%m-%dT%H:%M:%SZ", &tm);
	return fault_set(why, FAULT_FATAL, "%s: the strip of band %s from %s on, of run %lld, can't be read: "
			 DATABASE_DAMAGED, s->path, s->bands[row->band].id, when, (long long)row->run);
}

int picture_check(const struct survey *s, const struct strip_row *row, struct fault *why)
{
	return picture_holds(s, row) ? 0 : damaged(s, row, why);
}

static int join_row(const struct survey *s, struct sheet *to, const struct strip_row *row,
		    struct fault *why)
{
	size_t n = (size_t)row->cells * to->channels;
	uint8_t *cells;

	if (!of_a_day(row))
		return damaged(s, row, why);
	cells = malloc(n);
	if (!cells)
		return fault_set(why, FAULT_RETRY, "%s: out of memory", s->path);
	if (strip_unpack(row->packed.at, row->packed.n, cells, n) < 0) {
		free(cells);
		return damaged(s, row, why);
	}
	for (int32_t i = 0; i < row->cells; i++)
		join_cell(to, row->start_us + i * row->cell_us, row->cell_us,
			  cells + (size_t)i * to->channels);
	free(cells);
	to->rows++;
	to->most = row->cells > to->most ? row->cells : to->most;
	return 0;
}

/* The rows that begin in [begin_us, end_us), of all runs with 0. Of one run it
 * is for writing, and then coarser cells than the sheet's stay where they are. */
static int join_rows(struct survey *s, struct sheet *to, int32_t band, int64_t run,
		     int64_t begin_us, int64_t end_us, struct fault *why)
{
	struct statement *q = statement_of(s, PICTURE_ROWS, why);
	int got;

	if (!q)
		return -1;
	statement_set_int(q, 1, begin_us);
	statement_set_int(q, 2, end_us);
	statement_set_int(q, 3, band);
	statement_set_int(q, 4, run);
	while ((got = statement_step(s->db, q, why)) > 0) {
		struct strip_row row = { .run = statement_int(q, 0), .band = band, .cell_us = statement_int(q, 3),
					 .start_us = statement_int(q, 2) };
		int64_t cells = statement_int(q, 4);
		row.cells = cells > INT32_MAX ? INT32_MAX : (int32_t)cells;
		row.packed.at = statement_blob(q, 5, &row.packed.n);
		if (to->of && !to->of(to->self, statement_int(q, 0)))
			continue;
		if ((run == 0 || row.cell_us <= to->cell_us) && join_row(s, to, &row, why) < 0) {
			statement_reset(q);
			return -1;
		}
	}
	return got;
}

/* ---- writing ---- */

static int put(struct survey *s, int64_t run, int32_t band, const struct sheet *from,
	       struct fault *why)
{
	size_t n = (size_t)from->n * from->channels;
	uint8_t *packed = malloc(strip_room(n));
	struct strip_row row = {
		.run = run, .band = band, .start_us = from->from_us, .cell_us = from->cell_us,
		.cells = (int32_t)from->n, .packed = { packed, 0 },
	};
	int result = -1;

	if (packed)
		row.packed.n = strip_pack(from->cells, n, packed);
	if (row.packed.n > 0)
		result = survey_add_strip(s, &row, why);
	else
		fault_set(why, FAULT_RETRY, "%s: out of memory", s->path);
	free(packed);
	return result;
}

static int make_sheet(const struct survey *s, struct sheet *out, int32_t band, int64_t from_us,
		      const struct grain *g, struct fault *why)
{
	*out = (struct sheet){ .from_us = from_us, .cell_us = g->cell_us,
			       .n = g->row_us / g->cell_us, .channels = channels_of(s, band) };
	out->cells = calloc((size_t)out->n, out->channels);
	return out->cells ? 0 : fault_set(why, FAULT_RETRY, "%s: out of memory", s->path);
}

/* A whole hour may lie at the place of its first minute already, where the clock was set
 * back: then this is joined with its first cell. */
int picture_add(struct survey *s, int64_t run, int32_t band, int64_t minute_us,
		const uint8_t *cells, struct fault *why)
{
	struct sheet sheet;
	int result = -1;

	if (make_sheet(s, &sheet, band, minute_us, &minutes, why) < 0)
		return -1;
	if (join_rows(s, &sheet, band, run, minute_us, minute_us + 1, why) == 0) {
		strip_join(sheet.cells, cells, sheet.channels);
		sheet.n = sheet.most > 1 ? sheet.n : 1;
		result = put(s, run, band, &sheet, why);
	}
	free(sheet.cells);
	return result;
}

struct place {
	int64_t run, start_us;
	int32_t band;
};

/* The first row of minutes that is due: 1, 0 when there is none. */
static int find(struct survey *s, const struct grain *g, int64_t from_us, int64_t before_us,
		struct place *out, struct fault *why)
{
	struct statement *q = statement_of(s, PICTURE_FIND, why);
	int got;

	if (!q)
		return -1;
	statement_set_int(q, 1, STRIP_MINUTE_US);
	statement_set_int(q, 2, g->whole);
	statement_set_int(q, 3, from_us);
	statement_set_int(q, 4, before_us);
	got = statement_step(s->db, q, why);
	if (got <= 0)
		return got;
	int64_t band = statement_int(q, 1);
	*out = (struct place){ .run = statement_int(q, 0), .start_us = statement_int(q, 2),
			       .band = (int32_t)band };
	statement_reset(q);
	return band >= 0 && band < s->n_bands ? 1 : survey_damaged(s, TABLE_STRIP, "band", why);
}

static int drop_minutes(struct survey *s, const struct place *at, const struct grain *g,
			struct fault *why)
{
	struct statement *q = statement_of(s, PICTURE_DROP, why);

	if (!q)
		return -1;
	statement_set_int(q, 1, at->start_us);
	statement_set_int(q, 2, at->start_us + g->row_us);
	statement_set_int(q, 3, at->band);
	statement_set_int(q, 4, at->run);
	statement_set_int(q, 5, STRIP_MINUTE_US);
	return statement_step(s->db, q, why);
}

/* All minutes of its run and band from start_us on become one row of the grain, joined with one
 * that is there. */
static int gather(struct survey *s, const struct place *at, const struct grain *g,
		  struct fault *why)
{
	int64_t until_us = at->start_us + g->row_us;
	struct sheet sheet;
	int result = -1;

	if (make_sheet(s, &sheet, at->band, at->start_us, g, why) < 0)
		return -1;
	if (join_rows(s, &sheet, at->band, at->run, at->start_us, until_us, why) == 0 &&
	    drop_minutes(s, at, g, why) == 0)
		result = put(s, at->run, at->band, &sheet, why);
	free(sheet.cells);
	return result;
}

static int gather_some(struct survey *s, const struct grain *g, int64_t from_us, int64_t before_us,
		       struct fault *why)
{
	struct place at;
	int got = 1, n = 0;

	if (survey_begin(s, why) < 0)
		return -1;
	while (n < AT_ONCE && (got = find(s, g, from_us, before_us, &at, why)) > 0) {
		at.start_us -= at.start_us % g->row_us;
		if (gather(s, &at, g, why) < 0)
			goto undo;
		n++;
	}
	if (got < 0 || survey_commit(s, why) < 0)
		goto undo;
	return n > 0;
undo:
	survey_rollback(s);
	return -1;
}

int picture_tidy(struct survey *s, int64_t from_us, int64_t before_us, struct fault *why)
{
	return gather_some(s, &minutes, from_us, before_us, why);
}

int picture_coarsen(struct survey *s, int64_t before_us, struct fault *why)
{
	return gather_some(s, &hours, 0, before_us - before_us % STRIP_DAY_US, why);
}

/* ---- reading ---- */

int picture_read(struct survey *s, int32_t band, int64_t from_us, int64_t to_us, int64_t cell_us,
		 uint8_t *cells, int64_t *kept_us, struct fault *why)
{
	return picture_read_of(s, band, from_us, to_us, cell_us, NULL, NULL, cells, kept_us, why);
}

int picture_read_of(struct survey *s, int32_t band, int64_t from_us, int64_t to_us, int64_t cell_us,
		    bool (*of)(const void *self, int64_t run), const void *self, uint8_t *cells,
		    int64_t *kept_us, struct fault *why)
{
	struct sheet sheet = { .from_us = from_us, .cell_us = cell_us,
			       .n = (to_us - from_us) / cell_us, .channels = channels_of(s, band),
			       .cells = cells, .of = of, .self = self };

	memset(cells, STRIP_NOT_LOOKED, (size_t)sheet.n * sheet.channels);
	if (kept_us)
		*kept_us = 0;
	if (s->version < 2)
		return 0;
	if (join_rows(s, &sheet, band, 0, from_us - LONGEST_US, to_us, why) < 0)
		return -1;
	if (kept_us)
		*kept_us = sheet.longest_us;
	return 0;
}
