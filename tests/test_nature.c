#include "tests/test.h"

#include "tests/census_world.h"

#include <math.h>
#include <string.h>

/* One over as a park tells of it; a row of nothing ends a night. */
struct told {
	int     overs;
	enum kind kind;
	int32_t heard_ms, occupied_hz, deviation_hz, depth_pm;
	enum below below;
	int32_t tone_ddhz, code;
};

static void add_told(struct night *n, const struct told *t, double at_s, double length_s)
{
	const struct world_over o = { WORLD_FIRE, 186, at_s, length_s, 200, 0, 11000, t->kind, t->tone_ddhz };
	struct transmission_row row = world_transmission(&o);

	row.heard_ms = t->heard_ms;
	row.occupied_hz = t->occupied_hz;
	row.down26_hz = t->occupied_hz;
	row.deviation_hz = t->deviation_hz;
	row.depth_pm = t->depth_pm;
	row.below = t->below;
	row.code = t->code;
	assert_int_equal(tally_transmission(n->tally, &row), 0);
}

#define NFM(n, ms, width, deviation) { n, KIND_NFM, ms, width, deviation, 0, BELOW_UNKNOWN, 0, 0 }
#define TONE(n, ddhz) { n, KIND_NFM, 3000, 0, 0, 0, BELOW_TONE, ddhz, 0 }
#define CODE(n, bits) { n, KIND_NFM, 3000, 0, 0, 0, BELOW_CODE, 0, bits }
#define NONE(n)       { n, KIND_NFM, 3000, 0, 0, 0, BELOW_NOTHING, 0, 0 }

static const struct {
	const char *why;
	struct told told[4];
	int         believed;
	const char *brief, *words;
} rows[] = {
	{ "seen in sweeps only: nothing is known of it", { NFM(5, 0, 0, 0) }, 0, "", "" },
	{ "a set built for 5 kHz", { NFM(4, 3000, 8400, 4200) }, 0, "16K0F3E probably",
	  "99 % in 8.4 kHz (4 overs: 8.4-8.4); deviation 4.2 kHz (4 overs: 4.2-4.2); 16K0F3E probably" },
	{ "one over only has no interval", { NFM(1, 3000, 8400, 2200), NFM(4, 0, 0, 0) }, 0, "11K0F3E probably",
	  "99 % in 8.4 kHz (1 over); deviation 2.2 kHz (1 over); 11K0F3E probably" },
	{ "short ones tell the width, not the peak", { NFM(3, 500, 8400, 4200) }, 0, "",
	  "99 % in 8.4 kHz (3 overs: 8.4-8.4)" },
	{ "soft talkers do not make a set narrow", { NFM(4, 3000, 6000, 2800), NFM(2, 3000, 9000, 4400) }, 0,
	  "16K0F3E probably", "99 % in 6.0 kHz (6 overs: 6.0-9.0); deviation 2.8 kHz (6 overs: 2.8-4.4); "
	  "16K0F3E probably" },
	{ "AM has a depth", { { 3, KIND_AM, 3000, 5000, 0, 810, BELOW_UNKNOWN, 0, 0 } }, 0, "",
	  "99 % in 5.0 kHz (3 overs: 5.0-5.0); AM depth 81.0 % (3 overs: 81.0-81.0); 6K00A3E probably" },
	{ "a tone", { TONE(3, 1000), NONE(1) }, 1, "tone 100.0", "tone 100.0 (3 of 4 overs)" },
	{ "a code and its other name", { CODE(4, 023) }, 1, "code 023 (or 047 inverted)",
	  "code 023 (or 047 inverted) (4 of 4 overs)" },
	{ "no tone is not: not known", { NONE(3) }, 1, "no tone", "no tone (3 of 3 overs)" },
	{ "too few are", { NONE(2), NFM(9, 0, 0, 0) }, 0, "", "" },
	{ "two users", { TONE(5, 1230), TONE(4, 1000), NONE(1) }, 2, "two users: 123.0 and 100.0",
	  "two users: 123.0 and 100.0 (5 + 4 of 10 overs)" },
	{ "three, one without", { TONE(5, 1230), CODE(4, 0411), NONE(3) }, 3,
	  "3 users: 123.0, code 411 (or 226 inverted) and none",
	  "3 users: 123.0, code 411 (or 226 inverted) and none (5 + 4 + 3 of 12 overs)" },
	{ "as many tones as overs", { TONE(1, 1230), TONE(1, 1000), TONE(1, 885), NONE(1) }, 0, "", "" },
	{ "a survey of version 1 kept the tone alone",
	  { { 3, KIND_NFM, 0, 0, 0, 0, BELOW_UNKNOWN, 1000, 0 } }, 1, "tone 100.0", "tone 100.0 (3 of 3 overs)" },
};

static void what_overs_say(void **state)
{
	char brief[NATURE_TEXT], words[NATURE_TEXT];
	(void)state;

	for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
		struct night n;
		int at = 0;
		night_begin(&n, 60, 2);
		for (int k = 0; k < 4; k++)
			for (int o = 0; o < rows[i].told[k].overs; o++)
				add_told(&n, &rows[i].told[k], 60 * ++at, 5);
		struct census *c = night_end(&n);
		const struct nature *got = &channel_at(c, WORLD_FIRE, 186)->nature;
		nature_brief(got, brief, sizeof brief);
		nature_words(got, words, sizeof words);
		if (got->believed != rows[i].believed || strcmp(brief, rows[i].brief) != 0 ||
		    strcmp(words, rows[i].words) != 0)
			fail_msg("%s: %d users, \"%s\", \"%s\"", rows[i].why, got->believed, brief, words);
		census_destroy(c);
	}
}

/* 20 values 100, 200 .. 2000 Hz. The median's interval by the binomial law: ranks 6 and 15
 * hold it with 95.9 % (any table of the sign test; worked out: 1 - 2 * 21700 / 2^20). */
static void interval_of_a_median(void **state)
{
	struct night n;
	(void)state;

	night_begin(&n, 60, 2);
	for (int i = 0; i < 20; i++) {
		struct told t = NFM(1, 3000, 100 * (1 + i * 7 % 20), 2000);
		add_told(&n, &t, 60 * (i + 1), 5);
	}
	struct census *c = night_end(&n);
	const struct gauge *g = &channel_at(c, WORLD_FIRE, 186)->nature.occupied_hz;
	if (g->overs != 20 || fabs(g->median - 1050) > 0.1 || fabs(g->likely.low - 600) > 0.1 ||
	    fabs(g->likely.high - 1500) > 0.1)
		fail_msg("%d overs: %.0f Hz, %.0f-%.0f", g->overs, g->median, g->likely.low, g->likely.high);
	census_destroy(c);
}

static const struct {
	const char *why;
	double apart_s, length_s;
	int    overs;
	bool   talks;
} data[] = {
	{ "overs with replies", 7, 5, 12, true },
	{ "one at a time, far apart", 60, 5, 12, false },
	{ "bursts", 3, 0.05, 12, false },
	{ "batches of half a minute", 31, 30, 12, false },
};

static void data_that_may_be_voice(void **state)
{
	(void)state;
	for (size_t i = 0; i < sizeof data / sizeof data[0]; i++) {
		struct told t = { 1, KIND_DATA, 0, 0, 0, 0, BELOW_UNKNOWN, 0, 0 };
		struct night n;
		night_begin(&n, 60, 2);
		for (int k = 0; k < data[i].overs; k++)
			add_told(&n, &t, 60 + data[i].apart_s * k + 30 * (k / 3), data[i].length_s);
		struct census *c = night_end(&n);
		if (channel_at(c, WORLD_FIRE, 186)->nature.talks != data[i].talks)
			fail_msg("%s", data[i].why);
		census_destroy(c);
	}
}

/* The same user on a bare carrier's pauses is still voice. */
static void votes_agree(void **state)
{
	static const struct {
		const char *why;
		struct votes votes;
		enum kind   want;
		double      confidence;
	} words[] = {
		{ "no word at all", { { 0 } }, KIND_UNKNOWN, 0 },
		{ "only not sure", { { [KIND_UNKNOWN] = 9 } }, KIND_UNKNOWN, 0 },
		{ "one over", { { [KIND_AM] = 1 } }, KIND_AM, 2.0 / 3 },
		{ "voice pauses on a carrier", { { [KIND_CARRIER] = 8, [KIND_AM] = 2 } }, KIND_AM, 0.75 },
		{ "a carrier, once misheard", { { [KIND_CARRIER] = 9, [KIND_AM] = 1 } }, KIND_CARRIER,
		  10.0 / 12 },
		{ "most say data", { { [KIND_NFM] = 2, [KIND_DATA] = 8 } }, KIND_DATA, 9.0 / 12 },
	};
	(void)state;

	for (size_t i = 0; i < sizeof words / sizeof words[0]; i++) {
		double c;
		enum kind k = votes_kind(&words[i].votes, &c);
		if (k != words[i].want || fabs(c - words[i].confidence) > 1e-9)
			fail_msg("%s: %s with %g", words[i].why, kind_name(k), c);
	}
}

/* What does not fit is cut, and nothing is written behind it. */
static void words_fit(void **state)
{
	struct nature n = { .users = { 9, 1, { { 1000, 0, 9 } } }, .believed = 1 };
	char out[16] = "===============";
	(void)state;

	nature_words(&n, out, 8);
	assert_string_equal(out, "tone 10");
	assert_string_equal(out + 8, "=======");
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(what_overs_say),
		cmocka_unit_test(interval_of_a_median),
		cmocka_unit_test(data_that_may_be_voice),
		cmocka_unit_test(votes_agree),
		cmocka_unit_test(words_fit),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
