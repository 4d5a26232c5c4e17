#ifndef BANDCENSUS_DAEMON_GAIN_STEPS_H
#define BANDCENSUS_DAEMON_GAIN_STEPS_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#define GAIN_STEPS_KNOWN 32     /* an R820T has 29, the most of all */

/* The gains that a tuner has, ascending. Pure. */
struct gain_steps {
	int32_t n;              /* 0: any */
	int32_t tenth_db[GAIN_STEPS_KNOWN];
};

/* Ascending, within 200 dB of none, and no more than there is room for; else whoever said
 * so talks nonsense. */
bool gain_steps_check(const struct gain_steps *s);

/* The step taken for what is wanted: the nearest, of two alike the lower one. */
int gain_steps_nearest(const struct gain_steps *s, int wanted_tenth_db);

/* "gain is set to 30.0 dB, the tuner has 29.7 and 32.8 dB: takes 29.7 dB"; false: it
 * has that one, or any. */
bool gain_steps_tell(const struct gain_steps *s, int wanted_tenth_db, char *out, size_t size);

#endif
