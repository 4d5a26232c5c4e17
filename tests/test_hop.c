#include "tests/test.h"

#include <limits.h>
#include <stdbool.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "dsp/hop.h"
#include "tests/noise.h"

#define BANDS_MAX 6

/* Every step in use, in thirds of a hertz. */
static const int64_t steps[] = {
	7500, 15000, 18750, 22500, 25000, 30000, 37500, 45000, 60000, 75000, 300000, 600000,
};

static int64_t need(const struct band *b)
{
	int64_t width = FREQ_HZ(b->width_hz).thirds;
	return (width > b->raster.step.thirds ? width : b->raster.step.thirds) / 2;
}

/* What the flat middle reaches to either side, from the rate alone. */
static int64_t half_usable(int32_t rate_hz)
{
	return (int64_t)rate_hz * 5 / 4;        /* 3 thirds * 5/6 / 2 */
}

/* Bands in ascending order whose channels' needs do not overlap. */
static int random_bands(struct noise *r, struct band *bands, int max, int most_channels)
{
	int n = (int)noise_between(r, 1, max);
	int64_t at = FREQ_KHZ(noise_between(r, 30000, 40000)).thirds;

	for (int i = 0; i < n; i++) {
		struct band *b = &bands[i];
		memset(b, 0, sizeof *b);
		int64_t step = steps[noise_between(r, 0, sizeof steps / sizeof steps[0] - 1)];
		b->raster.step.thirds = step;
		b->raster.count = (int32_t)noise_between(r, 1, most_channels);
		b->width_hz = (int32_t)(step / 3 * noise_between(r, 5, 22) / 10);
		/* Touching, near or far. */
		static const int64_t apart[] = { 0, 100, 300000, 30000000 };
		at += noise_between(r, 0, apart[noise_between(r, 0, 3)]);
		b->raster.first.thirds = at + need(b);
		at = raster_last(&b->raster).thirds + need(b);
	}
	return n;
}

static bool between_two(const struct band *bands, int n, struct freq centre)
{
	for (int i = 0; i < n; i++) {
		const struct raster *r = &bands[i].raster;
		if (centre.thirds <= band_low(&bands[i]).thirds ||
		    centre.thirds >= band_high(&bands[i]).thirds)
			continue;
		int64_t twice = 2 * (centre.thirds - r->first.thirds) + r->step.thirds;
		if (twice % (2 * r->step.thirds) != 0)
			return false;
	}
	return true;
}

static const char *wrong_hop(const struct hop *h, const struct band *bands, int n, int32_t rate_hz)
{
	int64_t half = half_usable(rate_hz);
	int64_t finest = INT64_MAX;

	if (h->rate_hz != rate_hz || h->n_spans < 1)
		return "rate, or nothing in it";
	if (!between_two(bands, n, h->centre))
		return "the centre lies in a channel";
	for (int i = 0; i < h->n_spans; i++) {
		const struct span *s = &h->spans[i];
		const struct band *b = &bands[s->band];
		int64_t low = raster_centre(&b->raster, s->first).thirds - need(b);
		int64_t high = raster_centre(&b->raster, s->first + s->count - 1).thirds + need(b);
		if (low < h->centre.thirds - half || high > h->centre.thirds + half)
			return "a channel outside the usable middle";
		if (b->raster.step.thirds < finest)
			finest = b->raster.step.thirds;
	}
	return h->bins == hop_bins(rate_hz, (struct freq){ finest }) ? NULL : "transform length";
}

/* Spans in order must tell every channel once, in order. */
static const char *wrong_plan(const struct hop_plan *p, const struct band *bands, int n,
			      int32_t rate_hz)
{
	int band = 0;
	int32_t channel = 0;

	for (int i = 0; i < p->n; i++) {
		const char *why = wrong_hop(&p->hops[i], bands, n, rate_hz);
		if (why)
			return why;
		if (i > 0 && p->hops[i].centre.thirds <= p->hops[i - 1].centre.thirds)
			return "hops do not ascend";
		for (int k = 0; k < p->hops[i].n_spans; k++) {
			const struct span *s = &p->hops[i].spans[k];
			if (s->band != band || s->first != channel || s->count < 1)
				return "channels out of order, missing or twice";
			channel += s->count;
			if (channel == bands[band].raster.count) {
				band++;
				channel = 0;
			}
		}
	}
	return band == n ? NULL : "channels missing at the end";
}

static void every_channel_has_its_hop(void **state)
{
	static const int32_t rates[] = { 2400000, 2048000, 1000000, 1800000, 3200000 };
	(void)state;

	for (uint64_t seed = 1; seed <= 5000; seed++) {
		struct noise r = { seed };
		struct band bands[BANDS_MAX];
		struct hop_plan p;
		int n = random_bands(&r, bands, BANDS_MAX, 400);
		int32_t rate = rates[seed % 5];
		assert_int_equal(hop_plan_sweep(&p, bands, n, rate), 0);
		const char *why = wrong_plan(&p, bands, n, rate);
		if (why)
			fail_msg("seed %d, rate %d: %s", (int)seed, rate, why);
		hop_plan_free(&p);
	}
}

/* A channel by itself, for the exhaustive search. */
struct single {
	int64_t low, high;      /* with its need */
};

/* Whether any admissible centre has all of channels a .. b in its middle: every
 * half-way point and both ends of the admissible stretch are tried. */
static bool fits_one_hop(const struct band *bands, int n, const struct single *c, int a, int b,
			 int64_t half)
{
	int64_t from = INT64_MIN, to = INT64_MAX;

	for (int i = a; i <= b; i++) {
		from = c[i].high - half > from ? c[i].high - half : from;
		to = c[i].low + half < to ? c[i].low + half : to;
	}
	if (from > to)
		return false;
	if (between_two(bands, n, (struct freq){ from }) || between_two(bands, n, (struct freq){ to }))
		return true;
	for (int i = 0; i < n; i++) {
		const struct raster *r = &bands[i].raster;
		for (int32_t k = 0; k <= r->count; k++) {
			int64_t at = band_low(&bands[i]).thirds + k * r->step.thirds;
			if (at >= from && at <= to)
				return true;
		}
	}
	return false;
}

/* Fewest hops, by trying every way to cut the row of channels. */
static int fewest(const struct band *bands, int n, int32_t rate_hz)
{
	struct single c[200];
	int best[201] = { 0 }, m = 0;

	for (int i = 0; i < n; i++)
		for (int32_t k = 0; k < bands[i].raster.count; k++) {
			int64_t at = raster_centre(&bands[i].raster, k).thirds;
			c[m++] = (struct single){ at - need(&bands[i]), at + need(&bands[i]) };
		}
	for (int b = 0; b < m; b++) {
		best[b + 1] = INT_MAX;
		for (int a = b; a >= 0; a--)
			if (best[a] + 1 < best[b + 1] &&
			    fits_one_hop(bands, n, c, a, b, half_usable(rate_hz)))
				best[b + 1] = best[a] + 1;
	}
	return best[m];
}

/* Whether each channel lies in the middle of a hop that is centred beside it. */
static bool all_fit(const struct band *bands, int n, int32_t rate_hz)
{
	for (int i = 0; i < n; i++)
		if (need(&bands[i]) + bands[i].raster.step.thirds / 2 >= half_usable(rate_hz))
			return false;
	return true;
}

static void fewest_hops(void **state)
{
	(void)state;
	for (uint64_t seed = 1; seed <= 1000; seed++) {
		struct noise r = { seed };
		struct band bands[4];
		struct hop_plan p;
		int n = random_bands(&r, bands, 4, 30);
		int32_t rate = seed % 2 ? 1000000 : 600000;
		bool fits = all_fit(bands, n, rate);
		assert_int_equal(hop_plan_sweep(&p, bands, n, rate), fits ? 0 : -1);
		if (!fits)
			continue;
		int want = fewest(bands, n, rate);
		if (p.n != want)
			fail_msg("seed %d: %d hops, %d would do", (int)seed, p.n, want);
		hop_plan_free(&p);
	}
}

static struct band band_at(int64_t first_hz, int64_t step_thirds, int32_t count, int32_t width_hz)
{
	return (struct band){ .raster = { FREQ_HZ(first_hz), { step_thirds }, count },
			      .width_hz = width_hz };
}

static void too_wide_a_channel_is_refused(void **state)
{
	struct band wide = band_at(100000000, 600000, 20, 2100000);
	struct band fits = band_at(100000000, 600000, 1, 1500000);
	struct hop_plan p;
	(void)state;

	assert_int_equal(hop_plan_sweep(&p, &wide, 1, 2400000), -1);
	assert_null(p.hops);
	assert_int_equal(hop_plan_sweep(&p, &fits, 1, 2400000), 0);
	hop_plan_free(&p);
	assert_int_equal(hop_plan_sweep(&p, &fits, 0, 2400000), 0);
	assert_int_equal(p.n, 0);
	hop_plan_free(&p);
}

/* Which channels a recording holds; the middle of 2.4 MS/s is 2 MHz. */
static const struct {
	const char *why;
	int64_t     centre_hz, first_hz, step_thirds;
	int32_t     count, width_hz;
	int32_t     first, got;
} fixed[] = {
	{ "all of a small band",        150000000, 149900000, 37500, 10,  11000, 0,   10 },
	{ "the middle of a wide one",   150000000, 140000000, 37500, 2000, 11000, 721, 159 },
	{ "its lower end",              150000000, 150900000, 37500, 100, 11000, 0,   8 },
	{ "its upper end",              150000000, 148000000, 37500, 81,  11000, 81,  0 },
	{ "the edge is still inside",   150000000, 149006250, 37500, 1,   12500, 0,   1 },
	{ "a hertz past it is not",     150000000, 149006249, 37500, 1,   12500, 0,   0 },
	{ "wide emissions need more",   150000000, 149006250, 37500, 1,   16000, 0,   0 },
	{ "nothing anywhere near",      150000000, 450000000, 37500, 100, 11000, 0,   0 },
};

static void a_recording_has_one_hop(void **state)
{
	(void)state;
	for (size_t i = 0; i < sizeof fixed / sizeof fixed[0]; i++) {
		struct band b = band_at(fixed[i].first_hz, fixed[i].step_thirds, fixed[i].count,
					fixed[i].width_hz);
		struct hop_plan p;
		assert_int_equal(hop_plan_fixed(&p, &b, 1, 2400000, FREQ_HZ(fixed[i].centre_hz)), 0);
		int32_t got = p.n ? p.hops[0].spans[0].count : 0;
		int32_t first = p.n ? p.hops[0].spans[0].first : 0;
		if (got != fixed[i].got || (got && first != fixed[i].first))
			fail_msg("%s: channels %d + %d, want %d + %d", fixed[i].why, first, got,
				 fixed[i].first, fixed[i].got);
		if (p.n && p.hops[0].centre.thirds != FREQ_HZ(fixed[i].centre_hz).thirds)
			fail_msg("%s: the centre moved", fixed[i].why);
		hop_plan_free(&p);
	}
}

static void a_recording_of_random_bands(void **state)
{
	(void)state;
	for (uint64_t seed = 1; seed <= 3000; seed++) {
		struct noise r = { seed };
		struct band bands[BANDS_MAX];
		struct hop_plan p;
		int n = random_bands(&r, bands, BANDS_MAX, 400), told = 0, want = 0;
		int64_t half = half_usable(2400000);
		struct freq centre = { bands[noise_between(&r, 0, n - 1)].raster.first.thirds +
				       noise_between(&r, -3000000, 3000000) };
		assert_int_equal(hop_plan_fixed(&p, bands, n, 2400000, centre), 0);
		for (int k = 0; k < p.n_spans; k++)
			told += p.spans[k].count;
		for (int i = 0; i < n; i++)
			for (int32_t c = 0; c < bands[i].raster.count; c++) {
				int64_t off = raster_centre(&bands[i].raster, c).thirds - centre.thirds;
				want += llabs(off) + need(&bands[i]) <= half;
			}
		if (told != want || (p.n == 1) != (want > 0))
			fail_msg("seed %d: %d channels, want %d", (int)seed, told, want);
		hop_plan_free(&p);
	}
}

static const struct {
	const char *why;
	int32_t     rate_hz;
	int64_t     step_thirds;
	int32_t     bins;
} lengths[] = {
	{ "the usual grid",                    2400000, 37500, 1920 },
	{ "7.5 kHz is not yet fine",           2400000, 22500, 1920 },
	{ "6.25 kHz is fine",                  2400000, 18750, 3840 },
	{ "5 kHz too",                         2400000, 15000, 3840 },
	{ "an odd rate takes the next smooth", 2048000, 37500, 1640 },
	{ "1 MS/s",                            1000000, 37500, 800 },
	{ "a sound card's",                    48000,   37500, 40 },
};

static void transform_lengths(void **state)
{
	(void)state;
	for (size_t i = 0; i < sizeof lengths / sizeof lengths[0]; i++) {
		int32_t n = hop_bins(lengths[i].rate_hz, (struct freq){ lengths[i].step_thirds });
		int32_t rest = n;
		while (rest % 2 == 0)
			rest /= 2;
		while (rest % 3 == 0)
			rest /= 3;
		while (rest % 5 == 0)
			rest /= 5;
		if (rest != 1 || n % 2)
			fail_msg("%s: %d is not even and smooth", lengths[i].why, n);
		if (n < lengths[i].bins || n > lengths[i].bins * 11 / 10)
			fail_msg("%s: %d bins, want about %d", lengths[i].why, n, lengths[i].bins);
	}
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(every_channel_has_its_hop),
		cmocka_unit_test(fewest_hops),
		cmocka_unit_test(too_wide_a_channel_is_refused),
		cmocka_unit_test(a_recording_has_one_hop),
		cmocka_unit_test(a_recording_of_random_bands),
		cmocka_unit_test(transform_lengths),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
