#ifndef BANDCENSUS_DSP_FLOOR_H
#define BANDCENSUS_DSP_FLOOR_H

#include "dsp/look.h"

/* The noise under the signals: the passband's shape, learnt over many looks and
 * the same wherever the tuner stands, times one level for each look, found from
 * that look's quiet part. Never a channel's own past, so that no signal, however
 * long it stays, is learnt as noise. For one rate, transform length and gain. */
struct floor;

/* For looks like this one. With one_place the tuner never moves: bursts are told
 * from the passband by their pauses, and lines that are always there and narrower
 * than a quarter of the window are taken for signals. NULL: no memory. */
struct floor *floor_create(const struct look *like, const float *window, int hop, bool one_place);
void floor_destroy(struct floor *f);            /* NULL is fine */

/* Remembers a look for the shape; every 128 looks the shape is made anew of the last
 * 128. So a changed passband is followed within 256 looks: five sweeps of 60 hops. */
void floor_learn(struct floor *f, const struct look *l);

/* The look learnt last was none: it is forgotten. */
void floor_forget(struct floor *f);

/* Makes the shape from what is remembered now. */
void floor_settle(struct floor *f);

/* Finds the look's level, of it alone: a step is followed at once. And leaves out slices in which everything rises at once
 * (a click: switch, lightning); how far others rise is in the look's lift. */
void floor_judge(struct floor *f, struct look *l);

/* Noise power between two positions of the look judged last. */
double floor_power(const struct floor *f, double from, double to);

/* Noise power of one bin of the look judged last. */
double floor_bin(const struct floor *f, int bin);

/* Mean power of the whole usable window's noise, full scale 1. */
double floor_level(const struct floor *f);

#endif
