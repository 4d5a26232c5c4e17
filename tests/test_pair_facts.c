/* What is told of a pair of channels, by hand: usual splits, hang, tones, how sure. */
#include "tests/test.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "tools/plan/census.h"
#include "tools/plan/pairs.h"

#define OVERS 20
#define START_US INT64_C(1767225600000000)

enum { IN = 0, OUT };

/* An input whose overs begin with the output's, and end so much before them. */
struct world {
	struct census  census;
	struct band    band[2];
	struct channel channel[2];
	struct over    over[2 * OVERS];
};

static struct world *begin(struct freq in, struct freq out)
{
	struct world *w = calloc(1, sizeof *w);

	assert_non_null(w);
	for (int side = IN; side <= OUT; side++) {
		struct channel *ch = &w->channel[side];
		ch->band = side;
		ch->centre = side == IN ? in : out;
		ch->over = side * OVERS;
		ch->overs = OVERS;
		ch->level_db = side == IN ? 12 : 30;
		ch->spread_db = side == IN ? 7 : 1;
		ch->busy_us = side == IN ? 140000000 : 200000000;
		ch->occupancy = 0.01;
	}
	/* At times that no rhythm has in common with a shift of them. */
	for (int i = 0; i < OVERS; i++) {
		int64_t at_us = START_US + (i * INT64_C(601) + i * i * INT64_C(37) % 211) * 1000000;
		w->over[i] = (struct over){ .first_us = at_us, .last_us = at_us + 7000000 };
		w->over[OVERS + i] = (struct over){ .first_us = at_us, .last_us = at_us + 10000000 };
	}
	w->census = (struct census){ .channel = w->channel, .channels = 2, .band = w->band, .bands = 2,
				     .over = w->over, .overs = 2 * OVERS };
	return w;
}

static struct world *usual(void)
{
	return begin(FREQ_KHZ(442000), FREQ_KHZ(447000));
}

/* Usual splits (common practice; the marine one: ITU Radio Regulations appendix 18, from memory). */
static const struct {
	int32_t     low_khz, high_khz, apart_khz;       /* of the stretch that both lie in */
	bool        below, above;                       /* where the input may be          */
	const char *name;
} splits[] = {
	{ 144000, 148000, 600, true, true, "amateur 2 m" },
	{ 222000, 225000, 1600, true, false, "amateur 1.25 m" },
	{ 430000, 440000, 1600, true, true, "amateur 70 cm" },
	{ 156000, 162050, 4600, true, true, "marine duplex" },
	{ 138000, 142600, 4600, true, true, "land mobile VHF" },
	{ 169400, 174000, 4600, true, true, "land mobile VHF" },
	{ 440000, 450000, 5000, true, true, "amateur 70 cm" },
	{ 450000, 470000, 5000, false, true, "land mobile UHF" },
	{ 430000, 440000, 7600, true, true, "amateur 70 cm" },
	{ 430000, 440000, 9400, true, true, "amateur 70 cm" },
	{ 380000, 470000, 10000, true, false, "land mobile UHF" },
	{ 470000, 512000, 3000, false, true, "land mobile UHF" },
	{ 806000, 870000, 45000, true, false, "land mobile 800" },
	{ 896000, 941000, 39000, true, false, "land mobile 900" },
};

/* The pair's split, or "" when there is none; *chance: told of it. */
static const char *found(int32_t in_khz, int32_t out_khz, double *chance)
{
	struct world *w = begin(FREQ_KHZ(in_khz), FREQ_KHZ(out_khz));

	pairs_find(&w->census);
	const struct pair p = w->channel[IN].pair;
	free(w);
	*chance = p.chance;
	return p.is == PAIR_INPUT && p.other == OUT ? p.split : "";
}

static void usual_splits(void **state)
{
	double planned, chance;

	(void)state;
	struct world *w = usual();
	w->band[OUT].split[0] = FREQ_KHZ(-5000);
	pairs_find(&w->census);
	planned = w->channel[IN].pair.chance;
	free(w);
	assert_true(planned > 0);
	for (size_t i = 0; i < sizeof splits / sizeof splits[0]; i++) {
		int32_t low = splits[i].low_khz, high = splits[i].high_khz, apart = splits[i].apart_khz;
		const char *below = found(low, low + apart, &chance);
		if (strcmp(below, splits[i].below ? splits[i].name : "") != 0)
			fail_msg("%s, input below %d kHz: \"%s\"", splits[i].name, low + apart, below);
		/* Nobody asked for it: one of the three ways in which each pair is tried. */
		if (splits[i].below && fabs(chance / planned - 3) > 1e-9)
			fail_msg("%s: chance %g, planned %g", splits[i].name, chance, planned);
		const char *above = found(high, high - apart, &chance);
		if (strcmp(above, splits[i].above ? splits[i].name : "") != 0)
			fail_msg("%s, input above %d kHz: \"%s\"", splits[i].name, high - apart, above);
		if (splits[i].above && fabs(chance / planned - 3) > 1e-9)
			fail_msg("%s: chance %g, planned %g", splits[i].name, chance, planned);
		if (strcmp(found(low - 5, low - 5 + apart, &chance), splits[i].name) == 0 && low != 169400)
			fail_msg("%s: below %d kHz too", splits[i].name, low);
		if (strcmp(found(high + 5, high + 5 - apart, &chance), splits[i].name) == 0 && high != 142600)
			fail_msg("%s: above %d kHz too", splits[i].name, high);
		if (found(low, low + apart + 5, &chance)[0] || found(low + apart + 5, low, &chance)[0])
			fail_msg("%s: 5 kHz more is a split, too", splits[i].name);
	}
}

/* How much later the output goes off: told when the ends are known well, and constant. */
static const struct {
	const char *why;
	double      later_s[2];         /* by turns                                  */
	double      out_s, in_s;        /* how far the ends may lie outside: output, input; below 0: not seen */
	int         known;              /* of the overs, the first so many; others are swept */
	double      hang_s, sigma_s;
} hangs[] = {
	{ "three seconds", { 3, 3 }, 0.02, 0.01, OVERS, 3.005, 0 },
	{ "ends that sweeps saw", { 3, 3 }, 0.7, 0.4, OVERS, 0, 0 },
	{ "five are enough", { 3, 3 }, 0.02, 0.01, 5, 3.005, 0 },
	{ "four are not", { 3, 3 }, 0.02, 0.01, 4, 0, 0 },
	{ "the output's end was not seen", { 3, 3 }, -1, 0.01, OVERS, 0, 0 },
	{ "the input's was not", { 3, 3 }, 0.02, -1, OVERS, 0, 0 },
	{ "eight seconds later it is another talk", { 8.1, 8.1 }, 0.02, 0.01, OVERS, 0, 0 },
	{ "7.9 are a hang", { 7.9, 7.9 }, 0.02, 0.02, OVERS, 7.9, 0 },
	{ "not before the input", { -0.5, -0.5 }, 0.02, 0.02, OVERS, 0, 0 },
	/* Quarters at the two values: a spread of 2 / 1.349, of a median times 1.25 / sqrt(20). */
	{ "now longer, now shorter", { 2, 4 }, 0.02, 0.02, OVERS, 3, 1.25 * 2 / 1.349 / 4.4721 },
	{ "a hang is constant", { 1, 5.5 }, 0.02, 0.02, OVERS, 0, 0 },
};

static void hangs_by_hand(void **state)
{
	(void)state;
	for (size_t i = 0; i < sizeof hangs / sizeof hangs[0]; i++) {
		struct world *w = usual();
		for (int k = 0; k < OVERS; k++) {
			struct over *in = &w->over[k], *out = &w->over[OVERS + k];
			bool known = k < hangs[i].known;
			out->last_us = in->last_us + (int64_t)(1e6 * hangs[i].later_s[k % 2]);
			in->after_us = known ? (int64_t)(1e6 * hangs[i].in_s) : 1500000;
			out->after_us = known ? (int64_t)(1e6 * hangs[i].out_s) : 1500000;
		}
		pairs_find(&w->census);
		const struct pair *in = &w->channel[IN].pair, *out = &w->channel[OUT].pair;
		assert_true(in->is == PAIR_INPUT && out->is == PAIR_OUTPUT);
		/* Of an even number list_quantile may take either middle one. */
		double slack = hangs[i].sigma_s > 0 ? 1.001 : 1e-6;
		if (fabs(in->hang_s - hangs[i].hang_s) > slack || fabs(in->hang_sigma_s - hangs[i].sigma_s) > 1e-3 ||
		    out->hang_s != in->hang_s)
			fail_msg("%s: %.3f s, sigma %.3f s", hangs[i].why, in->hang_s, in->hang_sigma_s);
		free(w);
	}
}

/* Two talkers on the input under one over of the output: the hang is the last one's. */
static void the_last_talker_tells_the_hang(void **state)
{
	struct world *w = usual();

	(void)state;
	for (int k = 0; k < OVERS; k++) {
		const struct over *out = &w->over[OVERS + k / 2 * 2];
		w->over[k].first_us = out->first_us + k % 2 * 5000000;
		w->over[k].last_us = w->over[k].first_us + 3000000;     /* 2 s before the output's end */
	}
	pairs_find(&w->census);
	assert_int_equal(w->channel[IN].pair.is, PAIR_INPUT);
	assert_true(fabs(w->channel[IN].pair.hang_s - 2) < 1e-6);
	free(w);
}

/* Tones within half a percent are one; it is sure by that or by levels, when chance is small. */
static void tones_and_levels_make_it_sure(void **state)
{
	static const struct {
		const char *why;
		int32_t     in_ddhz, out_ddhz;
		double      in_spread_db, out_spread_db;
		bool        same, sure;
	} by[] = {
		{ "same tone", 1000, 1000, 1, 1, true, true },
		{ "half a percent apart", 1000, 1005, 1, 1, true, true },
		{ "another tone", 1000, 1006, 1, 1, false, false },
		{ "a lower one", 1006, 1000, 1, 1, false, false },
		{ "the output's alone", 0, 1000, 1, 1, false, false },
		{ "the input's alone", 1000, 0, 1, 1, false, false },
		{ "none on either", 0, 0, 1, 1, false, false },
		{ "steady, and the input scattered", 0, 0, 3.1, 1.9, false, true },
		{ "not so steady", 0, 0, 3.1, 2, false, false },
		{ "not so scattered", 0, 0, 3, 1.9, false, false },
	};

	(void)state;
	for (size_t i = 0; i < sizeof by / sizeof by[0]; i++) {
		struct world *w = usual();
		for (int side = IN; side <= OUT; side++) {
			struct nature *n = &w->channel[side].nature;
			n->users.user[0].tone_ddhz = side == IN ? by[i].in_ddhz : by[i].out_ddhz;
			n->believed = n->users.user[0].tone_ddhz > 0;
		}
		w->channel[IN].spread_db = by[i].in_spread_db;
		w->channel[OUT].spread_db = by[i].out_spread_db;
		pairs_find(&w->census);
		const struct pair *p = &w->channel[IN].pair;
		if (p->is != PAIR_INPUT || p->same_tone != by[i].same || p->sure != by[i].sure)
			fail_msg("%s: %s tone, %s, chance %g", by[i].why, p->same_tone ? "same" : "no same",
				 p->sure ? "sure" : "likely", p->chance);
		free(w);
	}
}

/* What a lower squelch found holds where both are heard and neither has a pair of its own. */
static void pairs_of_a_lower_squelch(void **state)
{
	/* By band and channel; the pair is of the second and the fourth. */
	static const struct { int32_t band, channel; } lower[] = { { 0, 3 }, { 0, 5 }, { 1, 2 }, { 1, 7 }, { 2, 5 } };
	static const struct {
		const char *why;
		unsigned    heard;              /* bit: of these, at the squelch          */
		int         paired;             /* one that has a pair already; -1: none  */
		bool        told;
	} by[] = {
		{ "all", 0x1f, -1, true }, { "they alone", 0x0a, -1, true }, { "without those before", 0x1a, -1, true },
		{ "the input is not heard", 0x1d, -1, false }, { "the output is not", 0x17, -1, false },
		{ "the input has one", 0x1f, 1, false }, { "the output has one", 0x1f, 3, false },
		{ "somebody else has one", 0x1f, 2, true }, { "nobody is heard", 0, -1, false },
	};

	(void)state;
	for (size_t i = 0; i < sizeof by / sizeof by[0]; i++) {
		struct channel a[5] = { { 0 } }, b[5] = { { 0 } };
		int place[5], n = 0;
		for (int k = 0; k < 5; k++) {
			a[k].band = lower[k].band;
			a[k].channel = lower[k].channel;
			a[k].pair.other = -1;
			place[k] = -1;
			if (by[i].heard >> k & 1) {
				place[k] = n;
				b[n] = a[k];
				b[n].pair.is = k == by[i].paired ? PAIR_SIDE : PAIR_NONE;
				n++;
			}
		}
		a[1].pair = (struct pair){ .is = PAIR_INPUT, .other = 3, .of = 1, .overs = 9 };
		a[3].pair = (struct pair){ .is = PAIR_OUTPUT, .other = 1, .of = 1, .overs = 9 };
		const struct census all = { .channel = a, .channels = 5 };
		struct census c = { .channel = b, .channels = n };
		pairs_adopt(&c, &all);
		for (int k = 0; k < n; k++) {
			bool in = k == place[1] && by[i].told, out = k == place[3] && by[i].told;
			enum pairing want = in ? PAIR_INPUT : out ? PAIR_OUTPUT : by[i].paired >= 0 && k == place[by[i].paired] ?
				PAIR_SIDE : PAIR_NONE;
			if (b[k].pair.is != want || b[k].pair.other != (in ? place[3] : out ? place[1] : -1) ||
			    ((in || out) && (b[k].pair.of != place[1] || b[k].pair.overs != 9)))
				fail_msg("%s: channel %d is %d of %d", by[i].why, k, b[k].pair.is, b[k].pair.other);
		}
	}
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(usual_splits),
		cmocka_unit_test(hangs_by_hand),
		cmocka_unit_test(the_last_talker_tells_the_hang),
		cmocka_unit_test(tones_and_levels_make_it_sure),
		cmocka_unit_test(pairs_of_a_lower_squelch),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
