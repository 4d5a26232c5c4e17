#include "tests/painted.h"

#include <string.h>

#include "dsp/window.h"

#define HOP (PAINTED_BINS / 2)

void painted_open(struct painted *p)
{
	*p = (struct painted){ 0 };
	p->look = (struct look){
		.centre = FREQ_KHZ(150000), .length_us = 19600,
		.bin_hz = (double)PAINTED_RATE / PAINTED_BINS, .bins = PAINTED_BINS,
		.slices = PAINTED_SLICES, .slice_transforms = 4, .transforms = 4 * PAINTED_SLICES,
		.total = p->total, .slice = p->slice[0],
	};
	p->band[0] = (struct band){
		.width_hz = 11000, .mode = MODE_NFM,
		.raster = { { FREQ_HZ(150000000 - 12500 * PAINTED_CHANNELS / 2 + 6250).thirds },
			    { 37500 }, PAINTED_CHANNELS },
	};
	p->n_bands = 1;
	p->span[0] = (struct span){ 0, 0, PAINTED_CHANNELS };
	p->hop = (struct hop){ p->look.centre, PAINTED_RATE, PAINTED_BINS, p->span, 1 };
	window_fill(p->window, PAINTED_BINS, WINDOW_KAISER, WINDOW_BETA);
	p->floor = floor_create(&p->look, p->window, HOP, false);
	assert_non_null(p->floor);
	painted_clear(p);
	painted_done(p);
	floor_learn(p->floor, &p->look);
	floor_settle(p->floor);
}

void painted_close(struct painted *p)
{
	detector_destroy(p->detector);
	floor_destroy(p->floor);
}

void painted_detector(struct painted *p, struct sense sense)
{
	p->detector = detector_create(&sense, &p->look, p->window, HOP, p->band,
				      p->n_bands, PAINTED_SEATS);
	assert_non_null(p->detector);
}

void painted_clear(struct painted *p)
{
	for (int s = 0; s < PAINTED_SLICES; s++)
		for (int k = 0; k < PAINTED_BINS; k++)
			p->slice[s][k] = (float)PAINTED_NOISE;
	for (int s = 0; s < LOOK_SLICES_MAX; s++) {
		p->look.spoilt[s] = false;
		p->look.lift[s] = 1;
	}
	p->look.clipped = p->look.quantum = 0;
	memset(p->open, 0, sizeof p->open);
}

void paint(struct painted *p, int first, int last, int from, int to, double ratio)
{
	for (int s = from; s <= to; s++)
		for (int k = first; k <= last; k++)
			p->slice[s][k] += (float)(ratio * PAINTED_NOISE);
}

void painted_done(struct painted *p)
{
	look_leave_out(&p->look);
	floor_judge(p->floor, &p->look);
}

const struct judged *painted_judge(struct painted *p)
{
	painted_done(p);
	return detector_judge(p->detector, &p->look, p->floor, &p->hop, p->open);
}
