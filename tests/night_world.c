#include "tests/night_world.h"

#include <math.h>

#define LOOK_US 20000

const struct band world_band[WORLD_BANDS] = {
	[WORLD_FIRE] = { .id = "fire",
			 .name = "Fire",
			 .service = "fire",
			 .mode = MODE_NFM,
			 .width_hz = 11000,
			 .raster = { { INT64_C(3) * 153770000 }, { 7500 }, 277 } },
	[WORLD_AIR] = { .id = "air",
			.name = "Air, 8.33 kHz",
			.service = "air",
			.mode = MODE_AM,
			.width_hz = 6000,
			.raster = { { INT64_C(3) * 118000000 }, { 25000 }, 2280 } },
	[WORLD_BUSINESS] = { .id = "business",
			     .name = "Business, \"low\" part",
			     .service = "business",
			     .mode = MODE_NFM,
			     .width_hz = 11000,
			     .raster = { { INT64_C(3) * 450000000 }, { 37500 }, 400 } },
	[WORLD_PAGING] = { .id = "paging",
			   .name = "Paging",
			   .service = "paging",
			   .mode = MODE_NFM,
			   .width_hz = 14000,
			   .raster = { { INT64_C(3) * 152000000 }, { 7500 }, 300 } },
};

static int64_t looks_of(const struct world_over *o)
{
	return (int64_t)fmax(1, floor(o->length_s));
}

struct transmission_row world_transmission(const struct world_over *o)
{
	int64_t first = NIGHT_US + (int64_t)(o->at_s * 1e6);
	int64_t looks = looks_of(o);

	return (struct transmission_row){
		.run = 1,
		.band = o->band,
		.channel = o->channel,
		.first_us = first,
		.last_us = first + (looks - 1) * 1000000 + LOOK_US,
		.before_us = 400000,
		.after_us = 400000,
		.busy_us = looks * LOOK_US,
		.looks = looks,
		.level_ddb = o->level_ddb,
		.peak_ddb = o->level_ddb + 20,
		.floor_ddb = -700,
		.offset_hz = o->offset_hz,
		.width_hz = o->width_hz,
		.kind = o->kind,
		.confidence = 900,
		.tone_ddhz = o->tone_ddhz,
	};
}

struct activity_row world_activity(const struct world_over *o)
{
	int64_t first = NIGHT_US + (int64_t)(o->at_s * 1e6), looks = looks_of(o);
	struct activity_row a = {
		.run = 1, .hour = first / HOUR_US * HOUR_US, .band = o->band, .channel = o->channel,
		.busy_looks = looks, .busy_us = looks * LOOK_US, .openings = 1, .held = looks - 1,
	};

	a.level[o->level_ddb / 10] = a.busy_us;
	a.level_looks[o->level_ddb / 10] = a.busy_looks;
	return a;
}

struct run_row night_run(int hours)
{
	return (struct run_row){
		.id = 1,
		.start_us = NIGHT_US,
		.end_us = NIGHT_US + hours * HOUR_US,
		.station = "nowhere",
		.source = "invented",
		.version = "0",
		.rate_hz = 2400000,
		.gain_ddb = 297,
		.ppm = 1.5,
		.dwell_us = LOOK_US,
		.pfa = 1e-6,
		.margin_db = 3,
	};
}

struct coverage_row world_coverage(int32_t band, int hour)
{
	return (struct coverage_row){
		.run = 1, .hour = NIGHT_US + hour * HOUR_US, .band = band, .first = 0,
		.count = world_band[band].raster.count, .looks = 3600, .pairs = 3599,
		.looked_us = INT64_C(3600) * LOOK_US, .floor_ddb_sum = -700 * 3600,
	};
}
