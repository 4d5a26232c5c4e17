#include "tests/survey_world.h"

#include <stdio.h>
#include <string.h>

#define MHZ(m) (INT64_C(3000000) * (m))

const struct band world_bands[WORLD_BANDS] = {
	{ "air", "Aeronautical, \"8.33\"", "air", { { MHZ(118) }, { 25000 }, 2280 }, MODE_AM, 6000, { { 0 } } },
	{ "works", "Works", "works", { { MHZ(155) + 1 }, { 22500 }, 40 }, MODE_NFM, 11000,
	  { { 1800000 }, { -1800000 }, { 25000 } } },
};

/* 40 cells that are STRIP_QUIET: Python's zlib.compress(b"\1" * 40, 9). */
static const uint8_t forty_quiet[] = {
	0x78, 0xda, 0x63, 0x64, 0x24, 0x0e, 0x00, 0x00, 0x03, 0x5c, 0x00, 0x29,
};

struct run_row world_run(void)
{
	return (struct run_row){
		.start_us = 5 * HOUR_US + 7, .station = "roof", .source = "dongle 00000001",
		.version = "0.1.0", .rate_hz = 2400000, .gain_ddb = 297, .ppm = -38.217,
		.dwell_us = 30000, .pfa = 1e-6, .margin_db = 3.5,
	};
}

struct world_rows world_rows(int64_t run, int number)
{
	int64_t at = 6 * HOUR_US + number * INT64_C(1000000);
	struct world_rows r = {
		.coverage = { run, 6 * HOUR_US, 0, 16, 200, 100 + number, 90, 3000000000, 2, -61400, -640, -598, 0 },
		.activity = { .run = run, .hour = 6 * HOUR_US, .band = 1, .channel = 39, .busy_looks = 9,
			.busy_us = 270000, .openings = 2, .held = 7, .blind_looks = 3, .blind_us = 90000 },
		.transmission = { run, 1, number % 40, at, at + 800000, 30000, 40000, 780000, 26, 184,
			251, -614, -120, 9800, KIND_NFM, 930, 1035, 760, 9100, 14200, 2400, 3,
			BELOW_CODE, 0754 },
		.setting = { run, number % 2 ? "a.conf" : "b.conf", "place = \"roof\";\n" },
		.parked = { run, 6 * HOUR_US, 1, 0, 40, 1, 10000000, 0 },
		.incident = { run, at, at + 5, "lost", "dongle 00000001 went; its cable? \xc3\xa9" },
		.artefact = { run, at, 0, 2279, "birdie", "stays when the tuner moves" },
	};

	r.strip = (struct strip_row){ run, 1, 6 * HOUR_US, 60000000, 1, { forty_quiet, sizeof forty_quiet } };
	r.activity.level[0] = 1;
	r.activity.level_looks[0] = 1;
	r.activity.level[17] = 260000 + number;
	r.activity.level_looks[17] = 7;
	r.activity.level[LEVEL_BINS - 1] = INT64_C(3600000000);
	r.activity.level_looks[LEVEL_BINS - 1] = 128;
	return r;
}

int world_write(struct survey *s, const struct world_rows *rows, struct fault *why)
{
	int failed = survey_begin(s, why);

#define ADD(noun) failed = failed < 0 ? failed : survey_add_##noun(s, &rows->noun, why);
	SURVEY_NOUNS(ADD)
#undef ADD
	if (failed == 0 && survey_commit(s, why) == 0)
		return 0;
	survey_rollback(s);
	return -1;
}

#define SEE(noun, also) \
static int see_##noun(void *self, const struct noun##_row *row) \
{ \
	struct world_seen *w = self; \
	if (w->n_##noun < WORLD_ROWS) \
		w->noun[w->n_##noun] = *row; \
	w->n_##noun++; \
	also; \
	return 0; \
}

static int64_t sum_levels(const struct activity_row *row)
{
	int64_t sum = 0;

	for (int i = 0; i < LEVEL_BINS; i++)
		sum += row->level[i];
	return sum;
}

SEE(run, (void)0)
SEE(coverage, w->looks += row->looks)
SEE(activity, w->level_us += sum_levels(row))
SEE(transmission, (void)0)
SEE(incident, (void)0)
SEE(artefact, (void)0)
SEE(setting, w->text_bytes += (int64_t)strlen(row->text))
SEE(parked, w->parks += row->parks)
SEE(strip, w->strip_bytes += (int64_t)row->packed.n)

int world_see(struct survey *s, struct world_seen *w, struct fault *why)
{
	memset(w, 0, sizeof *w);
	int stopped = survey_each_run(s, see_run, w, why);
#define EACH(noun) stopped = stopped ? stopped : survey_each_##noun(s, see_##noun, w, why);
	SURVEY_NOUNS(EACH)
#undef EACH
	return stopped ? -1 : 0;
}
