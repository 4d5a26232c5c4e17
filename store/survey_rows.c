#include "store/survey_rows.h"

#include <limits.h>
#include <math.h>
#include <stdio.h>
#include <string.h>

#include "store/levels.h"
#include "store/text.h"

enum column_type {
	COLUMN_END = 0,
	COLUMN_ID,              /* int64_t, given by the database      */
	COLUMN_WIDE,            /* int64_t                             */
	COLUMN_INT,             /* int32_t                             */
	COLUMN_TEXT,            /* char[size]                          */
	COLUMN_SCALED,          /* double, kept as a whole number of 1/scale */
	COLUMN_MODE,            /* enum mode, by name                  */
	COLUMN_KIND,            /* enum kind, by name                  */
	COLUMN_BELOW,           /* enum below, by name                 */
	COLUMN_SPLITS,          /* of struct band, as band_splits_text */
	COLUMN_STRING,          /* const char *, borrowed              */
	COLUMN_BYTES,           /* struct bytes, borrowed              */
	COLUMN_LEVELS           /* level and level_looks, packed       */
};

struct column {
	const char      *name;
	enum column_type type;
	size_t           at;            /* offsetof in the row */
	size_t           size;
	double           scale;
	int              since;         /* version that brought it; 0: the first */
};

struct table {
	const char          *name;
	const struct column *columns;
	const char          *adding;    /* after the values: what to do about a row that is there */
	const char          *order;
	int                  since;
};

#define ROW(member) offsetof(struct ROW_OF, member), sizeof ((struct ROW_OF *)0)->member
#define AS(name, type, member, scale) { name, type, ROW(member), scale, 0 }
#define WIDE(member)         AS(#member, COLUMN_WIDE, member, 0)
#define INT(member)          AS(#member, COLUMN_INT, member, 0)
#define TEXT(member)         AS(#member, COLUMN_TEXT, member, 0)
#define SINCE(version, type, member) { #member, type, ROW(member), 0, version }
#define END                  { NULL, COLUMN_END, 0, 0, 0, 0 }

#define ROW_OF band_row
static const struct column band_columns[] = {
	INT(band), AS("id", COLUMN_TEXT, what.id, 0), AS("name", COLUMN_TEXT, what.name, 0),
	AS("service", COLUMN_TEXT, what.service, 0),
	AS("first_thirds", COLUMN_WIDE, what.raster.first, 0),
	AS("step_thirds", COLUMN_WIDE, what.raster.step, 0),
	AS("channels", COLUMN_INT, what.raster.count, 0),
	AS("mode", COLUMN_MODE, what.mode, 0), AS("width_hz", COLUMN_INT, what.width_hz, 0),
	{ "split_thirds", COLUMN_SPLITS, offsetof(struct ROW_OF, what), sizeof(struct band), 0, 5 }, END
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
	WIDE(looked_us), WIDE(clipped), WIDE(floor_ddb_sum), SINCE(2, COLUMN_INT, floor_low_ddb),
	SINCE(2, COLUMN_INT, floor_high_ddb), SINCE(3, COLUMN_INT, more_hours), END
};
#undef ROW_OF
#define ROW_OF activity_row
static const struct column activity_columns[] = {
	WIDE(run), WIDE(hour), INT(band), INT(channel), WIDE(busy_looks), WIDE(busy_us),
	WIDE(openings), WIDE(held), WIDE(blind_looks), WIDE(blind_us),
	AS("level", COLUMN_LEVELS, level, 0), SINCE(3, COLUMN_INT, more_hours), END
};
#undef ROW_OF
#define ROW_OF transmission_row
static const struct column transmission_columns[] = {
	WIDE(run), INT(band), INT(channel), WIDE(first_us), WIDE(last_us), WIDE(before_us),
	WIDE(after_us), WIDE(busy_us), WIDE(looks), INT(level_ddb), INT(peak_ddb), INT(floor_ddb),
	INT(offset_hz), INT(width_hz), AS("kind", COLUMN_KIND, kind, 0), INT(confidence),
	INT(tone_ddhz), SINCE(2, COLUMN_INT, heard_ms), SINCE(2, COLUMN_INT, occupied_hz),
	SINCE(2, COLUMN_INT, down26_hz), SINCE(2, COLUMN_INT, deviation_hz),
	SINCE(2, COLUMN_INT, depth_pm), SINCE(2, COLUMN_BELOW, below), SINCE(2, COLUMN_INT, code), END
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
#define ROW_OF setting_row
static const struct column setting_columns[] = {
	WIDE(run), AS("file", COLUMN_STRING, file, 0), AS("text", COLUMN_STRING, text, 0), END
};
#undef ROW_OF
#define ROW_OF parked_row
static const struct column parked_columns[] = {
	WIDE(run), WIDE(hour), INT(band), INT(first), INT(count), WIDE(parks), WIDE(parked_us),
	SINCE(3, COLUMN_INT, more_hours), END
};
#undef ROW_OF
#define ROW_OF strip_row
static const struct column strip_columns[] = {
	WIDE(run), INT(band), WIDE(start_us), WIDE(cell_us), INT(cells),
	AS("packed", COLUMN_BYTES, packed, 0), END
};
#undef ROW_OF

/* Activity is added up in survey.c before it replaces what is there: a packed
 * histogram has no sum in SQL. */
static const struct table tables[TABLE_COUNT] = {
	[TABLE_BAND] = { "band", band_columns, "", "band", 0 },
	[TABLE_RUN] = { "run", run_columns, "", "id", 0 },
	[TABLE_COVERAGE] = { "coverage", coverage_columns,
		" ON CONFLICT DO UPDATE SET looks=looks+excluded.looks, pairs=pairs+excluded.pairs,"
		" looked_us=looked_us+excluded.looked_us, clipped=clipped+excluded.clipped,"
		" floor_ddb_sum=floor_ddb_sum+excluded.floor_ddb_sum,"
		" floor_low_ddb=min(floor_low_ddb, excluded.floor_low_ddb),"
		" floor_high_ddb=max(floor_high_ddb, excluded.floor_high_ddb),"
		" more_hours=max(more_hours, excluded.more_hours)",
		"band, first, hour, run, count", 0 },
	[TABLE_ACTIVITY] = { "activity", activity_columns,
		" ON CONFLICT DO UPDATE SET busy_looks=excluded.busy_looks, busy_us=excluded.busy_us,"
		" openings=excluded.openings, held=excluded.held, blind_looks=excluded.blind_looks,"
		" blind_us=excluded.blind_us, level=excluded.level,"
		" more_hours=max(more_hours, excluded.more_hours)",
		"band, channel, hour, run", 0 },
	[TABLE_TRANSMISSION] = { "transmission", transmission_columns, "",
		"band, channel, first_us, id", 0 },
	[TABLE_INCIDENT] = { "incident", incident_columns, "", "at_us, id", 0 },
	[TABLE_ARTEFACT] = { "artefact", artefact_columns, "", "band, channel, at_us, id", 0 },
	[TABLE_SETTING] = { "setting", setting_columns,
		" ON CONFLICT DO UPDATE SET text=excluded.text", "run, file", 2 },
	[TABLE_PARKED] = { "parked", parked_columns,
		" ON CONFLICT DO UPDATE SET parks=parks+excluded.parks,"
		" parked_us=parked_us+excluded.parked_us,"
		" more_hours=max(more_hours, excluded.more_hours)",
		"band, first, hour, run, count", 2 },
	[TABLE_STRIP] = { "strip", strip_columns,
		" ON CONFLICT DO UPDATE SET cells=excluded.cells, packed=excluded.packed",
		"band, start_us, run, cell_us", 2 },
};

const char *survey_table_name(enum table_id t)
{
	return tables[t].name;
}

static void *member(enum table_id t, const char *name, void *row)
{
	for (const struct column *c = tables[t].columns; c->type != COLUMN_END; c++)
		if (strcmp(c->name, name) == 0)
			return (char *)row + c->at;
	return NULL;
}

int64_t *survey_row_run(enum table_id t, void *row)
{
	return member(t, "run", row);
}

int32_t *survey_row_band(enum table_id t, void *row)
{
	return member(t, "band", row);
}

/* "a, b, c" of the columns, or "?1, ?2, ?3" for them; the given id left out of both. */
static char *list_columns(char *to, enum table_id t, bool as_values)
{
	const char *comma = "";
	int n = 1;

	for (const struct column *c = tables[t].columns; c->type != COLUMN_END; c++) {
		if (c->type == COLUMN_ID)
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

	to = list_columns(to, t, false);
	to += sprintf(to, ") VALUES(");
	to = list_columns(to, t, true);
	sprintf(to, ")%s", tables[t].adding);
}

/* What a file older than a column says for it. */
static const char *absent(const struct column *c)
{
	return c->type == COLUMN_BELOW ? "'unknown'" : c->type == COLUMN_SPLITS ? "''" : "0";
}

void survey_select_sql(enum table_id t, int version, char sql[SURVEY_SQL])
{
	char *to = sql + sprintf(sql, "SELECT ");
	const char *comma = "";

	for (const struct column *c = tables[t].columns; c->type != COLUMN_END; c++, comma = ", ")
		to += sprintf(to, "%s%s", comma, c->since > version ? absent(c) : c->name);
	if (tables[t].since > version)
		sprintf(sql, "SELECT 0 WHERE 0");
	else
		sprintf(to, " FROM %s ORDER BY %s", tables[t].name, tables[t].order);
}

void survey_choose_sql(enum table_id t, const char *which, char sql[SURVEY_SQL])
{
	survey_select_sql(t, INT_MAX, sql);
	strcpy(strstr(sql, " ORDER BY ") + 1, which);
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
	case COLUMN_BELOW:
		statement_set_text(q, at, below_name(*(const enum below *)from));
		break;
	case COLUMN_SPLITS:
		statement_set_text(q, at, band_splits_text(from, bytes->splits));
		break;
	case COLUMN_STRING:
		statement_set_text(q, at, *(const char *const *)from);
		break;
	case COLUMN_BYTES:
		statement_set_blob(q, at, ((const struct bytes *)from)->at,
				   ((const struct bytes *)from)->n);
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

static int get_int(int64_t value, int32_t *to)
{
	if (value < INT32_MIN || value > INT32_MAX)
		return -1;
	*to = (int32_t)value;
	return 0;
}

/* n > 0. Names are read as bytes: as text SQLite would make a copy with an end to it. */
static bool spells(const uint8_t *bytes, size_t n, const char *name)
{
	return bytes[0] == (uint8_t)name[0] && n == strlen(name) && memcmp(bytes, name, n) == 0;
}

static int get_kind(struct statement *q, int at, enum kind *to)
{
	size_t n;
	const uint8_t *bytes = statement_blob(q, at, &n);

	for (int k = 0; k < KIND_COUNT; k++)
		if (n > 0 && spells(bytes, n, kind_name((enum kind)k))) {
			*to = (enum kind)k;
			return 0;
		}
	return -1;
}

static int get_below(struct statement *q, int at, enum below *to)
{
	size_t n;
	const uint8_t *bytes = statement_blob(q, at, &n);

	for (int b = 0; b < BELOW_COUNT; b++)
		if (n > 0 && spells(bytes, n, below_name((enum below)b))) {
			*to = (enum below)b;
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

/* As SQLite must have kept it: a damaged row holds others, and nothing at all reads as 0. */
static enum value_type kept_as(const struct column *c)
{
	static const enum value_type types[] = {
		[COLUMN_TEXT] = VALUE_TEXT, [COLUMN_MODE] = VALUE_TEXT, [COLUMN_KIND] = VALUE_TEXT,
		[COLUMN_BELOW] = VALUE_TEXT, [COLUMN_SPLITS] = VALUE_TEXT, [COLUMN_STRING] = VALUE_TEXT,
		[COLUMN_BYTES] = VALUE_BLOB, [COLUMN_LEVELS] = VALUE_BLOB,
	};
	return types[c->type] == VALUE_OTHER ? VALUE_INT : types[c->type];
}

static int get_column(const struct column *c, struct statement *q, int at, char *row)
{
	void *to = row + c->at;
	enum value_type kept = kept_as(c);
	int64_t value = 0;

	/* Nearly all are whole numbers, and a long survey has millions. */
	if (kept == VALUE_INT ? !statement_whole(q, at, &value) : statement_type(q, at) != kept)
		return -1;
	switch (c->type) {
	case COLUMN_INT:
		return get_int(value, to);
	case COLUMN_TEXT:
		snprintf(to, c->size, "%s", statement_text(q, at));
		text_tame(to);
		return 0;
	case COLUMN_SCALED:
		*(double *)to = (double)value / c->scale;
		return 0;
	case COLUMN_MODE:
		*(enum mode *)to = mode_named(statement_text(q, at));
		return *(enum mode *)to == MODE_COUNT ? -1 : 0;
	case COLUMN_KIND:
		return get_kind(q, at, to);
	case COLUMN_BELOW:
		return get_below(q, at, to);
	case COLUMN_SPLITS:
		return band_splits_parse(to, statement_text(q, at));
	case COLUMN_STRING:
		*(const char **)to = statement_text(q, at);
		return 0;
	case COLUMN_BYTES:
		((struct bytes *)to)->at = statement_blob(q, at, &((struct bytes *)to)->n);
		return 0;
	case COLUMN_LEVELS:
		return get_levels(q, at, (struct activity_row *)(void *)row);
	default:
		*(int64_t *)to = value;
		return 0;
	}
}

const char *survey_get_row(enum table_id t, struct statement *q, void *row)
{
	int at = 0;

	for (const struct column *c = tables[t].columns; c->type != COLUMN_END; c++, at++)
		if (get_column(c, q, at, row) < 0)
			return c->name;
	return NULL;
}
