#include "tests/sketch_bench.h"

#include <stdlib.h>

#include "tests/test.h"

void bench_open(struct bench *b, double rate, double seconds, bool wide)
{
	*b = (struct bench){ .rate = rate, .n = (size_t)(rate * seconds) };
	b->iq = calloc(b->n, sizeof *b->iq);
	b->reel = reel_create((int32_t)rate, b->n);
	b->zoom = zoom_create((int32_t)rate, b->n, wide ? ZOOM_WIDE_HZ : ZOOM_NARROW_HZ);
	b->sketch = sketch_create(NULL);
	assert_true(b->iq && b->reel && b->zoom && b->sketch);
}

void bench_close(struct bench *b)
{
	reel_destroy(b->reel);
	zoom_destroy(b->zoom);
	sketch_destroy(b->sketch);
	free(b->iq);
}

void bench_aim(struct bench *b, double hz, double pass_hz)
{
	struct block block = { .iq = b->iq, .format = SAMPLE_CF32, .n = b->n, .rate_hz = (int32_t)b->rate };

	reel_load(b->reel, &block);
	zoom_aim(b->zoom, hz, pass_hz);
	sketch_reset(b->sketch, zoom_rate(b->zoom), pass_hz, zoom_noise_hz(b->zoom));
	b->drawn = zoom_draw(b->zoom, b->reel, 0, b->n);
	b->given = 0;
}

void bench_feed(struct bench *b, double seconds, struct features *f)
{
	size_t to = (size_t)(seconds * zoom_rate(b->zoom));

	to = to > b->drawn ? b->drawn : to;
	sketch_feed(b->sketch, zoom_out(b->zoom) + b->given, to - b->given, BENCH_NOISE);
	b->given = to;
	sketch_take(b->sketch, f);
}

void bench_look(struct bench *b, double hz, double pass_hz, bool first)
{
	struct block block = { .iq = b->iq, .format = SAMPLE_CF32, .n = b->n, .rate_hz = (int32_t)b->rate };

	reel_load(b->reel, &block);
	zoom_aim(b->zoom, hz, pass_hz);
	if (first)
		sketch_reset(b->sketch, zoom_rate(b->zoom), pass_hz, zoom_noise_hz(b->zoom));
	sketch_apart(b->sketch);
	size_t n = zoom_draw(b->zoom, b->reel, 0, b->n);
	sketch_feed(b->sketch, zoom_out(b->zoom), n, BENCH_NOISE);
}
