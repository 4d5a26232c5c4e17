#ifndef BANDCENSUS_DAEMON_TOWN_AIR_H
#define BANDCENSUS_DAEMON_TOWN_AIR_H

#include <stddef.h>
#include <stdint.h>

#include "daemon/town/night.h"

/* What one tuner in an invented town puts out: everybody's overs, the noise, and
 * what the tuner adds. Knows no clock of its own. One owner, one thread. */
struct town_air;

struct air_setting {
	double centre_hz, rate_hz;      /* as a faultless crystal would have them   */
	double ppm;                     /* of the crystal's error, made up for      */
	double gain_db;
	double if_hz;                   /* where image_db counts                    */
};

/* What a tuner adds of its own. All zero: a plain one. */
struct air_flaws {
	double image_db;        /* what is 2 * IF above comes in mirrored, so much weaker; 0: none */
	double spur_hz, spur_dbfs;      /* a line so far from the centre, wherever that is */
	double third_dbfs;      /* where third-order products would be as strong as their parents */
};

/* Reads the town's file; same town, start and seed, same night. start NULL: as the file says.
 * NULL with why filled. */
struct town_air *town_air_create(const char *path, const char *start, uint64_t seed, struct fault *why);
void town_air_destroy(struct town_air *a);              /* NULL is fine */

const struct town *town_air_town(const struct town_air *a);     /* owned by a */
const struct night *town_air_night(const struct town_air *a);

/* Another crystal than the town's: its error for ever, and what comes on top of it
 * at first and later. */
void town_air_crystal(struct town_air *a, double ppm, double cold_ppm, double warm_ppm,
		      int64_t warm_up_us);

void town_air_flaws(struct town_air *a, const struct air_flaws *f);

/* Takes the antenna off: what the tuner makes itself is left. From the next
 * town_air_set on. */
void town_air_antenna_off(struct town_air *a);

/* Throws the dice of the noise anew, as at the start. */
void town_air_reset(struct town_air *a);

/* From at_us into the night on. Slow when the rate is another. -1: no memory. */
int town_air_set(struct town_air *a, const struct air_setting *to, int64_t at_us);

/* The next n pairs of bytes, I the lower, from start_us on. */
void town_air_fill(struct town_air *a, int64_t start_us, uint16_t *iq, size_t n);

#endif
