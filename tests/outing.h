#ifndef BANDCENSUS_TESTS_OUTING_H
#define BANDCENSUS_TESTS_OUTING_H

#include "store/picture.h"
#include "store/room.h"
#include "tests/fake_source.h"
#include "tests/survey_place.h"

#define SEED     UINT64_C(20260301)
#define SECOND   INT64_C(1000000)
#define DAY_US   INT64_C(1772323200000000)      /* 2026-03-01T00:00:00Z */
#define BEGIN_US (DAY_US + 593 * SECOND)          /* a minute turns amid the over */
#define NOISE    1e-4
#define CHANNEL  3              /* of the first band: where the carrier is */
#define ON_S     6.0            /* learning is over at about 4.5 s         */
#define OFF_S    8.0
#define FOR_S    8.0
#define SWEEP_US 75000          /* a little more than two looks            */

/* Two bands so far apart that each is a hop of its own. */
extern const struct band outing_bands[];

#define PARK_US  500000

#define BANDS 2
#define CHANNELS 10
#define MINUTES  120            /* from DAY_US on */

/* One watch over the fake, and what became of it. */
struct outing {
	struct fake_source *fake;
	int                 result;
	struct fault        why;
	struct world_seen   seen;
	int64_t             looks[BANDS], looked_us[BANDS];     /* as kept */
	int64_t             busy_looks, busy_us;
	uint8_t             strip[BANDS][MINUTES][CHANNELS];
};

/* What a watch may be kept with besides. */
struct besides {
	const struct room_source *room;
	int64_t                   limit_bytes;
	int64_t                   until_us;     /* UTC; 0: none */
	double                    park_share;
	bool                      file_stays;
};

/* Watches as the script has it; for_s 0: without end. Fails the test where it can't; the fake is
 * to be freed. */
struct outing go(const struct place *p, const struct script *script, int64_t utc_us, double for_s);
struct outing go_with(const struct place *p, const struct script *script, int64_t utc_us,
		      double for_s, const struct besides *besides);

#endif
