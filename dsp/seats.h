#ifndef BANDCENSUS_DSP_SEATS_H
#define BANDCENSUS_DSP_SEATS_H

#include "dsp/floor.h"
#include "dsp/hop.h"
#include "dsp/limits.h"

/* How the channels of one band are judged. */
struct manner {
	double        half_hz;          /* half the measured width                         */
	double        gap_hz;           /* from its end to the next one's; 0: they touch   */
	struct limits on, between;      /* for the measured part, for that gap, ...        */
	struct limits outermost;        /* ... and for half of it at the raster's ends     */
};

/* A channel's measured part, or the gap over it that belongs to no channel. */
struct seat {
	int32_t band, channel;          /* between: the lower one, perhaps -1 */
	double  from, to;               /* on the look's bins                 */
	double  power, floor;
	bool    candidate, between;
};

/* What is judged: a look, its noise, the channels and which of them were open. */
struct scene {
	const struct look  *look;
	const struct floor *floor;
	const struct hop   *hop;
	const bool         *open;
};

/* The parts of a look that are judged, for hops of some bands. */
struct seats {
	const struct band *bands;
	struct manner     *manner;      /* one a band                                  */
	struct seat       *seat;        /* channels in the order of the hop's spans,   */
	int                n;           /* then gaps                                   */
	int                channels;    /* of those n                                  */
	int                most;
};

/* For hops of up to so many channels. false: no memory; free what there is. */
bool seats_open(struct seats *s, const struct sense *sense, const struct look *like,
		const float *window, int hop_samples, const struct band *bands, int n_bands,
		int max_channels);
void seats_close(struct seats *s);

/* Measures a look's seats, and marks as candidates those that no noise explains. */
void seats_take(struct seats *s, const struct scene *in);

/* Index of a channel among the seats, or -1 when this hop does not judge it. */
int seats_of(const struct hop *hop, int32_t band, int32_t channel);

#endif
