#include "store/survey_tables.h"

#define ROW(member) offsetof(struct ROW_OF, member), sizeof ((struct ROW_OF *)0)->member
#define AS(name, type, member, scale) { name, type, ROW(member), scale, 0 }
#define WIDE(member)         AS(#member, COLUMN_WIDE, member, 0)
#define RUN(member)          AS(#member, COLUMN_RUN, member, 0)
#define TIME(member)         AS(#member, COLUMN_TIME, member, 0)
#define LENGTH(member)       AS(#member, COLUMN_LENGTH, member, 0)
#define EDGE(member)         AS(#member, COLUMN_EDGE, member, 0)
#define MANY(member)         AS(#member, COLUMN_MANY, member, 0)
#define INT(member)          AS(#member, COLUMN_INT, member, 0)
#define TEXT(member)         AS(#member, COLUMN_TEXT, member, 0)
#define SINCE(version, type, member) { #member, type, ROW(member), 0, version }
#define END                  { NULL, COLUMN_END, 0, 0, 0, 0 }

#define ROW_OF band_row
static const struct column band_columns[] = {
	INT(band), AS("id", COLUMN_TEXT, what.id, 0), AS("name", COLUMN_TEXT, what.name, 0),
	AS("service", COLUMN_TEXT, what.service, 0),
	AS("first_thirds", COLUMN_THIRDS, what.raster.first, 0),
	AS("step_thirds", COLUMN_THIRDS, what.raster.step, 0),
	AS("channels", COLUMN_INT, what.raster.count, 0),
	AS("mode", COLUMN_MODE, what.mode, 0), AS("width_hz", COLUMN_INT, what.width_hz, 0),
	{ "split_thirds", COLUMN_SPLITS, offsetof(struct ROW_OF, what), sizeof(struct band), 0, 5 }, END
};
#undef ROW_OF
#define ROW_OF run_row
static const struct column run_columns[] = {
	AS("id", COLUMN_ID, id, 0), TIME(start_us), TIME(end_us), TEXT(station), TEXT(source),
	TEXT(version), INT(rate_hz), INT(gain_ddb), AS("ppb", COLUMN_SCALED, ppm, 1e3),
	LENGTH(dwell_us), AS("pfa_ppt", COLUMN_SCALED, pfa, 1e12),
	AS("margin_mdb", COLUMN_SCALED, margin_db, 1e3), END
};
#undef ROW_OF
#define ROW_OF coverage_row
static const struct column coverage_columns[] = {
	RUN(run), TIME(hour), INT(band), INT(first), INT(count), MANY(looks), MANY(pairs),
	LENGTH(looked_us), MANY(clipped), WIDE(floor_ddb_sum), SINCE(2, COLUMN_INT, floor_low_ddb),
	SINCE(2, COLUMN_INT, floor_high_ddb), SINCE(3, COLUMN_HOURS, more_hours), END
};
#undef ROW_OF
#define ROW_OF activity_row
static const struct column activity_columns[] = {
	RUN(run), TIME(hour), INT(band), INT(channel), MANY(busy_looks), LENGTH(busy_us),
	MANY(openings), MANY(held), MANY(blind_looks), LENGTH(blind_us),
	AS("level", COLUMN_LEVELS, level, 0), SINCE(3, COLUMN_HOURS, more_hours), END
};
#undef ROW_OF
#define ROW_OF transmission_row
static const struct column transmission_columns[] = {
	RUN(run), INT(band), INT(channel), TIME(first_us), TIME(last_us), EDGE(before_us),
	EDGE(after_us), LENGTH(busy_us), MANY(looks), INT(level_ddb), INT(peak_ddb), INT(floor_ddb),
	INT(offset_hz), INT(width_hz), AS("kind", COLUMN_KIND, kind, 0), INT(confidence),
	INT(tone_ddhz), SINCE(2, COLUMN_INT, heard_ms), SINCE(2, COLUMN_INT, occupied_hz),
	SINCE(2, COLUMN_INT, down26_hz), SINCE(2, COLUMN_INT, deviation_hz),
	SINCE(2, COLUMN_INT, depth_pm), SINCE(2, COLUMN_BELOW, below), SINCE(2, COLUMN_INT, code), END
};
#undef ROW_OF
#define ROW_OF incident_row
static const struct column incident_columns[] = {
	RUN(run), TIME(at_us), TIME(until_us), TEXT(what), TEXT(text), END
};
#undef ROW_OF
#define ROW_OF artefact_row
static const struct column artefact_columns[] = {
	RUN(run), TIME(at_us), INT(band), INT(channel), TEXT(cause), TEXT(text), END
};
#undef ROW_OF
#define ROW_OF setting_row
static const struct column setting_columns[] = {
	RUN(run), AS("file", COLUMN_STRING, file, 0), AS("text", COLUMN_STRING, text, 0), END
};
#undef ROW_OF
#define ROW_OF parked_row
static const struct column parked_columns[] = {
	RUN(run), TIME(hour), INT(band), INT(first), INT(count), MANY(parks), LENGTH(parked_us),
	SINCE(3, COLUMN_HOURS, more_hours), END
};
#undef ROW_OF
#define ROW_OF strip_row
static const struct column strip_columns[] = {
	RUN(run), INT(band), TIME(start_us), LENGTH(cell_us), INT(cells),
	AS("packed", COLUMN_BYTES, packed, 0), END
};
#undef ROW_OF

/* Activity is added up in survey.c before it replaces what is there: a packed
 * histogram has no sum in SQL. */
const struct table survey_tables[TABLE_COUNT] = {
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

/* The year 9999 ends the times that people write, and 100 GHz is past all bands; lengths and counts are as far below
 * the end of 64 bits as adding up a million rows needs. */
#define LAST_US  INT64_C(253402300799000000)
#define SUM_MOST INT64_C(1000000000000)

const struct column_bounds survey_bounds[COLUMN_TYPES] = {
	[COLUMN_ID] = { 1, SUM_MOST },
	[COLUMN_RUN] = { 1, SUM_MOST },
	[COLUMN_WIDE] = { -1000 * SUM_MOST, 1000 * SUM_MOST },
	[COLUMN_TIME] = { 0, LAST_US },
	[COLUMN_LENGTH] = { 0, 10 * SUM_MOST },
	[COLUMN_EDGE] = { -1, 10 * SUM_MOST },
	[COLUMN_MANY] = { 0, SUM_MOST },
	[COLUMN_THIRDS] = { 0, INT64_C(300000000000) },
	[COLUMN_INT] = { -2000000000, 2000000000 },
	[COLUMN_HOURS] = { 0, 23 },
	[COLUMN_SCALED] = { -SUM_MOST, SUM_MOST },
};
