#include "tests/test.h"

#include <stdlib.h>
#include <string.h>

#include "tests/painted.h"

#define BLOTS  5
#define SURE   ((struct sense){ 1e-8, 3 })

/* Bins about a channel's middle one, in these slices, so far over the noise of each; 0 dB: no
 * more of them. */
struct blot {
	int    channel, from, to;
	double db;
	int    first_slice, last_slice;
};

#define KEYED(channel, from, to, db, first, last) { channel, from, to, db, first, last }
#define ON(channel, from, to, db) KEYED(channel, from, to, db, 0, PAINTED_SLICES - 1)

static void paint_blots(struct painted *p, const struct blot *blot)
{
	painted_clear(p);
	for (const struct blot *b = blot; b < blot + BLOTS && fabs(b->db) > 0; b++)
		paint(p, painted_bin(b->channel) + b->from, painted_bin(b->channel) + b->to,
		      b->first_slice, b->last_slice, ratio_of(b->db));
}

/* One sign a channel. '.': idle, '#': busy, '?': blind, 'x': our own making. A channel's
 * measured part is bins -3 .. 3 about its middle, of the outer two a half each. */
static const struct {
	const char *why;
	struct blot blot[BLOTS];
	double      clipped;
	int         open;               /* a channel that was, or -1 */
	const char *want;
} looks[] = {
	{ "nothing but noise", { { 0 } }, 0, -1, "........................" },
	{ "one emission", { ON(8, -3, 3, 30) }, 0, -1, "........#..............." },
	{ "one as wide as two steps", { ON(8, -9, 9, 30) }, 0, -1, ".......?#?.............." },
	{ "its neighbours' parts begin there", { ON(8, -7, 7, 30) }, 0, -1,
	  ".......?#?.............." },
	{ "and not before", { ON(8, -5, 5, 30) }, 0, -1, "........#..............." },
	{ "one as wide as eight", { ON(8, -3, 76, 30) }, 0, -1, "........????#????......." },
	{ "two neighbours", { ON(8, -2, 2, 30), ON(9, -2, 2, 28) }, 0, -1,
	  "........##.............." },
	{ "3 dB it must be", { ON(8, -3, 3, 0.15) }, 0, -1, "........#..............." },
	{ "2.9 dB is not enough", { ON(8, -3, 3, -0.22) }, 0, -1, "........................" },
	{ "1.6 dB is, when it was open", { ON(8, -3, 3, -3.5) }, 0, 8, "........#..............." },
	{ "not when another was", { ON(8, -3, 3, -3.5) }, 0, 9, "........................" },
	{ "1.4 dB is not even then", { ON(8, -3, 3, -4.2) }, 0, 8, "........................" },
	{ "two slices of twelve", { KEYED(8, -3, 3, 9, 5, 6) }, 0, -1, "........#..............." },
	{ "the first", { KEYED(8, -3, 3, 12, 0, 1) }, 0, -1, "........#..............." },
	{ "the last", { KEYED(8, -3, 3, 12, 11, 11) }, 0, -1, "........#..............." },
	{ "a mirror image 36 dB down", { ON(2, -1, 1, 60), ON(21, -1, 1, 24) }, 0, -1,
	  "..#..................x.." },
	{ "34 dB down it is no image", { ON(2, -1, 1, 60), ON(21, -1, 1, 26) }, 0, -1,
	  "..#..................#.." },
	{ "an image is on its own place only", { ON(2, -1, 1, 60), ON(20, -1, 1, 24) }, 0, -1,
	  "..#.................#..." },
	{ "below a strong one", { ON(8, -1, 1, 60), ON(14, -3, 3, 8) }, 0, -1,
	  "........#.....#........." },
	{ "50 dB below there is only spill", { ON(8, -1, 1, 60), ON(14, -3, 3, 6) }, 0, -1,
	  "........#.....?........." },
	{ "under strain 29 dB down", { ON(8, -3, 3, 40), ON(14, -3, 3, 11.6) }, 0.002, -1,
	  "........#.....#........." },
	{ "under strain 31 dB down", { ON(8, -3, 3, 40), ON(14, -3, 3, 9) }, 0.002, -1,
	  "........#.....?........." },
	{ "that little clipping is none", { ON(8, -3, 3, 40), ON(14, -3, 3, 9) }, 0.0009, -1,
	  "........#.....#........." },
	{ "overload: the strongest alone", { ON(8, -3, 3, 40), ON(14, -3, 3, 36) }, 0.02, -1,
	  "????????#???????????????" },
	{ "not yet", { ON(8, -3, 3, 40), ON(14, -3, 3, 36) }, 0.009, -1,
	  "........#.....#........." },
	{ "overload by one on no channel", { ON(-8, -3, 3, 40), ON(14, -3, 3, 36) }, 0.02, -1,
	  "????????????????????????" },
	{ "overload, nothing else", { { 0 } }, 0.02, -1, "????????????????????????" },
	{ "a stranger's spill", { ON(-8, -2, 2, 60), ON(14, -3, 3, 8) }, 0, -1,
	  "..............?........." },
	{ "no spill of a stranger", { ON(-8, -2, 2, 60), ON(14, -3, 3, 11) }, 0, -1,
	  "..............#........." },
	{ "a stranger above the channels", { ON(31, -2, 2, 60), ON(14, -3, 3, 8) }, 0, -1,
	  "..............?........." },
	{ "a stranger's image", { ON(-5, -1, 1, 60), ON(8, -1, 1, 40) }, 0, -1,
	  "........#..............." },
	{ "keyed: 21 dB down is its splash", { KEYED(8, -3, 3, 40, 4, 9), ON(14, -3, 3, 15.5) }, 0,
	  -1, "........#.....?........." },
	{ "keyed: 19 dB down is not", { KEYED(8, -3, 3, 40, 4, 9), ON(14, -3, 3, 18.5) }, 0, -1,
	  "........#.....#........." },
	{ "not keyed", { ON(8, -3, 3, 40), ON(14, -3, 3, 15.5) }, 0, -1,
	  "........#.....#........." },
	{ "14 dB less for a while is keyed", { KEYED(8, -3, 3, 40, 4, 11), ON(8, -3, 3, 26), ON(14,
	  -3, 3, 15.5) }, 0, -1,
	  "........#.....?........." },
	{ "12 dB less is not", { KEYED(8, -3, 3, 40, 4, 11), ON(8, -3, 3, 28), ON(14, -3, 3,
	  15.5) }, 0, -1,
	  "........#.....#........." },
	{ "the second strongest keyed", { ON(3, -3, 3, 40), KEYED(8, -3, 3, 38, 4, 9), ON(14, -3,
	  3, 15) }, 0, -1,
	  "...#....#.....#........." },
	{ "keyed under strain", { KEYED(8, -3, 3, 40, 4, 9), ON(14, -3, 3, 15.5) }, 0.002, -1,
	  "........#.....?........." },
};

static char sign(enum verdict v)
{
	return ".?#x"[v == VERDICT_IDLE ? 0 : v == VERDICT_BLIND ? 1 : v == VERDICT_BUSY ? 2 : 3];
}

static void what_each_channel_is_judged_to_be(void **state)
{
	struct painted p;
	(void)state;

	painted_open(&p);
	painted_detector(&p, SURE);
	for (size_t i = 0; i < sizeof looks / sizeof looks[0]; i++) {
		char got[PAINTED_CHANNELS + 1] = "";
		int busy = 0;
		paint_blots(&p, looks[i].blot);
		p.look.clipped = looks[i].clipped;
		if (looks[i].open >= 0)
			p.open[looks[i].open] = true;
		const struct judged *j = painted_judge(&p);
		assert_int_equal(j->seats, PAINTED_CHANNELS);
		for (int s = 0; s < j->seats; s++) {
			got[s] = sign(j->verdict[s]);
			busy += j->verdict[s] == VERDICT_BUSY;
		}
		if (strcmp(got, looks[i].want) || busy != j->findings ||
		    j->overload != (looks[i].clipped > 0.01))
			fail_msg("%s:\n%s, want\n%s; %d findings, overload %d", looks[i].why, got,
				 looks[i].want, j->findings, j->overload);
	}
	painted_close(&p);
}

/* The strongest finding. A bin is 1250 Hz, a channel ten. */
static const struct {
	const char *why;
	struct blot blot[BLOTS];
	int         open;
	int         spoilt;             /* this slice and the next, or -1           */
	int         findings, channel;
	double      offset_hz, width_hz, level_db;      /* signal and noise, over the noise */
	int         first_slice, last_slice;
} found[] = {
	{ "in the middle of its channel", { ON(8, -3, 3, 20) }, -1, -1, 1, 8, 0, 8660, 20.04, 0,
	  11 },
	{ "two bins up", { ON(8, 1, 3, 20) }, -1, -1, 1, 8, 2500, 3710, 16.3, 0, 11 },
	{ "two bins down", { ON(8, -3, -1, 20) }, -1, -1, 1, 8, -2500, 3710, 16.3, 0, 11 },
	{ "while it is on", { KEYED(8, -3, 3, 20, 3, 5) }, -1, -1, 1, 8, 0, 8660, 20.04, 3, 5 },
	{ "in the first slice", { KEYED(8, -3, 3, 20, 0, 1) }, -1, -1, 1, 8, 0, 8660, 20.04, 0, 1 },
	{ "in the last slice", { KEYED(8, -3, 3, 20, 11, 11) }, -1, -1, 1, 8, 0, 8660, 20.04, 11,
	  11 },
	{ "twice", { KEYED(8, -3, 3, 20, 2, 3), KEYED(8, -3, 3, 20, 8, 9) }, -1, -1, 1, 8, 0, 8660,
	  20.04, 2, 9 },
	{ "12 dB down it is still on", { KEYED(8, -3, 3, 30, 2, 3), KEYED(8, -3, 3, 18, 4, 4) },
	  -1, -1, 1, 8, 0, 8660, 28.4, 2, 4 },
	{ "14 dB down it is an edge that smears", { KEYED(8, -3, 3, 30, 2, 3), KEYED(8, -3, 3, 16,
	  4, 4) }, -1, -1,
	  1, 8, 0, 8660, 30, 2, 3 },
	{ "a weak one", { KEYED(8, -3, 3, 6, 2, 8) }, -1, -1, 1, 8, 0, 8660, 6.97, 2, 8 },
	{ "less than noise may do is off", { KEYED(8, -3, 3, 6, 2, 8), KEYED(8, -3, 3, -5, 9,
	  11) }, -1, -1,
	  1, 8, 0, 8700, 6.97, 2, 8 },
	{ "slices of a click are not counted", { KEYED(8, -3, 3, 20, 3, 8), KEYED(8, -3, 3, 40, 5,
	  6) }, -1, 5,
	  1, 8, 0, 8660, 20.04, 3, 8 },
	{ "one that begins under a click", { KEYED(8, -3, 3, 20, 5, 9) }, -1, 5, 1, 8, 0, 8660,
	  20.04, 7, 9 },
	/* Amid channels 8 and 9 */
	{ "nearer to the lower", { ON(8, 3, 5, 20) }, -1, -1, 1, 8, 5000, 3710, 17.07, 0, 11 },
	{ "amid two the lower has it", { ON(8, 4, 6, 20) }, -1, -1, 1, 8, 6250, 3710, 17.1, 0, 11 },
	{ "unless the upper had it", { ON(8, 4, 6, 20) }, 9, -1, 1, 9, -6250, 3710, 17.1, 0, 11 },
	{ "or the lower has it too", { ON(8, 4, 6, 20) }, 8, -1, 1, 8, 6250, 3710, 17.1, 0, 11 },
	{ "nearer to the upper", { ON(8, 6, 6, 20), ON(8, 5, 5, 18) }, -1, -1, 1, 9, -5484, 2470,
	  14.5, 0, 11 },
	{ "unless the lower had it", { ON(8, 6, 6, 20), ON(8, 5, 5, 18) }, 8, -1, 1, 8, 7016, 2470,
	  14.5, 0, 11 },
	{ "far from the middle it goes to the nearest", { ON(8, 7, 7, 20) }, 8, -1, 1, 9, -3750,
	  1240, 9.7, 0, 11 },
	{ "where the upper is in use the lower has it", { ON(9, 1, 3, 40), ON(8, 5, 6, 36) }, -1,
	  -1,
	  2, 9, 2500, 3710, 36.2, 0, 11 },
	{ "though the upper had it", { ON(9, 1, 3, 40), ON(8, 4, 5, 36) }, 9, -1,
	  2, 9, 2500, 3710, 36.2, 0, 11 },
	{ "what is in its measured part a channel keeps",
	  { ON(8, 1, 3, 20.41), ON(8, 4, 7, 17.78), ON(8, 8, 8, 13) }, 9, -1, 1, 8, 4535, 9782, 16.7, 0, 11 },
	{ "found in a gap, with its middle far from there", { ON(8, 5, 6, 40), ON(8, 7, 75, 30) }, -1, -1,
	  1, 11, 3778, 88138, 30, 0, 11 },
	{ "outside the raster, below", { ON(0, -5, -4, 20) }, -1, -1, 1, 0, -5625, 2480, 15.4, 0,
	  11 },
	{ "outside the raster, above", { ON(23, 4, 5, 20) }, -1, -1, 1, 23, 5625, 2480, 15.4, 0,
	  11 },
	{ "outside its outermost step, below", { ON(0, -9, -7, 20) }, -1, -1, 0, 0, 0, 0, 0, 0, 0 },
	{ "outside its outermost step, above", { ON(23, 7, 9, 20) }, -1, -1, 0, 0, 0, 0, 0, 0, 0 },
	{ "its middle is outside, below", { ON(0, -9, -5, 20) }, -1, -1, 0, 0, 0, 0, 0, 0, 0 },
	{ "its middle is outside, above", { ON(23, 5, 9, 20) }, -1, -1, 0, 0, 0, 0, 0, 0, 0 },
	{ "the tuner's own line has no gap", { ON(11, 5, 6, 20) }, -1, -1, 0, 0, 0, 0, 0, 0, 0 },
};

static void where_when_and_how_strong(void **state)
{
	struct painted p;
	(void)state;

	painted_open(&p);
	painted_detector(&p, SURE);
	for (size_t i = 0; i < sizeof found / sizeof found[0]; i++) {
		paint_blots(&p, found[i].blot);
		if (found[i].open >= 0)
			p.open[found[i].open] = true;
		if (found[i].spoilt >= 0)
			p.look.spoilt[found[i].spoilt] = p.look.spoilt[found[i].spoilt + 1] = true;
		const struct judged *j = painted_judge(&p);
		const struct finding *f = &j->finding[0];
		if (j->findings != found[i].findings)
			fail_msg("%s: %d findings", found[i].why, j->findings);
		if (j->findings == 2 && (j->finding[1].channel != 8 || j->verdict[8] != VERDICT_BUSY))
			fail_msg("%s: the other is on channel %d", found[i].why, j->finding[1].channel);
		if (j->findings == 0)
			continue;
		double level = 10 * log10(f->power / f->floor);
		if (f->channel != found[i].channel || f->seat != f->channel || f->band != 0 ||
		    !(fabs(f->offset_hz - found[i].offset_hz) < 30) ||
		    !(fabs(f->width_hz - found[i].width_hz) < 60) ||
		    !(fabs(level - found[i].level_db) < 0.1) ||
		    f->first_slice != found[i].first_slice || f->last_slice != found[i].last_slice)
			fail_msg("%s: channel %d %+.0f Hz, %.0f Hz wide, %.2f dB, slices %d to %d",
				 found[i].why, f->channel, f->offset_hz, f->width_hz, level,
				 f->first_slice, f->last_slice);
	}
	painted_close(&p);
}

/* Each band's channels keep their own numbers, widths and noise, and places in the hop. */
static void two_bands_in_a_hop(void **state)
{
	struct painted p;
	(void)state;

	painted_open(&p);
	p.n_bands = 2;
	p.hop.n_spans = 2;
	/* Two channels of 25 kHz, of 20 bins about bin 380 and 400. */
	p.band[1] = (struct band){ .width_hz = 11000, .mode = MODE_NFM,
				   .raster = { FREQ_KHZ(150175), FREQ_KHZ(25), 2 } };
	p.span[0] = (struct span){ 0, 20, 4 };
	p.span[1] = (struct span){ 1, 0, 2 };
	painted_detector(&p, SURE);
	painted_clear(&p);
	paint(&p, painted_bin(21) - 3, painted_bin(21) + 3, 0, PAINTED_SLICES - 1, 1000);
	paint(&p, 398, 404, 0, PAINTED_SLICES - 1, 100);
	const struct judged *j = painted_judge(&p);
	assert_int_equal(j->seats, 6);
	assert_int_equal(j->findings, 2);
	assert_true(j->finding[0].band == 0 && j->finding[0].channel == 21 && j->finding[0].seat == 1);
	assert_true(j->finding[1].band == 1 && j->finding[1].channel == 1 && j->finding[1].seat == 5);
	assert_true(fabs(j->finding[1].offset_hz - 1250) < 30);
	/* 15 kHz are measured: 7 of 12 bins. */
	assert_true(fabs(j->finding[1].power / j->finding[1].floor - (700 + 12) / 12.0) < 1);
	painted_clear(&p);
	p.open[5] = true;                       /* 1.6 dB are enough for what was open */
	paint(&p, 380 - 6, 380 + 6, 0, PAINTED_SLICES - 1, 0.45);
	paint(&p, 400 - 6, 400 + 6, 0, PAINTED_SLICES - 1, 0.45);
	j = painted_judge(&p);
	assert_true(j->findings == 1 && j->finding[0].band == 1 && j->finding[0].channel == 1);
	painted_close(&p);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(what_each_channel_is_judged_to_be),
		cmocka_unit_test(where_when_and_how_strong),
		cmocka_unit_test(two_bands_in_a_hop),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
