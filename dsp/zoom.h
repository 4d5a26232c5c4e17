#ifndef BANDCENSUS_DSP_ZOOM_H
#define BANDCENSUS_DSP_ZOOM_H

#include "dsp/block.h"

/* The latest block as floats, with what came just before it: several zooms draw
 * from one reel. Memory sized at the start. */
struct reel;

/* For blocks of up to n samples at that rate. NULL: no memory. */
struct reel *reel_create(int32_t rate_hz, size_t n);
void reel_destroy(struct reel *r);              /* NULL is fine */

/* Takes the next block, of n samples at the most; what is left over is not taken.
 * Copies: the block may go. */
void reel_load(struct reel *r, const struct block *b);

/* Samples of the block in it. */
size_t reel_samples(const struct reel *r);

/* Rates that a zoom comes down to, about: narrow is for channels up to 20 kHz wide,
 * wide for broadcast. */
#define ZOOM_NARROW_HZ 25000
#define ZOOM_WIDE_HZ   300000

/* One channel's complex baseband out of consecutive blocks: shifted to zero, filtered,
 * at a low rate. Carries on from block to block without a seam. */
struct zoom;

/* NULL: no memory. */
struct zoom *zoom_create(int32_t rate_hz, size_t n, double out_hz);
void zoom_destroy(struct zoom *z);              /* NULL is fine */

/* Starts afresh on what lies within pass_hz about an offset from the block's centre:
 * 0.1 dB down at the most at its edges, 60 dB down 0.15 of the lower rate further out. pass_hz is
 * at most zoom_widest(). */
void zoom_aim(struct zoom *z, double offset_hz, double pass_hz);
double zoom_widest(const struct zoom *z);

/* What samples [from, to) of the reel's block give. After zoom_aim the first draw begins
 * at from; later ones go on where the last ended, so that from must be 0 then and the
 * last to must have been that block's end. Returns the number of samples in zoom_out. */
size_t zoom_draw(struct zoom *z, const struct reel *r, size_t from, size_t to);

/* Borrowed until the next draw. */
const float _Complex *zoom_out(const struct zoom *z);

double zoom_rate(const struct zoom *z);         /* exact, in hertz */

/* White noise of this many hertz has as much power as passes. */
double zoom_noise_hz(const struct zoom *z);

#endif
