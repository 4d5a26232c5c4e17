#ifndef BANDCENSUS_TESTS_WHOLE_NIGHT_H
#define BANDCENSUS_TESTS_WHOLE_NIGHT_H

#include <stdbool.h>

#include "daemon/town/night.h"
#include "daemon/watch.h"
#include "tests/csv_rows.h"

/* A whole night of the town, surveyed once for a group of tests, what the tools say of it, and the
 * truth. Sanitized it is five times slower, and rests longer. */

#define NIGHT_SEED       20260217
#define NIGHT_SQUELCH_DB 6.0

struct whole_night {
	char             folder[64];
	struct town      town;
	struct night    *night;
	struct station   station;
	struct band     *bands;
	int              n_bands;
	struct hop_plan  hops;
	int64_t          from_us, to_us;        /* first look to last, town's clock */
	struct csv_rows *channels, *plan;
	int              ruled;
};

/* Of a group; *state is the night. */
int whole_night_set_up(void **state);
int whole_night_tear_down(void **state);

/* A file in its folder; good for two calls. */
char *night_path(const struct whole_night *w, const char *name);

/* What a verb of bandcensus says of the night, which leaves it in that file. */
struct csv_rows *night_told(const struct whole_night *w, const char *verb, const char *more, const char *file);

/* The emitter's row in the list of channels; -1: none. */
int night_row(const struct whole_night *w, const struct emitter *e);

/* The centre from which the emitter's channel is judged; thirds 0: from none. */
struct freq night_seat(const struct whole_night *w, const struct emitter *e);

double night_over_snr(const struct whole_night *w, const struct emitter *e, const struct over *o);

/* Overs of an emitter, at the squelch or more, that a look at its channel met. */
int night_overs_met(const struct whole_night *w, int emitter);

bool night_is_voice(const struct emitter *e);

#endif
