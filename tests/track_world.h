#ifndef BANDCENSUS_TESTS_TRACK_WORLD_H
#define BANDCENSUS_TESTS_TRACK_WORLD_H

#include "tests/test.h"

#include "dsp/track.h"

#define CHANNELS 4
#define SLICES   10
#define OVERS    4096
#define MS       1000
#define SECOND   1000000
#define EPOCH    INT64_C(1800000000000000)      /* UTC of the mono clock's zero */

/* Everything a track says. */
struct heard {
	struct transmission over[OVERS];
	int                 overs;
	int64_t             busy_us[CHANNELS], blind_us[CHANNELS];
	int                 openings, held, touches;
};

/* What a track is to call, with a struct heard for self. */
void note_over(void *self, const struct transmission *t);
void note_touch(void *self, const struct touch *t);

/* One band of those channels, all in one hop. */
extern const struct band track_band;
extern const struct hop track_hop;

/* One look at one channel: its sign, when it was, and how strong.
 * '.': idle, '#': busy throughout, '(': from the middle on, ')': up to the middle,
 * '|': two slices amid, '?': blind, 'x': our own making, ' ': not looked at. */
struct view {
	int32_t channel;
	char    sign;
	double  ratio;
};

/* Shows a track one look: these channels as said, the others idle. */
void show(struct track *t, int64_t at, int64_t span, const struct view *v, int n);

#endif
