#ifndef BANDCENSUS_TESTS_COMPARE_WORLD_H
#define BANDCENSUS_TESTS_COMPARE_WORLD_H

#include "tests/census_world.h"
#include "tools/plan/compare.h"

/* Two surveys of the fire band, put together exchange by exchange. */

/* Looks at the fire band from .. to these hours after NIGHT_US, each every_s. */
struct survey_of {
	struct tally *tally;
	double        every_s;
};

struct survey_of compare_begin(int from, int to, double every_s);

/* n exchanges of one over of 5 s, evenly through these hours. */
void compare_talk(struct survey_of *s, int channel, int n, double from_h, double to_h, enum kind kind,
		  int32_t tone_ddhz);

/* n overs in four hours that are on for that share of them. */
void compare_stay(struct survey_of *s, int channel, int n, double share);

struct census *compare_end(struct survey_of *s);

/* How often that is said of the channel; how much of anything. */
int compare_said(const struct comparison *c, int channel, enum change is);
int compare_all_said(const struct comparison *c, int channel);

#endif
