#include "tests/test.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "dsp/track.h"
#include "tests/noise.h"

#define CHANNELS 4
#define SLICES   10
#define OVERS    4096
#define MS       1000
#define SECOND   1000000
#define EPOCH    INT64_C(1800000000000000)      /* UTC of the mono clock's zero */

/* Everything a track says. */
struct heard {
	struct transmission over[OVERS];
	int                 overs;
	int64_t             busy_us[CHANNELS], blind_us[CHANNELS];
	int                 openings, held, touches;
};

static void note_over(void *self, const struct transmission *t)
{
	struct heard *h = self;
	assert_in_range(h->overs, 0, OVERS - 1);
	h->over[h->overs++] = *t;
}

static void note_touch(void *self, const struct touch *t)
{
	struct heard *h = self;
	h->busy_us[t->channel] += t->busy_us;
	h->blind_us[t->channel] += t->blind_us;
	h->openings += t->opened;
	h->held += t->held;
	h->touches++;
	assert_true(t->busy != t->blind);
	assert_false(t->opened && t->held);
}

static const struct band band = {
	.id = "test", .raster = { { 3 * INT64_C(150000000) }, { 37500 }, CHANNELS },
	.mode = MODE_NFM, .width_hz = 11000,
};
static const struct span all = { 0, 0, CHANNELS };
static const struct hop hop = {
	.centre = { 3 * INT64_C(150000000) }, .rate_hz = 2400000, .bins = 1920, .spans = &all,
	.n_spans = 1,
};

/* One look at one channel: its sign, when it was, and how strong.
 * '.': idle, '#': busy throughout, '(': from the middle on, ')': up to the middle,
 * '|': two slices amid, '?': blind, 'x': our own making, ' ': not looked at. */
struct view {
	int32_t channel;
	char    sign;
	double  ratio;
	enum kind kind;
};

static int part(char sign, int *first, int *last)
{
	static const struct {
		char sign;
		int  first, last;
	} parts[] = { { '#', 0, 9 }, { '(', 5, 9 }, { ')', 0, 4 }, { '|', 4, 5 } };

	for (size_t i = 0; i < sizeof parts / sizeof parts[0]; i++)
		if (parts[i].sign == sign) {
			*first = parts[i].first;
			*last = parts[i].last;
			return 1;
		}
	return 0;
}

static void show(struct track *t, int64_t at, int64_t span, const struct view *v, int n)
{
	/* So many transforms a slice that slices begin within 5 us of a tenth. */
	struct look l = { .start_us = EPOCH + at, .mono_us = at, .span_us = span, .length_us = span,
			  .slices = SLICES, .slice_transforms = 1000,
			  .bin_hz = 0.5e6 * 1000 * SLICES / (double)span };
	enum verdict verdict[CHANNELS];
	struct finding finding[CHANNELS];
	enum kind votes[CHANNELS];
	struct judged j = { .verdict = verdict, .seats = CHANNELS, .finding = finding };

	for (int c = 0; c < CHANNELS; c++)
		verdict[c] = VERDICT_IDLE;
	for (int i = 0; i < n; i++) {
		struct finding f = { .channel = v[i].channel, .seat = v[i].channel, .floor = 1,
				     .power = v[i].ratio, .width_hz = 8000, .offset_hz = 100 };
		verdict[f.channel] = v[i].sign == '?' ? VERDICT_BLIND : v[i].sign == 'x' ?
				     VERDICT_FALSE : VERDICT_IDLE;
		if (!part(v[i].sign, &f.first_slice, &f.last_slice))
			continue;
		verdict[f.channel] = VERDICT_BUSY;
		votes[j.findings] = v[i].kind;
		finding[j.findings++] = f;
	}
	track_look(t, &hop, &l, &j, votes);
}

/* Scripts: one sign a look, all on channel 2. */
static const struct {
	const char *why;
	const char *signs;
	int64_t     every, span;        /* between looks, and how long each     */
	int64_t     hang, fill;
	double      ratio;              /* power over floor                     */
	int         overs;
	int64_t     first, length, before, after, busy;         /* of the first over */
} scripts[] = {
	{ "one look, idle before and after", "..#..", 2 * SECOND, 20 * MS, 0, 50 * MS, 100,
	  1, 4000 * MS, 20 * MS, 1980 * MS, 1980 * MS, 20 * MS },
	{ "nothing known of before and after", "#", 2 * SECOND, 20 * MS, 0, 50 * MS, 100,
	  1, 0, 20 * MS, -1, -1, 20 * MS },
	{ "it began and ended inside looks", ".(#).", 2 * SECOND, 20 * MS, 0, 50 * MS, 100,
	  1, 2010 * MS, 4000 * MS, 1990 * MS, 1990 * MS, 40 * MS },
	{ "a short burst amid a look", ".|.", 2 * SECOND, 20 * MS, 0, 50 * MS, 100,
	  1, 2008 * MS, 4 * MS, 1988 * MS, 1988 * MS, 4 * MS },
	{ "one idle look ends a clear over", ".#.#.", 2 * SECOND, 20 * MS, 0, 50 * MS, 100,
	  2, 2000 * MS, 20 * MS, 1980 * MS, 1980 * MS, 20 * MS },
	{ "but not a weak one", ".#.#.", 2 * SECOND, 20 * MS, 0, 50 * MS, 2.5,
	  1, 2000 * MS, 4020 * MS, 1980 * MS, 1980 * MS, 40 * MS },
	{ "two idle looks end a weak one", ".#..#..", 2 * SECOND, 20 * MS, 0, 50 * MS, 2.5,
	  2, 2000 * MS, 20 * MS, 1980 * MS, 1980 * MS, 20 * MS },
	{ "5.9 dB is weak", ".#.#.", 2 * SECOND, 20 * MS, 0, 50 * MS, 3.89,
	  1, 2000 * MS, 4020 * MS, 1980 * MS, 1980 * MS, 40 * MS },
	{ "6.1 dB is clear", ".#.#.", 2 * SECOND, 20 * MS, 0, 50 * MS, 4.07,
	  2, 2000 * MS, 20 * MS, 1980 * MS, 1980 * MS, 20 * MS },
	{ "a pause within the hang of a stream", ".##....##..", 100 * MS, 100 * MS, 500 * MS, 50 * MS,
	  100, 1, 100 * MS, 800 * MS, 0, 0, 400 * MS },
	{ "a pause past the hang", ".##......##..", 100 * MS, 100 * MS, 500 * MS, 50 * MS, 100,
	  2, 100 * MS, 200 * MS, 0, 0, 200 * MS },
	{ "a hole of 50 ms counts as on", ".#..##.", 20 * MS, 20 * MS, 500 * MS, 50 * MS, 100,
	  1, 20 * MS, 100 * MS, 0, 0, 100 * MS },
	{ "one of 60 ms does not", ".#...##.", 20 * MS, 20 * MS, 500 * MS, 50 * MS, 100,
	  1, 20 * MS, 120 * MS, 0, 0, 60 * MS },
	{ "blind looks do not end it", ".#?#.", 2 * SECOND, 20 * MS, 4 * SECOND, 50 * MS, 100,
	  1, 2000 * MS, 4020 * MS, 1980 * MS, 1980 * MS, 40 * MS },
	{ "a false look neither", ".#x#.", 2 * SECOND, 20 * MS, 4 * SECOND, 50 * MS, 100,
	  1, 2000 * MS, 4020 * MS, 1980 * MS, 1980 * MS, 40 * MS },
	{ "but not for ever", ".#????????#.", 2 * SECOND, 20 * MS, 4 * SECOND, 50 * MS, 100,
	  2, 2000 * MS, 20 * MS, 1980 * MS, -1, 20 * MS },
	{ "unless nothing hangs: then it is a rest", ".#?#.", 2 * SECOND, 20 * MS, 0, 50 * MS, 100,
	  2, 2000 * MS, 20 * MS, 1980 * MS, -1, 20 * MS },
	{ "a rest in between makes two", ".#    #.", 2 * SECOND, 20 * MS, 4 * SECOND, 50 * MS, 100,
	  2, 2000 * MS, 20 * MS, 1980 * MS, -1, 20 * MS },
	{ "a short rest does not", ".# #.", 1 * SECOND, 20 * MS, 4 * SECOND, 50 * MS, 100,
	  1, 1000 * MS, 2020 * MS, 980 * MS, 980 * MS, 40 * MS },
	{ "one unlooked at for less than it was seen on goes on", ".#####   #.", 2 * SECOND, 20 * MS, 0,
	  50 * MS, 100, 1, 2000 * MS, 16020 * MS, 1980 * MS, 1980 * MS, 120 * MS },
	{ "one unlooked at for longer may be another", ".###   #.", 2 * SECOND, 20 * MS, 0, 50 * MS, 100,
	  2, 2000 * MS, 4020 * MS, 1980 * MS, -1, 60 * MS },
	{ "two separate bursts in a stream", ".(.)..|....", 100 * MS, 100 * MS, 150 * MS, 50 * MS, 100,
	  2, 150 * MS, 200 * MS, 50 * MS, 50 * MS, 100 * MS },
};

static void play(struct track *t, size_t row)
{
	for (size_t i = 0; scripts[row].signs[i]; i++)
		if (scripts[row].signs[i] != ' ')
			show(t, (int64_t)i * scripts[row].every, scripts[row].span,
			     &(struct view){ 2, scripts[row].signs[i], scripts[row].ratio, KIND_NFM },
			     1);
	track_end(t);
}

/* -1, not known, must be itself. */
static bool far(int64_t got, int64_t want)
{
	return want == -1 ? got != -1 : llabs(got - want) > 10;
}

static void overs_from_scripts(void **state)
{
	static struct heard h;
	(void)state;

	for (size_t i = 0; i < sizeof scripts / sizeof scripts[0]; i++) {
		struct track_rules rules = { scripts[i].hang, scripts[i].fill, scripts[i].every };
		if (strchr(scripts[i].signs, ' ') && scripts[i].every == SECOND)
			rules.revisit_us = 2 * SECOND;
		memset(&h, 0, sizeof h);
		struct track *t = track_create(&rules, &band, 1, note_over, note_touch, &h);
		play(t, i);
		track_destroy(t);
		const struct transmission *o = &h.over[0];
		if (h.overs != scripts[i].overs)
			fail_msg("%s: %d overs, want %d", scripts[i].why, h.overs, scripts[i].overs);
		if (far(o->first_us - EPOCH, scripts[i].first) ||
		    far(o->last_us - o->first_us, scripts[i].length))
			fail_msg("%s: from %lld ms for %lld ms", scripts[i].why,
				 (long long)(o->first_us - EPOCH) / MS,
				 (long long)(o->last_us - o->first_us) / MS);
		if (far(o->before_us, scripts[i].before) || far(o->after_us, scripts[i].after))
			fail_msg("%s: up to %lld us before and %lld after", scripts[i].why,
				 (long long)o->before_us, (long long)o->after_us);
		if (far(o->busy_us, scripts[i].busy))
			fail_msg("%s: busy %lld us", scripts[i].why, (long long)o->busy_us);
	}
}

static void level_and_kind_are_of_many_looks(void **state)
{
	static const double db[] = { 10.5, 30.5, 12.5, 11.5, 12.5 };
	static struct heard h;
	struct track_rules rules = { 0, 50 * MS, SECOND };
	struct track *t = track_create(&rules, &band, 1, note_over, note_touch, &h);
	(void)state;

	for (int i = 0; i < 5; i++)
		show(t, i * SECOND, 20 * MS,
		     &(struct view){ 1, '#', pow(10, db[i] / 10), i == 3 ? KIND_DATA : KIND_NFM }, 1);
	track_end(t);
	assert_int_equal(h.overs, 1);
	assert_int_equal(h.over[0].channel, 1);
	assert_int_equal(h.over[0].looks, 5);
	assert_true(fabs(h.over[0].level_db - 12.5) <= 0.5);    /* the middle one, to its bin */
	assert_true(fabs(h.over[0].peak_db - 30.5) < 1e-9);
	assert_true(fabs(h.over[0].floor_dbfs) < 1e-9);
	assert_true(fabs(h.over[0].offset_hz - 100) < 1e-9);
	assert_true(fabs(h.over[0].width_hz - 8000) < 1e-9);
	assert_int_equal(h.over[0].kind, KIND_NFM);
	assert_true(fabs(h.over[0].confidence - 5.0 / 7) < 1e-9);
	track_destroy(t);
}

/* The same over on a bare carrier's pauses is still voice. */
static void votes_agree(void **state)
{
	static const struct {
		const char *why;
		struct votes votes;
		enum kind   want;
		double      confidence;
	} rows[] = {
		{ "no word at all", { { 0 } }, KIND_UNKNOWN, 0 },
		{ "only not sure", { { [KIND_UNKNOWN] = 9 } }, KIND_UNKNOWN, 0 },
		{ "one look", { { [KIND_AM] = 1 } }, KIND_AM, 2.0 / 3 },
		{ "voice pauses on a carrier", { { [KIND_CARRIER] = 8, [KIND_AM] = 2 } }, KIND_AM, 0.75 },
		{ "a carrier, once misheard", { { [KIND_CARRIER] = 9, [KIND_AM] = 1 } }, KIND_CARRIER,
		  10.0 / 12 },
		{ "most say data", { { [KIND_NFM] = 2, [KIND_DATA] = 8 } }, KIND_DATA, 9.0 / 12 },
	};
	(void)state;

	for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
		double c;
		enum kind k = votes_kind(&rows[i].votes, &c);
		if (k != rows[i].want || fabs(c - rows[i].confidence) > 1e-9)
			fail_msg("%s: %s with %g", rows[i].why, kind_name(k), c);
	}
}

static void level_bins(void **state)
{
	(void)state;
	assert_int_equal(level_bin(0.5, 1), 0);
	assert_int_equal(level_bin(1, 1), 0);
	assert_int_equal(level_bin(10.01, 1), 10);
	assert_int_equal(level_bin(9.99, 1), 9);
	assert_int_equal(level_bin(1e20, 1), LEVEL_BINS - 1);
	assert_int_equal(level_bin(1, 0), LEVEL_BINS - 1);
}

/* What the detector is told of the look before, and what a channel's account is. */
static void opened_and_held(void **state)
{
	static struct heard h;
	struct track_rules rules = { 0, 50 * MS, SECOND };
	struct track *t = track_create(&rules, &band, 1, note_over, note_touch, &h);
	bool open[CHANNELS];
	(void)state;

	assert_false(track_soon(t, &hop, 0));
	assert_true(track_wants_word(t, 0, 1));
	show(t, 0, 20 * MS, &(struct view){ 1, '#', 100, KIND_NFM }, 1);
	track_open(t, &hop, SECOND, open);
	assert_true(open[1] && !open[0] && !open[2]);
	assert_true(track_soon(t, &hop, SECOND));
	track_open(t, &hop, 10 * SECOND, open);
	assert_false(open[1]);                  /* long ago */
	show(t, SECOND, 20 * MS, &(struct view){ 1, '#', 100, KIND_NFM }, 1);
	assert_int_equal(h.openings, 1);
	assert_int_equal(h.held, 1);
	show(t, 2 * SECOND, 20 * MS, &(struct view){ 1, '?', 0, KIND_NFM }, 1);
	assert_int_equal(h.blind_us[1], 20 * MS);
	track_revisit(t, 10 * SECOND);
	track_open(t, &hop, 15 * SECOND, open);
	assert_true(open[1]);                   /* looks have become rarer */
	track_end(t);
	track_end(t);
	assert_int_equal(h.overs, 1);
	track_destroy(t);
	track_destroy(NULL);
}

static void an_over_is_asked_often_enough(void **state)
{
	static struct heard h;
	struct track_rules rules = { 0, 50 * MS, SECOND };
	struct track *t = track_create(&rules, &band, 1, note_over, note_touch, &h);
	int asked = 0;
	(void)state;

	for (int i = 0; i < 100; i++) {
		asked += track_wants_word(t, 0, 3);
		show(t, i * SECOND, 20 * MS, &(struct view){ 3, '#', 100, KIND_NFM }, 1);
	}
	assert_in_range(asked, 10, 99);
	track_destroy(t);
}

/* A carrier that never goes off is handed out hour by hour, and loses no busy time. */
static void endless_overs_are_handed_out(void **state)
{
	static struct heard h;
	struct track_rules rules = { 0, 50 * MS, 10 * SECOND };
	struct track *t = track_create(&rules, &band, 1, note_over, note_touch, &h);
	(void)state;

	for (int i = 0; i < 9 * 100; i++)       /* two and a half hours */
		show(t, INT64_C(10) * i * SECOND, 20 * MS, &(struct view){ 3, '#', 100, KIND_NFM }, 1);
	assert_int_equal(h.overs, 2);
	track_end(t);
	assert_int_equal(h.overs, 3);
	for (int i = 0; i < 2; i++)
		assert_in_range(h.over[i].last_us - h.over[i].first_us, TRACK_LONGEST_US,
				TRACK_LONGEST_US + INT64_C(10) * SECOND);
	assert_int_equal(h.over[0].busy_us + h.over[1].busy_us + h.over[2].busy_us, h.busy_us[3]);
	assert_int_equal(h.busy_us[3], 900 * 20 * MS);
	track_destroy(t);
}

/* Over random rows of looks: the overs' busy time is what the account says, overs
 * of a channel ascend and never overlap, and none is busier than it is long. */
static const char *wrong_overs(const struct heard *h, int64_t looked)
{
	int64_t busy[CHANNELS] = { 0 }, last[CHANNELS] = { 0 };

	for (int i = 0; i < h->overs; i++) {
		const struct transmission *o = &h->over[i];
		busy[o->channel] += o->busy_us;
		if (o->first_us < last[o->channel])
			return "overs overlap";
		if (o->busy_us > o->last_us - o->first_us || o->busy_us <= 0)
			return "busier than long, or never busy";
		if (o->looks < 1 || o->level_db > o->peak_db)
			return "no looks, or a median over the peak";
		last[o->channel] = o->last_us;
	}
	for (int c = 0; c < CHANNELS; c++)
		if (busy[c] != h->busy_us[c])
			return "busy time in overs is not what was accounted";
	return h->blind_us[0] > looked ? "blind for longer than looked" : NULL;
}

static void random_rows_add_up(void **state)
{
	static struct heard h;
	(void)state;

	for (uint64_t seed = 1; seed <= 500; seed++) {
		struct noise r = { seed };
		bool stream = seed % 2;
		int64_t span = noise_between(&r, 5, 40) * MS;
		int64_t every = stream ? span : span + noise_between(&r, 1, 3000) * MS;
		struct track_rules rules = { noise_between(&r, 0, 3000) * MS,
					     noise_between(&r, 0, 100) * MS, every };
		memset(&h, 0, sizeof h);
		struct track *t = track_create(&rules, &band, 1, note_over, note_touch, &h);
		int64_t at = 0;
		for (int i = 0; i < 500; i++) {
			struct view v[CHANNELS];
			for (int c = 0; c < CHANNELS; c++)
				v[c] = (struct view){ c, "..##()|?x."[noise_between(&r, 0, 9)],
						      pow(10, noise_uniform(&r) * 3), KIND_NFM };
			show(t, at, span, v, CHANNELS);
			at += every + (noise_between(&r, 0, 20) == 0 ? 20 * every : 0);
		}
		track_end(t);
		track_destroy(t);
		const char *why = wrong_overs(&h, 500 * span);
		if (why)
			fail_msg("seed %d: %s", (int)seed, why);
	}
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(overs_from_scripts),
		cmocka_unit_test(level_and_kind_are_of_many_looks),
		cmocka_unit_test(votes_agree),
		cmocka_unit_test(level_bins),
		cmocka_unit_test(opened_and_held),
		cmocka_unit_test(an_over_is_asked_often_enough),
		cmocka_unit_test(endless_overs_are_handed_out),
		cmocka_unit_test(random_rows_add_up),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
