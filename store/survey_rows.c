#include "store/survey_rows.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

#include "store/levels.h"

const struct migration survey_migrations[] = {
	{ 1,
	  "CREATE TABLE run(\n"
	  "  id INTEGER PRIMARY KEY,\n"
	  "  start_us INTEGER NOT NULL,  -- UTC, as all times\n"
	  "  end_us INTEGER NOT NULL,    -- 0: still running, or died\n"
	  "  station TEXT NOT NULL, source TEXT NOT NULL, version TEXT NOT NULL,\n"
	  "  rate_hz INTEGER NOT NULL,\n"
	  "  gain_ddb INTEGER NOT NULL,  -- tenths of a dB\n"
	  "  ppb INTEGER NOT NULL,       -- crystal error, thousandths of a ppm\n"
	  "  dwell_us INTEGER NOT NULL,\n"
	  "  pfa_ppt INTEGER NOT NULL,   -- false alarms in 10^12 looks\n"
	  "  margin_mdb INTEGER NOT NULL -- thousandths of a dB\n"
	  ") STRICT;\n"
	  "CREATE TABLE band(\n"
	  "  band INTEGER PRIMARY KEY,   -- 0, 1, 2 ...\n"
	  "  id TEXT NOT NULL UNIQUE, name TEXT NOT NULL, service TEXT NOT NULL,\n"
	  "  first_thirds INTEGER NOT NULL, -- thirds of a hertz\n"
	  "  step_thirds INTEGER NOT NULL CHECK(step_thirds > 0),\n"
	  "  channels INTEGER NOT NULL CHECK(channels > 0),\n"
	  "  mode TEXT NOT NULL,         -- none, AM, NFM, WFM\n"
	  "  width_hz INTEGER NOT NULL\n"
	  ") STRICT;\n"
	  "CREATE TABLE coverage(\n"
	  "  band INTEGER NOT NULL REFERENCES band,\n"
	  "  first INTEGER NOT NULL, count INTEGER NOT NULL, -- channels first .. first+count-1\n"
	  "  hour INTEGER NOT NULL,      -- its start\n"
	  "  run INTEGER NOT NULL REFERENCES run,\n"
	  "  looks INTEGER NOT NULL, pairs INTEGER NOT NULL, looked_us INTEGER NOT NULL,\n"
	  "  clipped INTEGER NOT NULL, floor_ddb_sum INTEGER NOT NULL,\n"
	  "  PRIMARY KEY(band, first, hour, run, count)\n"
	  ") STRICT, WITHOUT ROWID;\n"
	  "CREATE TABLE activity(\n"
	  "  band INTEGER NOT NULL REFERENCES band,\n"
	  "  channel INTEGER NOT NULL, hour INTEGER NOT NULL,\n"
	  "  run INTEGER NOT NULL REFERENCES run,\n"
	  "  busy_looks INTEGER NOT NULL, busy_us INTEGER NOT NULL, openings INTEGER NOT NULL,\n"
	  "  held INTEGER NOT NULL, blind_looks INTEGER NOT NULL, blind_us INTEGER NOT NULL,\n"
	  /* store/levels.h says the same in more words. */
	  "  level BLOB NOT NULL, -- busy time by whole dB over the floor, 0 .. 79. Per bin not\n"
	  "                       -- empty: bins skipped, microseconds, looks; each 7 bits a byte,\n"
	  "                       -- low first, high bit set on all but its last byte\n"
	  "  PRIMARY KEY(band, channel, hour, run)\n"
	  ") STRICT, WITHOUT ROWID;\n"
	  "CREATE TABLE transmission(\n"
	  "  id INTEGER PRIMARY KEY,\n"
	  "  run INTEGER NOT NULL REFERENCES run,\n"
	  "  band INTEGER NOT NULL REFERENCES band, channel INTEGER NOT NULL,\n"
	  "  first_us INTEGER NOT NULL, last_us INTEGER NOT NULL,\n"
	  "  before_us INTEGER NOT NULL, after_us INTEGER NOT NULL, -- true edges lie this far out\n"
	  "  busy_us INTEGER NOT NULL, looks INTEGER NOT NULL,\n"
	  "  level_ddb INTEGER NOT NULL, peak_ddb INTEGER NOT NULL, floor_ddb INTEGER NOT NULL,\n"
	  "  offset_hz INTEGER NOT NULL, width_hz INTEGER NOT NULL,\n"
	  "  kind TEXT NOT NULL,         -- unknown, carrier, am, nfm, wfm, data, noise\n"
	  "  confidence INTEGER NOT NULL,-- per mille\n"
	  "  tone_ddhz INTEGER NOT NULL  -- tenths of a hertz, 0: none known\n"
	  ") STRICT;\n"
	  "CREATE INDEX transmission_order ON transmission(band, channel, first_us);\n"
	  "CREATE TABLE incident(\n"
	  "  id INTEGER PRIMARY KEY,\n"
	  "  run INTEGER NOT NULL REFERENCES run,\n"
	  "  at_us INTEGER NOT NULL, until_us INTEGER NOT NULL, -- until 0: at an instant\n"
	  "  what TEXT NOT NULL, text TEXT NOT NULL\n"
	  ") STRICT;\n"
	  "CREATE TABLE artefact(\n"
	  "  id INTEGER PRIMARY KEY,\n"
	  "  run INTEGER NOT NULL REFERENCES run,\n"
	  "  at_us INTEGER NOT NULL,\n"
	  "  band INTEGER NOT NULL REFERENCES band, channel INTEGER NOT NULL,\n"
	  "  cause TEXT NOT NULL, text TEXT NOT NULL\n"
	  ") STRICT;\n" },
	{ 0, NULL }
};

int survey_newest_version(void)
{
	int newest = 0;

	for (const struct migration *m = survey_migrations; m->version; m++)
		newest = m->version;
	return newest;
}

enum column_type {
	COLUMN_END = 0,
	COLUMN_ID,              /* int64_t, given by the database      */
	COLUMN_WIDE,            /* int64_t                             */
	COLUMN_INT,             /* int32_t                             */
	COLUMN_TEXT,            /* char[size]                          */
	COLUMN_SCALED,          /* double, kept as a whole number of 1/scale */
	COLUMN_MODE,            /* enum mode, by name                  */
	COLUMN_KIND,            /* enum kind, by name                  */
	COLUMN_LEVELS           /* level and level_looks, packed       */
};

struct column {
	const char      *name;
	enum column_type type;
	size_t           at;            /* offsetof in the row */
	size_t           size;
	double           scale;
};

struct table {
	const char          *name;
	const struct column *columns;
	const char          *adding;    /* after the values: what to do about a row that is there */
	const char          *order;
};

#define ROW(member) offsetof(struct ROW_OF, member), sizeof ((struct ROW_OF *)0)->member
#define WIDE(member)         { #member, COLUMN_WIDE, ROW(member), 0 }
#define INT(member)          { #member, COLUMN_INT,  ROW(member), 0 }
#define TEXT(member)         { #member, COLUMN_TEXT, ROW(member), 0 }
#define AS(name, type, member, scale) { name, type, ROW(member), scale }
#define END                  { NULL, COLUMN_END, 0, 0, 0 }

#define ROW_OF band_row
static const struct column band_columns[] = {
	INT(band), AS("id", COLUMN_TEXT, what.id, 0), AS("name", COLUMN_TEXT, what.name, 0),
	AS("service", COLUMN_TEXT, what.service, 0),
	AS("first_thirds", COLUMN_WIDE, what.raster.first, 0),
	AS("step_thirds", COLUMN_WIDE, what.raster.step, 0),
	AS("channels", COLUMN_INT, what.raster.count, 0),
	AS("mode", COLUMN_MODE, what.mode, 0), AS("width_hz", COLUMN_INT, what.width_hz, 0), END
};
#undef ROW_OF
#define ROW_OF run_row
static const struct column run_columns[] = {
	AS("id", COLUMN_ID, id, 0), WIDE(start_us), WIDE(end_us), TEXT(station), TEXT(source),
	TEXT(version), INT(rate_hz), INT(gain_ddb), AS("ppb", COLUMN_SCALED, ppm, 1e3),
	WIDE(dwell_us), AS("pfa_ppt", COLUMN_SCALED, pfa, 1e12),
	AS("margin_mdb", COLUMN_SCALED, margin_db, 1e3), END
};
#undef ROW_OF
#define ROW_OF coverage_row
static const struct column coverage_columns[] = {
	WIDE(run), WIDE(hour), INT(band), INT(first), INT(count), WIDE(looks), WIDE(pairs),
	WIDE(looked_us), WIDE(clipped), WIDE(floor_ddb_sum), END
};
#undef ROW_OF
#define ROW_OF activity_row
static const struct column activity_columns[] = {
	WIDE(run), WIDE(hour), INT(band), INT(channel), WIDE(busy_looks), WIDE(busy_us),
	WIDE(openings), WIDE(held), WIDE(blind_looks), WIDE(blind_us),
	AS("level", COLUMN_LEVELS, level, 0), END
};
#undef ROW_OF
#define ROW_OF transmission_row
static const struct column transmission_columns[] = {
	WIDE(run), INT(band), INT(channel), WIDE(first_us), WIDE(last_us), WIDE(before_us),
	WIDE(after_us), WIDE(busy_us), WIDE(looks), INT(level_ddb), INT(peak_ddb), INT(floor_ddb),
	INT(offset_hz), INT(width_hz), AS("kind", COLUMN_KIND, kind, 0), INT(confidence),
	INT(tone_ddhz), END
};
#undef ROW_OF
#define ROW_OF incident_row
static const struct column incident_columns[] = {
	WIDE(run), WIDE(at_us), WIDE(until_us), TEXT(what), TEXT(text), END
};
#undef ROW_OF
#define ROW_OF artefact_row
static const struct column artefact_columns[] = {
	WIDE(run), WIDE(at_us), INT(band), INT(channel), TEXT(cause), TEXT(text), END
};
#undef ROW_OF

/* Activity is added up in survey.c before it replaces what is there: a packed
 * histogram has no sum in SQL. */
static const struct table tables[TABLE_COUNT] = {
	[TABLE_BAND] = { "band", band_columns, "", "band" },
	[TABLE_RUN] = { "run", run_columns, "", "id" },
	[TABLE_COVERAGE] = { "coverage", coverage_columns,
		" ON CONFLICT DO UPDATE SET looks=looks+excluded.looks, pairs=pairs+excluded.pairs,"
		" looked_us=looked_us+excluded.looked_us, clipped=clipped+excluded.clipped,"
		" floor_ddb_sum=floor_ddb_sum+excluded.floor_ddb_sum",
		"band, first, hour, run, count" },
	[TABLE_ACTIVITY] = { "activity", activity_columns,
		" ON CONFLICT DO UPDATE SET busy_looks=excluded.busy_looks, busy_us=excluded.busy_us,"
		" openings=excluded.openings, held=excluded.held, blind_looks=excluded.blind_looks,"
		" blind_us=excluded.blind_us, level=excluded.level",
		"band, channel, hour, run" },
	[TABLE_TRANSMISSION] = { "transmission", transmission_columns, "",
		"band, channel, first_us, id" },
	[TABLE_INCIDENT] = { "incident", incident_columns, "", "at_us, id" },
	[TABLE_ARTEFACT] = { "artefact", artefact_columns, "", "band, channel, at_us, id" },
};

const char *survey_table_name(enum table_id t)
{
	return tables[t].name;
}

/* "a, b, c" of the columns, or "?1, ?2, ?3" for them; the given id left out of both. */
static char *list_columns(char *to, enum table_id t, bool with_id, bool as_values)
{
	const char *comma = "";
	int n = 1;

	for (const struct column *c = tables[t].columns; c->type != COLUMN_END; c++) {
		if (c->type == COLUMN_ID && !with_id)
			continue;
		to += as_values ? sprintf(to, "%s?%d", comma, n++)
				: sprintf(to, "%s%s", comma, c->name);
		comma = ", ";
	}
	return to;
}

void survey_insert_sql(enum table_id t, char sql[SURVEY_SQL])
{
	char *to = sql + sprintf(sql, "INSERT INTO %s(", tables[t].name);

	to = list_columns(to, t, false, false);
	to += sprintf(to, ") VALUES(");
	to = list_columns(to, t, false, true);
	sprintf(to, ")%s", tables[t].adding);
}

void survey_select_sql(enum table_id t, char sql[SURVEY_SQL])
{
	char *to = list_columns(sql + sprintf(sql, "SELECT "), t, true, false);

	sprintf(to, " FROM %s ORDER BY %s", tables[t].name, tables[t].order);
}

static void set_column(const struct column *c, struct statement *q, int at, const char *row,
		       struct row_bytes *bytes)
{
	const void *from = row + c->at;
	const int64_t *us = from;
	size_t n;

	switch (c->type) {
	case COLUMN_INT:
		statement_set_int(q, at, *(const int32_t *)from);
		break;
	case COLUMN_TEXT:
		statement_set_text(q, at, from);
		break;
	case COLUMN_SCALED:
		statement_set_int(q, at, llround(*(const double *)from * c->scale));
		break;
	case COLUMN_MODE:
		statement_set_text(q, at, mode_name(*(const enum mode *)from));
		break;
	case COLUMN_KIND:
		statement_set_text(q, at, kind_name(*(const enum kind *)from));
		break;
	case COLUMN_LEVELS:
		n = levels_pack(us, ((const struct activity_row *)(const void *)row)->level_looks,
				bytes->levels);
		statement_set_blob(q, at, bytes->levels, n);
		break;
	default:
		statement_set_int(q, at, *us);
	}
}

void survey_set_row(enum table_id t, struct statement *q, const void *row, struct row_bytes *bytes)
{
	int at = 1;

	for (const struct column *c = tables[t].columns; c->type != COLUMN_END; c++)
		if (c->type != COLUMN_ID)
			set_column(c, q, at++, row, bytes);
}

static int get_int(struct statement *q, int at, int32_t *to)
{
	int64_t value = statement_int(q, at);

	if (value < INT32_MIN || value > INT32_MAX)
		return -1;
	*to = (int32_t)value;
	return 0;
}

static int get_kind(const char *name, enum kind *to)
{
	for (int k = 0; k < KIND_COUNT; k++)
		if (strcmp(name, kind_name((enum kind)k)) == 0) {
			*to = (enum kind)k;
			return 0;
		}
	return -1;
}

static int get_levels(struct statement *q, int at, struct activity_row *row)
{
	size_t n;
	const uint8_t *bytes = statement_blob(q, at, &n);

	return levels_unpack(bytes, n, row->level, row->level_looks);
}

static int get_column(const struct column *c, struct statement *q, int at, char *row)
{
	void *to = row + c->at;

	switch (c->type) {
	case COLUMN_INT:
		return get_int(q, at, to);
	case COLUMN_TEXT:
		snprintf(to, c->size, "%s", statement_text(q, at));
		return 0;
	case COLUMN_SCALED:
		*(double *)to = (double)statement_int(q, at) / c->scale;
		return 0;
	case COLUMN_MODE:
		*(enum mode *)to = mode_named(statement_text(q, at));
		return *(enum mode *)to == MODE_COUNT ? -1 : 0;
	case COLUMN_KIND:
		return get_kind(statement_text(q, at), to);
	case COLUMN_LEVELS:
		return get_levels(q, at, (struct activity_row *)(void *)row);
	default:
		*(int64_t *)to = statement_int(q, at);
		return 0;
	}
}

const char *survey_get_row(enum table_id t, struct statement *q, void *row)
{
	int at = 0;

	for (const struct column *c = tables[t].columns; c->type != COLUMN_END; c++)
		if (get_column(c, q, at++, row) < 0)
			return c->name;
	return NULL;
}
