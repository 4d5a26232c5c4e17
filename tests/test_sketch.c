/* What a sketch says of frames put together line by line. */
#include "tests/test.h"

#include <complex.h>
#include <math.h>

#include "dsp/sketch.h"
#include "tests/noise.h"

#define SEED   UINT64_C(20261128)
#define RATE   25000.0
#define PASS   9375.0           /* 75 bins of the frame on either side */
#define BAND   30               /* bins on either side that the modulated frames fill evenly */
#define FRAMES 100
#define NOISE  1e-9

/* Lines of equal power and any phase: a frame of noise within the band. */
static void band_frame(struct noise *r, float complex *x)
{
	for (int i = 0; i < SKETCH_FRAME; i++)
		x[i] = 0;
	for (int k = -BAND; k <= BAND; k++)
		tone_add(x, SKETCH_FRAME, 1.0 / (2 * BAND + 1), k * RATE / SKETCH_FRAME, RATE,
			 2 * M_PI * noise_uniform(r));
}

/* As many frames with a bare line in that bin between them; 0: none. */
static struct features of_frames(int line)
{
	struct sketch *s = sketch_create(NULL);
	struct noise r = { SEED };
	struct features f;

	assert_non_null(s);
	sketch_reset(s, RATE, PASS, PASS);
	for (int i = 0; i < FRAMES; i++) {
		float complex x[SKETCH_FRAME];
		band_frame(&r, x);
		sketch_feed(s, x, SKETCH_FRAME, NOISE);
		if (line == 0)
			continue;
		for (int k = 0; k < SKETCH_FRAME; k++)
			x[k] = 0;
		tone_add(x, SKETCH_FRAME, 1, line * RATE / SKETCH_FRAME, RATE, 0);
		sketch_feed(s, x, SKETCH_FRAME, NOISE);
	}
	sketch_take(s, &f);
	sketch_destroy(s);
	return f;
}

/* The flatness is of the modulated frames and of their own middle: bare ones beside it change nothing. */
static void the_middle_of_what_is_modulated(void **state)
{
	struct features alone = of_frames(0);

	(void)state;
	assert_true(alone.frames == FRAMES && alone.lined == 0);
	if (!(fabs(alone.flatness - 1) < 0.03))
		fail_msg("an even band has a flatness of %.3f, seed %llu", alone.flatness, (unsigned long long)SEED);
	/* Half a bin more on either side is half of Hann's. */
	assert_true(fabs(alone.width_hz / (RATE / SKETCH_FRAME) - 0.99 * (2 * BAND + 1)) < 1.5);
	for (int way = -1; way <= 1; way += 2) {
		struct features f = of_frames(2 * way * BAND);
		assert_true(f.frames == 2 * FRAMES && f.lined == 0.5);
		if (f.flatness != alone.flatness)
			fail_msg("%.4f, beside a line at %+d bins %.4f", alone.flatness, 2 * way * BAND, f.flatness);
		/* From the line to the band's other end. */
		assert_true(fabs(f.width_hz / (RATE / SKETCH_FRAME) - 3 * BAND) < 2);
		assert_true(fabs(f.line - 1) < 1e-3);
	}
}

/* Frequency that swings as a sine does, 1.5 kHz beside the middle, in every second frame twice as far: its standard
 * deviation is 400 Hz and 800 Hz, a third of their mean beside it, and 632 Hz over all. */
static void swing_and_wander(void **state)
{
	struct sketch *s = sketch_create(NULL);
	struct features f;
	double phase = 0;

	(void)state;
	assert_non_null(s);
	sketch_reset(s, RATE, PASS, PASS);
	for (int i = 0; i < 20 * SKETCH_FRAME; i++) {
		double swing = i / SKETCH_FRAME % 2 ? 800 : 400;
		float complex x = (float complex)cexp(I * phase);
		phase += 2 * M_PI / RATE * (1500 + swing * M_SQRT2 * sin(2 * M_PI * 5 * i / SKETCH_FRAME));
		sketch_feed(s, &x, 1, NOISE);
	}
	sketch_take(s, &f);
	sketch_destroy(s);
	if (f.frames != 20 || f.lined != 0 || !(fabs(f.wander - 1 / 3.0) < 0.01 && fabs(f.swing_hz / 632.5 - 1) < 0.02 &&
	    fabs(f.offset_hz - 1500) < 10))
		fail_msg("%d frames, wander %.3f, swing %.0f Hz, %+.0f Hz beside the middle", f.frames, f.wander, f.swing_hz,
			 f.offset_hz);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(the_middle_of_what_is_modulated),
		cmocka_unit_test(swing_and_wander),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
