#ifndef BANDCENSUS_TESTS_SKETCH_BENCH_H
#define BANDCENSUS_TESTS_SKETCH_BENCH_H

#include <complex.h>
#include <stdbool.h>
#include <stddef.h>

#include "dsp/sketch.h"
#include "dsp/zoom.h"

#define BENCH_NOISE 1e-9        /* per hertz */

/* Samples, and the chain from there to a sketch of one channel. */
struct bench {
	struct reel   *reel;
	struct zoom   *zoom;
	struct sketch *sketch;
	float complex *iq;
	size_t         n, drawn, given;
	double         rate;
};

void bench_open(struct bench *b, double rate, double seconds, bool wide);
void bench_close(struct bench *b);

/* Filters out what is in iq, for the sketch to be fed with. */
void bench_aim(struct bench *b, double hz, double pass_hz);

/* Feeds it up to that time, as far as there is any. */
void bench_feed(struct bench *b, double seconds, struct features *f);

/* One look of a sweep; the first begins an over. */
void bench_look(struct bench *b, double hz, double pass_hz, bool first);

#endif
