#include "tests/test.h"

#include <math.h>
#include <string.h>

#include "dsp/law.h"
#include "dsp/seats.h"
#include "tests/painted.h"

#define HALF_HOP (PAINTED_BINS / 2)

static bool near(double a, double b)
{
	return fabs(a / b - 1) < 1e-6;
}

/* What the false alarms asked for are spent on. */
static const struct {
	const char  *why;
	struct sense sense;
	bool         margin;            /* it opens at the margin, not by the false alarms */
	bool         less;              /* it holds at 1.5 dB less, not by chance          */
} senses[] = {
	{ "no margin",                  { 1e-6, 0 },    false, false },
	{ "one in a hundred is a lot",  { 1e-2, 0 },    false, false },
	{ "a margin that noise meets",  { 1e-6, 0.5 },  false, false },
	{ "a margin out of its reach",  { 1e-6, 3 },    true,  true },
	{ "a margin that rules slices", { 1e-3, 9 },    true,  true },
	{ "nearly always a false one",  { 0.2, 0 },     false, false },
};

static void limits_share_the_false_alarms(void **state)
{
	struct painted p;
	struct law whole, slice;
	(void)state;

	painted_open(&p);
	assert_true(law_of_noise(&whole, p.window, PAINTED_BINS, HALF_HOP, p.look.transforms, 0.5, 6));
	assert_true(law_of_noise(&slice, p.window, PAINTED_BINS, HALF_HOP, 4, 0.5, 6));
	for (size_t i = 0; i < sizeof senses / sizeof senses[0]; i++) {
		const struct sense *s = &senses[i].sense;
		double margin = ratio_of(s->margin_db);
		struct limits t;
		assert_true(limits_set(&t, s, &p.look, p.window, HALF_HOP, 0.5, 7500));
		bool opens = senses[i].margin ? near(t.opens, margin) :
						near(law_above(&whole, t.opens), 0.9 * s->pfa);
		bool holds = senses[i].less ? near(t.holds, t.opens / ratio_of(1.5)) :
					      near(law_above(&whole, fmin(t.holds, t.opens)), fmax(1e-2, 0.9 * s->pfa));
		/* A tenth is for slices, and what the margin leaves. */
		double left = fmax(0.1 * s->pfa, s->pfa - law_above(&whole, t.opens));
		bool slices = near(t.slice_opens, margin) ? law_above(&slice, margin) * 12 < left :
							    near(law_above(&slice, t.slice_opens) * 12, left);
		bool rest = near(law_above(&slice, t.slice_holds), 1e-2) &&
			    (near(law_above(&whole, t.glance), 5e-2) || near(t.glance, t.opens));
		if (!opens || !holds || !slices || !rest || t.holds > t.opens || t.glance > t.opens)
			fail_msg("%s: opens %.4f, holds %.4f, a slice %.4f and %.4f, glance %.4f", senses[i].why,
				 t.opens, t.holds, t.slice_opens, t.slice_holds, t.glance);
	}
	painted_close(&p);
}

static void one_slice_has_no_share(void **state)
{
	struct painted p;
	struct law whole;
	struct limits t;
	(void)state;

	painted_open(&p);
	p.look.slices = 1;
	assert_true(law_of_noise(&whole, p.window, PAINTED_BINS, HALF_HOP, p.look.transforms, 0.5, 6));
	assert_true(limits_set(&t, &(struct sense){ 1e-6, 0 }, &p.look, p.window, HALF_HOP, 0.5, 7500));
	assert_true(near(law_above(&whole, t.opens), 1e-6));
	assert_true(near(t.slice_opens, t.opens));
	painted_close(&p);
}

static struct seats seats_for(const struct painted *p, struct sense sense)
{
	struct seats s;
	assert_true(seats_open(&s, &sense, &p->look, p->window, HALF_HOP, p->band, p->n_bands,
			       PAINTED_CHANNELS));
	return s;
}

static void take(struct seats *s, struct painted *p)
{
	painted_done(p);
	seats_take(s, &(struct scene){ &p->look, p->floor, &p->hop, p->open });
}

/* Channels have 19 parts of 20 of the false alarms, the gaps beside them the twentieth, and
 * half a gap at an end half of that. */
static void gaps_have_a_twentieth(void **state)
{
	struct painted p;
	struct limits t[3];
	static const struct {
		double pfa, from, wide_hz;
	} rows[] = { { 0.95e-3, 0.5, 7500 }, { 0.05e-3, 0.5, 5000 }, { 0.025e-3, 0.5, 2500 } };
	(void)state;

	painted_open(&p);
	struct seats s = seats_for(&p, (struct sense){ 1e-3, 0 });
	for (int i = 0; i < 3; i++)
		assert_true(limits_set(&t[i], &(struct sense){ rows[i].pfa, 0 }, &p.look, p.window,
				       HALF_HOP, rows[i].from, rows[i].wide_hz));
	assert_true(near(s.manner[0].on.opens, t[0].opens));
	assert_true(near(s.manner[0].between.opens, t[1].opens));
	assert_true(near(s.manner[0].outermost.opens, t[2].opens));
	assert_true(near(s.manner[0].half_hz, 3750) && near(s.manner[0].gap_hz, 5000));
	seats_close(&s);
	/* 6.6 kHz about a bin's middle begin 0.86 into a bin; the gap 0.14 into one. */
	p.band[0].raster.step.thirds = 30000;
	s = seats_for(&p, (struct sense){ 1e-3, 0 });
	assert_true(limits_set(&t[0], &(struct sense){ 0.95e-3, 0 }, &p.look, p.window, HALF_HOP, 0.86, 6600));
	assert_true(limits_set(&t[1], &(struct sense){ 0.05e-3, 0 }, &p.look, p.window, HALF_HOP, 0.14, 3400));
	assert_true(near(s.manner[0].on.opens, t[0].opens));
	assert_true(near(s.manner[0].between.opens, t[1].opens));
	seats_close(&s);
	painted_close(&p);
}

/* Where the parts lie on the bins, from the channel's middle: 6 bins and a gap of 4. */
static void seat_is(const struct seats *s, int i, int channel, bool between, double from, double to)
{
	const struct seat *x = &s->seat[i];
	if (x->channel != channel || x->between != between || !(fabs(x->from - from) < 1e-6) ||
	    !(fabs(x->to - to) < 1e-6))
		fail_msg("seat %d: channel %d%s at %.3f to %.3f, want %d at %.3f to %.3f", i, x->channel,
			 between ? "'s gap" : "", x->from, x->to, channel, from, to);
}

static void every_channel_and_every_gap_has_a_seat(void **state)
{
	struct painted p;
	(void)state;

	painted_open(&p);
	struct seats s = seats_for(&p, (struct sense){ 1e-3, 0 });
	take(&s, &p);
	assert_int_equal(s.channels, 24);
	assert_int_equal(s.n, 24 + 24);         /* the tuner's own line has none */
	for (int c = 0; c < 24; c++)
		seat_is(&s, c, c, false, painted_bin(c) - 2.5, painted_bin(c) + 3.5);
	seat_is(&s, 24, -1, true, painted_bin(0) - 4.5, painted_bin(0) - 2.5);
	for (int c = 0, i = 25; c < 23; c++)
		if (c != 11)
			seat_is(&s, i++, c, true, painted_bin(c) + 3.5, painted_bin(c) + 7.5);
	seat_is(&s, 47, 23, true, painted_bin(23) + 3.5, painted_bin(23) + 5.5);
	for (int i = 0; i < s.n; i++)
		assert_false(s.seat[i].candidate);
	/* A hop with the channels amid a raster: each has the gap over it. */
	p.span[0] = (struct span){ 0, 4, 6 };
	take(&s, &p);
	assert_int_equal(s.channels, 6);
	assert_int_equal(s.n, 12);
	for (int i = 0; i < 6; i++) {
		seat_is(&s, i, 4 + i, false, painted_bin(4 + i) - 2.5, painted_bin(4 + i) + 3.5);
		seat_is(&s, 6 + i, 4 + i, true, painted_bin(4 + i) + 3.5, painted_bin(4 + i) + 7.5);
	}
	seats_close(&s);
	painted_close(&p);
}

/* The tuner's line is read off the bins beside the middle three, 239 to 242: a gap that
 * reaches into them is not looked at. Tuned so many bins higher, channel 11's gap is lower. */
static void the_tuners_own_line_has_no_gap(void **state)
{
	static const struct {
		double bins;
		bool   looked;
	} rows[] = {
		{ 0, false }, { 3.4, false }, { 3.6, true }, { -0.4, false }, { -3.4, false },
		  { -3.6, true },
		{ -0.6, false }, { 2, false },
	};
	struct painted p;
	(void)state;

	painted_open(&p);
	struct seats s = seats_for(&p, (struct sense){ 1e-3, 0 });
	for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
		bool looked = false;
		p.look.centre = freq_from_hz(150e6 + rows[i].bins * 1250);
		take(&s, &p);
		for (int k = s.channels; k < s.n; k++)
			looked |= s.seat[k].channel == 11;
		if (looked != rows[i].looked)
			fail_msg("%.1f bins: looked at %d", rows[i].bins, looked);
	}
	seats_close(&s);
	painted_close(&p);
}

/* So far over a limit, in the whole look or in some slices. */
static const struct {
	const char *why;
	double      whole;              /* times what opens it; 0: nothing                   */
	double      held;               /* times what holds it                               */
	double      slice;              /* times what opens a slice, in the sixth            */
	double      lift;               /* noise of that slice                               */
	bool        spoilt, open, want;
} stands[] = {
	{ "over",                             1.01, 0,    0,    1,   false, false, true },
	{ "not over",                         0.99, 0,    0,    1,   false, false, false },
	{ "it holds",                         0,    1.01, 0,    1,   false, true,  true },
	{ "it does not hold",                 0,    0.99, 0,    1,   false, true,  false },
	{ "nothing was open to hold",         0,    1.01, 0,    1,   false, false, false },
	{ "a slice",                          0,    0,    1.01, 1,   false, false, true },
	{ "a slice not over",                 0,    0,    0.99, 1,   false, false, false },
	{ "a slice in which the noise rose",  0,    0,    1.25, 1.3, false, false, false },
	{ "one that stands over that",        0,    0,    1.35, 1.3, false, false, true },
	{ "a click's slice",                  0,    0,    9,    1,   true,  false, false },
};

static void what_stands_out(void **state)
{
	struct painted p;
	(void)state;

	painted_open(&p);
	struct seats s = seats_for(&p, (struct sense){ 1e-3, 0 });
	const struct limits *t = &s.manner[0].on;
	for (size_t i = 0; i < sizeof stands / sizeof stands[0]; i++) {
		painted_clear(&p);
		/* A hair of the floor is in what noise is taken to be. */
		double noise = 1, over = stands[i].whole * t->opens + stands[i].held * t->holds;
		take(&s, &p);
		noise = s.seat[8].floor / 6 / PAINTED_NOISE;
		if (over > 0)
			paint(&p, painted_bin(8) - 3, painted_bin(8) + 3, 0, 11, over * noise - 1);
		if (stands[i].slice > 0)
			paint(&p, painted_bin(8) - 3, painted_bin(8) + 3, 6, 6,
			      stands[i].slice * t->slice_opens * noise - 1);
		p.look.spoilt[6] = stands[i].spoilt;
		p.look.lift[6] = stands[i].lift;
		p.open[8] = stands[i].open;
		p.open[9] = true;
		take(&s, &p);
		if (s.seat[8].candidate != stands[i].want || s.seat[7].candidate || s.seat[9].candidate)
			fail_msg("%s: %d", stands[i].why, s.seat[8].candidate);
	}
	seats_close(&s);
	painted_close(&p);
}

/* A gap opens at its own limit, half a gap at that of halves; none is held open. */
static void gaps_open_at_their_own_limits(void **state)
{
	static const double times[] = { 0.99, 1.01 };
	struct painted p;
	(void)state;

	painted_open(&p);
	struct seats s = seats_for(&p, (struct sense){ 1e-3, 0 });
	take(&s, &p);
	const struct manner *m = &s.manner[0];
	double noise = s.seat[8].floor / 6 / PAINTED_NOISE;
	for (int i = 0; i < 2; i++) {
		painted_clear(&p);
		memset(p.open, 1, sizeof p.open);
		paint(&p, painted_bin(0) - 5, painted_bin(0) - 3, 0, 11, times[i] * m->outermost.opens * noise - 1);
		paint(&p, painted_bin(5) + 3, painted_bin(5) + 7, 0, 11, times[i] * m->between.opens * noise - 1);
		paint(&p, painted_bin(23) + 3, painted_bin(23) + 6, 0, 11, times[i] * m->outermost.opens * noise - 1);
		take(&s, &p);
		assert_int_equal(s.seat[24].candidate, i);
		assert_int_equal(s.seat[30].candidate, i);
		assert_int_equal(s.seat[47].candidate, i);
		assert_false(s.seat[29].candidate || s.seat[31].candidate || s.seat[46].candidate);
	}
	seats_close(&s);
	painted_close(&p);
}

/* Two bands in one hop: places follow the order of the spans. */
static void each_channel_has_its_place(void **state)
{
	static const struct span spans[] = { { 0, 4, 6 }, { 1, 0, 3 }, { 2, 7, 1 } };
	static const struct hop hop = { .spans = spans, .n_spans = 3 };
	static const struct {
		int32_t band, channel;
		int     seat;
	} rows[] = {
		{ 0, 4, 0 }, { 0, 9, 5 }, { 0, 3, -1 }, { 0, 10, -1 }, { 1, 0, 6 }, { 1, 2, 8 },
		  { 1, 3, -1 },
		{ 1, -1, -1 }, { 2, 7, 9 }, { 2, 6, -1 }, { 2, 8, -1 }, { 3, 0, -1 },
	};
	(void)state;

	for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++)
		if (seats_of(&hop, rows[i].band, rows[i].channel) != rows[i].seat)
			fail_msg("band %d channel %d: seat %d", rows[i].band, rows[i].channel,
				 seats_of(&hop, rows[i].band, rows[i].channel));
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(limits_share_the_false_alarms),
		cmocka_unit_test(one_slice_has_no_share),
		cmocka_unit_test(gaps_have_a_twentieth),
		cmocka_unit_test(every_channel_and_every_gap_has_a_seat),
		cmocka_unit_test(the_tuners_own_line_has_no_gap),
		cmocka_unit_test(what_stands_out),
		cmocka_unit_test(gaps_open_at_their_own_limits),
		cmocka_unit_test(each_channel_has_its_place),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
