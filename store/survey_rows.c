#include "store/survey_rows.h"

#include <limits.h>
#include <math.h>
#include <stdio.h>
#include <string.h>

#include "store/levels.h"
#include "store/survey_tables.h"
#include "store/text.h"

const char *survey_table_name(enum table_id t)
{
	return survey_tables[t].name;
}

static void *member(enum table_id t, const char *name, void *row)
{
	for (const struct column *c = survey_tables[t].columns; c->type != COLUMN_END; c++)
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

	for (const struct column *c = survey_tables[t].columns; c->type != COLUMN_END; c++) {
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
	char *to = sql + sprintf(sql, "INSERT INTO %s(", survey_tables[t].name);

	to = list_columns(to, t, false);
	to += sprintf(to, ") VALUES(");
	to = list_columns(to, t, true);
	sprintf(to, ")%s", survey_tables[t].adding);
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

	for (const struct column *c = survey_tables[t].columns; c->type != COLUMN_END; c++, comma = ", ")
		to += sprintf(to, "%s%s", comma, c->since > version ? absent(c) : c->name);
	if (survey_tables[t].since > version)
		sprintf(sql, "SELECT 0 WHERE 0");
	else
		sprintf(to, " FROM %s ORDER BY %s", survey_tables[t].name, survey_tables[t].order);
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
	case COLUMN_HOURS:
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

	for (const struct column *c = survey_tables[t].columns; c->type != COLUMN_END; c++)
		if (c->type != COLUMN_ID)
			set_column(c, q, at++, row, bytes);
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

	if (levels_unpack(bytes, n, row->level, row->level_looks) < 0)
		return -1;
	for (int i = 0; i < LEVEL_BINS; i++)
		if (row->level[i] > survey_bounds[COLUMN_LENGTH].most || row->level_looks[i] > survey_bounds[COLUMN_MANY].most)
			return -1;
	return 0;
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
	if (kept == VALUE_INT && (value < survey_bounds[c->type].least || value > survey_bounds[c->type].most))
		return -1;
	switch (c->type) {
	case COLUMN_INT:
	case COLUMN_HOURS:
		*(int32_t *)to = (int32_t)value;
		return 0;
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

/* An over's ends come from one clock that is never stepped, and what never goes off is handed out by the hour. */
static const char *odd_over(const struct transmission_row *row)
{
	return row->last_us < row->first_us || row->last_us - row->first_us > 24 * HOUR_US ? "last_us" : NULL;
}

const char *survey_get_row(enum table_id t, struct statement *q, void *row)
{
	int at = 0;

	for (const struct column *c = survey_tables[t].columns; c->type != COLUMN_END; c++, at++)
		if (get_column(c, q, at, row) < 0)
			return c->name;
	return t == TABLE_TRANSMISSION ? odd_over(row) : NULL;
}
