#ifndef BANDCENSUS_TESTS_NIGHT_WORLD_H
#define BANDCENSUS_TESTS_NIGHT_WORLD_H

#include "store/survey.h"

/* An invented night, put together over by over, for tests of the tools. */

#define NIGHT_US INT64_C(1767225600000000)      /* 2026-01-01T00:00:00Z, a Thursday */

/* Four bands: fire 2.5 kHz NFM, air 25/3 kHz AM, business 12.5 kHz NFM, paging
 * 2.5 kHz NFM. */
enum { WORLD_FIRE = 0, WORLD_AIR, WORLD_BUSINESS, WORLD_PAGING, WORLD_BANDS };
extern const struct band world_band[WORLD_BANDS];

struct world_over {
	int32_t   band, channel;
	double    at_s, length_s;       /* after NIGHT_US */
	int32_t   level_ddb;
	int32_t   offset_hz, width_hz;
	enum kind kind;
	int32_t   tone_ddhz;
};

/* The over as the survey keeps it: looked at once a second. */
struct transmission_row world_transmission(const struct world_over *o);

/* What it adds to its channel's account. */
struct activity_row world_activity(const struct world_over *o);

/* A run of so many hours and its coverage of a band: a look of 20 ms each second. */
struct run_row night_run(int hours);
struct coverage_row world_coverage(int32_t band, int hour);

#endif
