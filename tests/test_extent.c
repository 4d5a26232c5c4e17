#include "tests/test.h"

#include <math.h>

#include "dsp/attribute.h"
#include "tests/painted.h"

#define FREEDOM 100             /* of three bins: what is 0.4 of the noise over it is sure */
#define PARTS   4

/* Bins first .. last, so many times the noise. */
struct part {
	int    first, last;
	double ratio;
};

static void paint_parts(struct painted *p, const struct part *part)
{
	painted_clear(p);
	for (int i = 0; i < PARTS && part[i].last > 0; i++)
		paint(p, part[i].first, part[i].last, 0, PAINTED_SLICES - 1, part[i].ratio);
	painted_done(p);
}

/* The excess is the mean of three bins, so that what is painted ends one bin later. */
static const struct {
	const char *why;
	struct part part[PARTS];
	double      at, till;           /* the measured part it was found in */
	double      from, to, centroid, width, power;   /* in noise powers of a bin */
} extents[] = {
	{ "even, 7 bins", { { 100, 106, 100 } }, 99.5, 107.5,
	  99, 108, 103.5, 6.93, 700 },
	{ "even, found at its upper side", { { 100, 106, 100 } }, 105.5, 111.5,
	  99, 108, 103.5, 6.93, 700 },
	{ "even, found at its lower side", { { 100, 106, 100 } }, 95.5, 101.5,
	  99, 108, 103.5, 6.93, 700 },
	{ "at the lowest bin", { { 0, 3, 100 } }, 0, 4,
	  0, 5, 2, 3.96, 400 },
	{ "at the highest bin", { { 476, 479, 100 } }, 476, 480,
	  475, 480, 478, 3.96, 400 },
	{ "the same above", { { 476, 479, 100 } }, 476, 484,
	  475, 480, 478, 3.96, 400 },
	{ "what it was found in is about its own middle", { { 100, 104, 4 }, { 105, 112, 0.35 } }, 103, 111,
	  99, 106, 102.7, 7.67, 21.05 },
	{ "half a percent is left out at either end", { { 100, 101, 4 }, { 102, 111, 100 }, { 112, 113, 4 } },
	  103, 110, 99, 115, 107, 11.48, 1016 },
	{ "what is below the noise weighs nothing", { { 100, 104, 4 }, { 105, 107, -0.9 }, { 108, 112, 4 } },
	  97, 119, 99, 114, 106.5, 12.9, 40 },
	{ "found in part outside the look", { { 0, 3, 100 } }, -4, 4,
	  0, 5, 2, 3.96, 400 },
	{ "a foot 25 dB down is of it", { { 100, 109, 1e4 }, { 110, 114, 32 } }, 100, 110,
	  99, 114, 105.01, 9.91, 100128 },
	{ "the same below", { { 100, 109, 1e4 }, { 95, 99, 32 } }, 100, 110,
	  96, 111, 104.99, 9.91, 100128 },
	{ "a foot 27 dB down is not", { { 100, 109, 1e4 }, { 110, 114, 20 } }, 100, 110,
	  99, 111, 105, 9.9, 100020 },
	{ "0.5 of the noise is sure", { { 100, 105, 20 }, { 106, 112, 0.5 } }, 100, 106,
	  99, 112, 103.14, 10.74, 123 },
	{ "0.3 is not", { { 100, 105, 20 }, { 106, 112, 0.3 } }, 100, 106,
	  99, 107, 103.01, 5.97, 120.3 },
	{ "a weak one's hole of two bins is bridged", { { 100, 102, 2 }, { 103, 106, 0.25 },
	  { 107, 109, 1.8 } }, 99, 104,
	  99, 111, 104.83, 9.94, 12.4 },
	{ "of three it is not", { { 100, 102, 2 }, { 103, 107, 0.25 }, { 108, 110, 1.8 } }, 99, 104,
	  99, 104, 101.69, 4.85, 6.5 },
	{ "nor below", { { 92, 94, 1.8 }, { 95, 99, 0.25 }, { 100, 102, 2 } }, 99, 104,
	  99, 104, 101.31, 4.85, 6.5 },
	{ "a wide one's of 0.3 of what was found is", { { 100, 140, 2 }, { 120, 120, 0.2 },
	  { 141, 155, 0.25 }, { 156, 170, 1.8 } },
	  118, 123, 99, 172, 131.69, 70.4, 112.9 },
	{ "and no more", { { 100, 140, 2 }, { 120, 120, 0.2 }, { 141, 156, 0.25 },
	  { 157, 170, 1.8 } }, 118, 123,
	  99, 142, 120.56, 40.7, 82.2 },
	{ "12 dB down and 9 dB up again another begins", { { 100, 104, 100 }, { 105, 110, 5 },
	  { 111, 115, 60 } },
	  100, 106, 99, 107, 102.57, 6.46, 510 },
	{ "the same below", { { 89, 93, 60 }, { 94, 99, 5 }, { 100, 104, 100 } },
	  99, 105, 98, 106, 102.43, 6.46, 510 },
	{ "11 dB down it is one", { { 100, 104, 100 }, { 105, 110, 7 }, { 111, 115, 60 } },
	  100, 106, 99, 117, 106.69, 15.89, 842 },
	{ "8 dB up it is one", { { 100, 104, 100 }, { 105, 110, 5 }, { 111, 115, 34 } },
	  100, 106, 99, 117, 105.41, 15.86, 700 },
	{ "two tones in one measured part are one",
	  { { 100, 101, 100 }, { 102, 104, 3 }, { 105, 106, 100 } }, 97, 107, 99, 108, 103.5, 6.9,
	    409 },
};

static void an_emission_ends_where_it_does(void **state)
{
	struct painted p;
	(void)state;

	painted_open(&p);
	for (size_t i = 0; i < sizeof extents / sizeof extents[0]; i++) {
		paint_parts(&p, extents[i].part);
		struct extent e = attribute_measure(&p.look, p.floor, FREEDOM, extents[i].at,
						    extents[i].till);
		double power = e.power / PAINTED_NOISE;
		if (!(fabs(e.from - extents[i].from) < 0.01) || !(fabs(e.to - extents[i].to) < 0.01) ||
		    !(fabs(e.centroid - extents[i].centroid) < 0.05) ||
		    !(fabs(e.width - extents[i].width) < 0.1) ||
		    !(fabs(power / extents[i].power - 1) < 0.01))
			fail_msg("%s: %.2f to %.2f, centre %.3f, width %.3f, power %.1f", extents[i].why,
				 e.from, e.to, e.centroid, e.width, power);
	}
	painted_close(&p);
}

/* A weak one hides its ends: no less is weighed than the part it was found in, about its
 * own middle. */
static void a_weak_one_is_weighed_as_wide_as_it_was_found(void **state)
{
	struct painted p;
	struct part weak[PARTS] = { { 100, 100, 0.3 }, { 101, 101, 1.2 }, { 102, 107, 0.3 } };
	(void)state;

	painted_open(&p);
	paint_parts(&p, weak);
	struct extent e = attribute_measure(&p.look, p.floor, FREEDOM, 100, 108);
	assert_true(fabs(e.from - 100) < 0.01 && fabs(e.to - 103) < 0.01);
	/* 8 bins of it, first from 100 on: 3.3 noise powers about 103.2; then about that. */
	if (!(fabs(e.centroid - 103.2) < 0.15) || !(fabs(e.power / PAINTED_NOISE - 3.3) < 0.1) ||
	    !(e.width > 7))
		fail_msg("centre %.2f, width %.2f, power %.2f", e.centroid, e.width,
			 e.power / PAINTED_NOISE);
	painted_close(&p);
}

/* What stands so far from a stronger emission, so far below it. */
static const struct {
	const char    *why;
	double         strong[2];               /* from, to                                */
	double         before[2];               /* one heard before it; none when empty    */
	double         before_db;               /* ... how far over strong                 */
	double         from, to;
	double         down_db;                 /* below strong */
	double         strained_db;
	struct part    way[PARTS];
	enum explained want;
} weak[] = {
	{ "45 dB down within 12.5 kHz", { 100, 105 }, { 0 }, 0, 114, 120, 44.9, 0, { { 0 } },
	  EXPLAINED_NOT },
	{ "45 dB down it is its spill", { 100, 105 }, { 0 }, 0, 114, 120, 45.1, 0, { { 0 } },
	  EXPLAINED_SKIRT },
	{ "below it too", { 115, 120 }, { 0 }, 0, 100, 106, 45.1, 0, { { 0 } }, EXPLAINED_SKIRT },
	{ "farther it is 50 dB", { 100, 105 }, { 0 }, 0, 116, 122, 49.9, 0, { { 0 } },
	  EXPLAINED_NOT },
	{ "50 dB down it is spill anywhere", { 100, 105 }, { 0 }, 0, 300, 306, 50.1, 0, { { 0 } },
	  EXPLAINED_SKIRT },
	{ "a wide one's spill is as wide", { 100, 120 }, { 0 }, 0, 139, 145, 45.1, 0, { { 0 } },
	  EXPLAINED_SKIRT },
	{ "and no wider", { 100, 120 }, { 0 }, 0, 141, 147, 45.1, 0, { { 0 } }, EXPLAINED_NOT },
	{ "6 dB over the skirt is its own", { 100, 105 }, { 0 }, 0, 117, 123, 30, 0,
	  { { 105, 116, 99 }, { 117, 122, 404 } },
	  EXPLAINED_NOT },
	{ "5.9 dB is skirt", { 100, 105 }, { 0 }, 0, 117, 123, 30, 0, { { 105, 116, 99 },
	  { 117, 122, 384 } },
	  EXPLAINED_SKIRT },
	{ "the same below: its own", { 123, 128 }, { 0 }, 0, 105, 111, 30, 0, { { 111, 122, 99 },
	  { 105, 110, 404 } },
	  EXPLAINED_NOT },
	{ "the same below: skirt", { 123, 128 }, { 0 }, 0, 105, 111, 30, 0, { { 111, 122, 99 },
	  { 105, 110, 384 } },
	  EXPLAINED_SKIRT },
	{ "quiet just beside the emission", { 100, 105 }, { 0 }, 0, 117, 123, 30, 0,
	  { { 111, 122, 99 } }, EXPLAINED_NOT },
	{ "quiet just before it, below", { 123, 128 }, { 0 }, 0, 105, 111, 30, 0,
	  { { 105, 116, 99 } }, EXPLAINED_NOT },
	{ "quiet amid the way", { 100, 105 }, { 0 }, 0, 123, 129, 30, 0, { { 105, 110, 99 },
	  { 117, 128, 99 } }, EXPLAINED_NOT },
	{ "0.6 of the noise is no quiet", { 100, 105 }, { 0 }, 0, 117, 123, 30, 0,
	  { { 105, 116, 0.6 }, { 117, 122, 3 } },
	  EXPLAINED_SKIRT },
	{ "0.4 is", { 100, 105 }, { 0 }, 0, 117, 123, 30, 0, { { 105, 116, 0.4 },
	  { 117, 122, 3 } }, EXPLAINED_NOT },
	{ "9.9 dB down it is no skirt", { 100, 105 }, { 0 }, 0, 111, 117, 9.9, 0,
	  { { 105, 116, 99 } }, EXPLAINED_NOT },
	{ "10.1 dB down it is", { 100, 105 }, { 0 }, 0, 111, 117, 10.1, 0, { { 105, 116, 99 } },
	  EXPLAINED_SKIRT },
	{ "nothing strained is believed 30 dB down", { 100, 105 }, { 0 }, 0, 200, 206, 30.1, 30,
	  { { 0 } }, EXPLAINED_SKIRT },
	{ "29.9 dB down it is", { 100, 105 }, { 0 }, 0, 200, 206, 29.9, 30, { { 0 } },
	  EXPLAINED_NOT },
	{ "below the strongest, that is", { 100, 105 }, { 300, 305 }, -10, 200, 206, 30.1, 30,
	  { { 0 } }, EXPLAINED_NOT },
	{ "a mirror image", { 100, 110 }, { 0 }, 0, 373, 379, 35.1, 0, { { 0 } }, EXPLAINED_IMAGE },
	{ "34.9 dB down it is none", { 100, 110 }, { 0 }, 0, 373, 379, 34.9, 0, { { 0 } },
	  EXPLAINED_NOT },
	{ "its last bin", { 100, 110 }, { 0 }, 0, 380.9, 386.9, 36, 0, { { 0 } }, EXPLAINED_IMAGE },
	{ "beyond it", { 100, 110 }, { 0 }, 0, 381.1, 387.1, 36, 0, { { 0 } }, EXPLAINED_NOT },
	{ "its first bin", { 100, 110 }, { 0 }, 0, 365.1, 371.1, 36, 0, { { 0 } },
	  EXPLAINED_IMAGE },
	{ "before it", { 100, 110 }, { 0 }, 0, 364.9, 370.9, 36, 0, { { 0 } }, EXPLAINED_NOT },
	{ "the image of the other one", { 200, 205 }, { 100, 110 }, 0, 373, 379, 36, 0, { { 0 } },
	  EXPLAINED_IMAGE },
};

static void what_stronger_ones_explain(void **state)
{
	struct painted p;
	(void)state;

	painted_open(&p);
	for (size_t i = 0; i < sizeof weak / sizeof weak[0]; i++) {
		bool alone = weak[i].before[1] <= 0;
		struct extent e[2];
		paint_parts(&p, weak[i].way);
		/* As strong as what is painted there, or else well over the noise. */
		double power = look_power(p.look.total, p.look.bins, weak[i].from, weak[i].to);
		power = weak[i].way[0].last > 0 ? power : 100 * PAINTED_NOISE;
		double strong = power * ratio_of(weak[i].down_db);
		e[0] = (struct extent){ .from = weak[i].before[0], .to = weak[i].before[1],
					.power = strong * ratio_of(weak[i].before_db) };
		e[!alone] = (struct extent){ .from = weak[i].strong[0], .to = weak[i].strong[1],
					     .power = strong };
		enum explained got = attribute_explain(
			&(struct hearing){ &p.look, p.floor, e, alone ? 1 : 2, weak[i].strained_db },
			weak[i].from, weak[i].to, power);
		if (got != weak[i].want)
			fail_msg("%s: %d, want %d", weak[i].why, got, weak[i].want);
	}
	painted_close(&p);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(an_emission_ends_where_it_does),
		cmocka_unit_test(a_weak_one_is_weighed_as_wide_as_it_was_found),
		cmocka_unit_test(what_stronger_ones_explain),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
