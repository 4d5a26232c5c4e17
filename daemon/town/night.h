#ifndef BANDCENSUS_DAEMON_TOWN_NIGHT_H
#define BANDCENSUS_DAEMON_TOWN_NIGHT_H

#include "store/town.h"

/* One night in an invented town. */

/* Key down to key up, and on to where the carrier falls. When the next over
 * starts at end_us the carrier never fell. */
struct over {
	int64_t  start_us, talk_us, end_us;
	float    level_db;      /* over the emitter's median                          */
	uint32_t seed;          /* of what is said                                    */
};

/* Everything of a night that chance decides; same town and seed, same night. */
struct night;

/* Borrows t. NULL: no memory. */
struct night *night_create(const struct town *t, uint64_t seed);
void night_destroy(struct night *n);            /* NULL is fine */

const struct town *night_town(const struct night *n);

/* An emitter's overs, ascending, never overlapping. */
const struct over *night_overs(const struct night *n, int emitter, int *count);

/* The thunderstorm's clicks (start_us to end_us), the same way. */
const struct over *night_clicks(const struct night *n, int *count);

/* First of ascending overs that ends after us; count when there is none. */
int over_after(const struct over *o, int count, int64_t us);

/* How far an emitter is off its nominal frequency. */
double night_offset_hz(const struct night *n, int emitter, int64_t us);

/* Writes every over of the night to a CSV file; its first lines say what the
 * columns are. Complete or not at all. */
int night_write_truth(const struct night *n, const char *path, struct fault *why);

#endif
