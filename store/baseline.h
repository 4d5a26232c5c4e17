#ifndef BANDCENSUS_STORE_BASELINE_H
#define BANDCENSUS_STORE_BASELINE_H

#include <stddef.h>
#include <stdint.h>

/* A line that was there with the antenna off: how it is told in an artefact's text. */
#define CAUSE_ANTENNA_OFF "antenna off"

struct baseline_line {
	double dbfs;            /* its power                                  */
	double share;           /* of the looks that showed it, 0 .. 1        */
	double gain_db;         /* of the tuner                               */
	double mhz;             /* where it was shown                         */
};

/* "-61.2 dBFS in 98 % of looks at 29.7 dB of gain, at 144.0047 MHz". Returns out. */
char *baseline_tell(const struct baseline_line *l, char *out, size_t size);

/* The same back; -1 when it is not that, out then untouched. */
int baseline_read(const char *text, struct baseline_line *out);

/* A band's noise with the antenna off, kept as an artefact of the channel in its middle. */
#define CAUSE_FLOOR_OFF "floor off"

struct baseline_floor {
	double  dbfs;           /* in a channel's measured width, mean of looks  */
	int64_t looks;
	double  gain_db;        /* of the tuner                                  */
};

/* "-78.31 dBFS of noise in 120 looks at 29.7 dB of gain". Returns out. */
char *baseline_floor_tell(const struct baseline_floor *f, char *out, size_t size);

/* The same back; -1 when it is not that, out then untouched. */
int baseline_floor_read(const char *text, struct baseline_floor *out);

#endif
