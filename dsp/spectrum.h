#ifndef BANDCENSUS_DSP_SPECTRUM_H
#define BANDCENSUS_DSP_SPECTRUM_H

#include <stdbool.h>

#include "dsp/block.h"
#include "dsp/window.h"

/* Power per bin of overlapping windowed transforms (Welch 1967). One owner,
 * one thread; two spectra share nothing. */
struct spectrum;

/* hop: samples from one transform to the next, 0 < hop <= bins, bins even.
 * NULL: no memory. Slow: plans the transform. */
struct spectrum *spectrum_create(int bins, int hop, enum window_shape shape, double beta);
void spectrum_destroy(struct spectrum *s);      /* NULL is fine */

/* How fast a transform is depends on its plan. The fastest are known for Debian's
 * FFTW on processors with AVX; elsewhere they can be searched for, and kept as text.
 * What was learnt holds for spectra created from then on, by any thread: call these
 * while no other thread creates one. Results then differ by a float's rounding. */
bool spectrum_plan_known(int bins);

/* Slow: for about so many seconds, at the most. */
void spectrum_plan_search(int bins, double seconds);

/* All that is known, to be freed; NULL: no memory. */
char *spectrum_plans_text(void);

/* false: of another FFTW or processor, or no such text; then nothing is learnt. */
bool spectrum_plans_learn(const char *text);

/* Back to what was known when the program began. */
void spectrum_plans_forget(void);

int spectrum_bins(const struct spectrum *s);
int spectrum_hop(const struct spectrum *s);
const float *spectrum_window(const struct spectrum *s);

/* The block's mean, full scale 1: what a converter's own offset leaves. */
float _Complex block_mean(const struct block *b);

/* Samples [from, from + n) as floats of full scale 1, less mean: I, Q, I, Q ... */
void block_floats(const struct block *b, size_t from, size_t n, float _Complex mean, float *out);

/* Adds the powers of `transforms` transforms to sum[bins]; the first starts at
 * sample `at`, and all must lie in the block. `mean` is taken off each sample.
 * Bins ascend in frequency: bin k is centre + (k - bins/2) * rate/bins. Over
 * one transform of white noise the bins add up to its mean power, full scale 1. */
void spectrum_add(struct spectrum *s, const struct block *b, size_t at, int transforms,
		  float _Complex mean, float *sum);

#endif
