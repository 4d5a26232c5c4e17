#ifndef BANDCENSUS_TOOLS_PLAN_RISE_H
#define BANDCENSUS_TOOLS_PLAN_RISE_H

#include "store/survey.h"

/* Whether a band's noise is higher in hours in which the receiver was overloaded. The noise is
 * another in each part of a band (the passband, stations nearby), so hours are only held
 * against others of the same part. All 0 to begin with. */
struct rise_level {
	int64_t ddb, looks;             /* sum of floors, tenths of a dB */
};

struct rise {
	struct rise_part {
		int32_t           first;        /* channel: what is looked at together */
		struct rise_level calm, loud;   /* hours without and with overload     */
	}  *part;
	int parts;
};

/* More of an hour's looks spoilt by overload are no passing taxi (common practice). */
#define CLIPPED_SHARE 0.01

/* One hour of one part. -1: no memory. */
int rise_note(struct rise *r, const struct coverage_row *row);

/* In dB, in the part where it is most; 0: in none there were hours of both kinds, or none is
 * higher with overload. */
double rise_most(const struct rise *r);

void rise_free(struct rise *r);

#endif
