#ifndef BANDCENSUS_STORE_MOMENT_H
#define BANDCENSUS_STORE_MOMENT_H

#include <stdbool.h>
#include <stdint.h>

#include "store/fault.h"

/* A moment as a person gives it: "2026-02-17 21:00", or "21:00" alone; in this computer's time
 * zone, or with Z behind it in UTC. */
struct moment {
	bool        given, dated, utc;
	int         year, month, day, hour, minute;     /* of the proleptic Gregorian calendar */
	const char *text;                               /* as it was written; borrowed         */
};

/* -1 when text is none, or a day that no calendar has. */
int moment_parse(const char *text, struct moment *out);

/* UTC in microseconds. One without a date is the first not before after_us. An hour that comes
 * twice, when clocks go back, is the first of the two, or with last the second. FAULT_INPUT: the
 * clocks skipped it; name is who asks, for the complaint. */
int moment_us(const struct moment *m, int64_t after_us, bool last, const char *name, int64_t *us,
	      struct fault *why);

#endif
