#include "tests/test.h"

#include <math.h>
#include <stdlib.h>

#include "dsp/spectrum.h"
#include "dsp/window.h"
#include "tests/noise.h"

#define POINTS 8192

/* Periodic windows of 8192 points, scipy.signal.get_window 1.10.1: COMPUTED.
 * Harris 1978 table I prints the noise bandwidths to two digits: 1.00, 1.50,
 * 1.36, 1.73, 2.00, Kaiser 1.50, 1.65, 1.80, 1.93 (from memory, they agree). */
static const struct {
	const char       *why;
	enum window_shape shape;
	double            beta;
	double            noise_bins;
	double            overlap75, overlap50;         /* correlation in per cent */
} windows[] = {
	{ "rectangular is one bin",       WINDOW_RECTANGULAR,     0,          1.0000, 75.0, 50.0 },
	{ "Hann is three halves",         WINDOW_HANN,            0,          1.5000, 65.9, 16.7 },
	{ "Hamming",                      WINDOW_HAMMING,         0,          1.3628, 70.7, 23.4 },
	{ "Blackman",                     WINDOW_BLACKMAN,        0,          1.7268, 56.7,  9.0 },
	{ "Blackman-Harris, four terms",  WINDOW_BLACKMAN_HARRIS, 0,          2.0044, 46.0,  3.8 },
	{ "Kaiser, alpha 2",              WINDOW_KAISER,          2 * M_PI,   1.4963, 65.7, 16.9 },
	{ "Kaiser, alpha 2.5",            WINDOW_KAISER,          2.5 * M_PI, 1.6519, 59.5, 11.2 },
	{ "Kaiser, alpha 3",              WINDOW_KAISER,          3 * M_PI,   1.7952, 53.9,  7.4 },
	{ "Kaiser, alpha 3.5",            WINDOW_KAISER,          3.5 * M_PI, 1.9284, 48.8,  4.8 },
};

static void bandwidth_and_overlap(void **state)
{
	static float w[POINTS];
	(void)state;

	for (size_t i = 0; i < sizeof windows / sizeof windows[0]; i++) {
		window_fill(w, POINTS, windows[i].shape, windows[i].beta);
		double nb = window_noise_bins(w, POINTS);
		double o75 = 100 * sqrt(window_overlap(w, POINTS, POINTS / 4, 0));
		double o50 = 100 * sqrt(window_overlap(w, POINTS, POINTS / 2, 0));
		if (!(fabs(nb - windows[i].noise_bins) <= 1e-4))
			fail_msg("%s: noise bandwidth %.5f bins, want %.4f", windows[i].why, nb,
				 windows[i].noise_bins);
		if (!(fabs(o75 - windows[i].overlap75) <= 0.1) || !(fabs(o50 - windows[i].overlap50) <= 0.1))
			fail_msg("%s: overlap %.2f and %.2f %%, want %.1f and %.1f", windows[i].why,
				 o75, o50, windows[i].overlap75, windows[i].overlap50);
	}
}

/* Hann, white noise: neighbouring bins' powers correlate by (2/3)^2, the next but
 * one by (1/6)^2, exact. */
static void neighbouring_bins(void **state)
{
	static const double want[] = { 1, 4.0 / 9, 1.0 / 36, 0 };
	static float w[POINTS];
	(void)state;

	window_fill(w, POINTS, WINDOW_HANN, 0);
	for (int d = -3; d <= 3; d++)
		assert_true(fabs(window_overlap(w, POINTS, 0, d) - want[abs(d)]) < 1e-6);
}

/* Equivalent degrees of freedom of one bin, Welch 1967's variance formula with
 * windows of 8192 points, COMPUTED with NumPy 1.24; half of it is ours. */
static const struct {
	int    transforms;
	double hann50, hann75, hamming50, blackman_harris50;
} welch[] = {
	{ 1,    2.000,    2.000,    2.000,    2.000 },
	{ 2,    3.892,    2.788,    3.793,    3.994 },
	{ 3,    5.786,    3.755,    5.593,    5.989 },
	{ 5,    9.574,    5.785,    9.196,    9.977 },
	{ 8,    15.258,   8.879,    14.603,   15.961 },
	{ 16,   30.416,   17.173,   29.026,   31.915 },
	{ 50,   94.837,   52.493,   90.325,   99.724 },
	{ 100,  189.573,  104.448,  180.472,  199.442 },
	{ 1000, 1894.837, 1039.686, 1803.122, 1994.366 },
};

static void one_bin_as_welch(void **state)
{
	static float w[POINTS];
	static const struct {
		const char       *why;
		enum window_shape shape;
		int               part;
	} columns[] = {
		{ "Hann, half overlap",            WINDOW_HANN,            2 },
		{ "Hann, three quarters overlap",  WINDOW_HANN,            4 },
		{ "Hamming, half overlap",         WINDOW_HAMMING,         2 },
		{ "Blackman-Harris, half overlap", WINDOW_BLACKMAN_HARRIS, 2 },
	};
	(void)state;

	for (size_t c = 0; c < sizeof columns / sizeof columns[0]; c++) {
		window_fill(w, POINTS, columns[c].shape, 0);
		for (size_t i = 0; i < sizeof welch / sizeof welch[0]; i++) {
			double want = (&welch[i].hann50)[c] / 2;
			double got = window_freedom(w, POINTS, POINTS / columns[c].part,
						    welch[i].transforms, 0, 1);
			if (!(fabs(got / want - 1) <= 5e-4))
				fail_msg("%s, %d transforms: %.3f, want %.3f", columns[c].why,
					 welch[i].transforms, got, want);
		}
	}
}

/* Sums over bins and transforms of real noise looks. The variance of `looks`
 * nearly normal sums is known to sqrt(2/looks) and a little more: 20000 looks
 * give 1.0 to 1.3 %, the bounds are four of those and both ways. */
static const struct {
	const char       *why;
	enum window_shape shape;
	int               hop, transforms;
	double            from, wide;           /* bins */
} sums[] = {
	{ "the default: six bins, half overlap",       WINDOW_KAISER, 32, 24, 20, 6 },
	{ "ends in mid-bin on both sides",             WINDOW_KAISER, 32, 24, 20.5, 6 },
	{ "a narrow channel",                          WINDOW_KAISER, 32, 12, 20, 2.4 },
	{ "as wide as a quarter of the transform",     WINDOW_KAISER, 32, 8,  20, 16 },
	{ "wider than bins share anything",            WINDOW_HANN,   32, 4,  12, 40 },
	{ "three quarters overlap",                    WINDOW_HANN,   16, 20, 20, 6 },
	{ "no overlap",                                WINDOW_KAISER, 64, 20, 20, 6 },
	{ "a single transform",                        WINDOW_KAISER, 32, 1,  20, 12 },
};

static double simulate(size_t row, uint64_t seed)
{
	enum { BINS = 64, LOOKS = 20000 };
	struct spectrum *s = spectrum_create(BINS, sums[row].hop, sums[row].shape, WINDOW_BETA);
	size_t n = (size_t)(BINS + sums[row].hop * (sums[row].transforms - 1));
	float complex *iq = malloc(n * sizeof *iq);
	struct noise r = { seed };
	double m = 0, q = 0;

	assert_non_null(s);
	assert_non_null(iq);
	for (int look = 0; look < LOOKS; look++) {
		float sum[BINS] = { 0 };
		double p = 0;
		for (size_t i = 0; i < n; i++)
			iq[i] = 0;
		noise_add(&r, iq, n, 1);
		spectrum_add(s, &(struct block){ .iq = iq, .format = SAMPLE_CF32, .n = n }, 0,
			     sums[row].transforms, 0, sum);
		for (int k = 0; k < BINS; k++) {
			double in = fmin(k + 1, sums[row].from + sums[row].wide) - fmax(k, sums[row].from);
			p += in > 0 ? in * sum[k] : 0;
		}
		m += p / LOOKS;
		q += p * p / LOOKS;
	}
	free(iq);
	spectrum_destroy(s);
	return m * m / (q - m * m);
}

static void channel_sums_as_simulated(void **state)
{
	float w[64];
	(void)state;

	for (size_t i = 0; i < sizeof sums / sizeof sums[0]; i++) {
		window_fill(w, 64, sums[i].shape, WINDOW_BETA);
		double got = window_freedom(w, 64, sums[i].hop, sums[i].transforms,
					    sums[i].from - floor(sums[i].from), sums[i].wide);
		uint64_t seed = 100 + i;
		double want = simulate(i, seed);
		if (!(fabs(got / want - 1) <= 0.05))
			fail_msg("%s: %.2f, simulated %.2f (seed %d)", sums[i].why, got, want,
				 (int)seed);
	}
}

/* Kaiser 8, 1920 bins of 1250 Hz, half overlap, 7.5 kHz about a bin's middle: the
 * formula in window.h with NumPy 1.24 and SciPy's window, COMPUTED. */
static void the_usual_channel(void **state)
{
	static const struct {
		const char *why;
		int         transforms;
		double      want;
	} looks[] = {
		{ "10 ms",  24,  72.22 },  { "20 ms",  49,  147.37 },
		{ "50 ms",  124, 372.81 }, { "100 ms", 249, 748.53 },
	};
	static float w[1920];
	(void)state;

	window_fill(w, 1920, WINDOW_KAISER, 8);
	for (size_t i = 0; i < sizeof looks / sizeof looks[0]; i++) {
		double got = window_freedom(w, 1920, 960, looks[i].transforms, 0.5, 6);
		if (!(fabs(got / looks[i].want - 1) <= 1e-4))
			fail_msg("%s: %.2f, want %.2f", looks[i].why, got, looks[i].want);
	}
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(bandwidth_and_overlap),
		cmocka_unit_test(neighbouring_bins),
		cmocka_unit_test(one_bin_as_welch),
		cmocka_unit_test(channel_sums_as_simulated),
		cmocka_unit_test(the_usual_channel),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
