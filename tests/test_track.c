#include "tests/test.h"

#include <math.h>
#include <string.h>

#include "tests/noise.h"
#include "tests/track_world.h"

static void level_and_kind_are_of_many_looks(void **state)
{
	static const double db[] = { 10.5, 30.5, 12.5, 11.5, 12.5 };
	static struct heard h;
	struct track_rules rules = { 0, 50 * MS, SECOND };
	struct track *t = track_create(&rules, &track_band, 1, note_over, note_touch, &h);
	(void)state;

	for (int i = 0; i < 5; i++)
		show(t, i * SECOND, 20 * MS, &(struct view){ 1, '#', pow(10, db[i] / 10) }, 1);
	track_end(t);
	assert_int_equal(h.overs, 1);
	assert_int_equal(h.over[0].channel, 1);
	assert_int_equal(h.over[0].looks, 5);
	assert_true(fabs(h.over[0].level_db - 12.5) <= 0.5);    /* the middle one, to its bin */
	assert_true(fabs(h.over[0].peak_db - 30.5) < 1e-9);
	assert_true(fabs(h.over[0].floor_dbfs) < 1e-9);
	assert_true(fabs(h.over[0].offset_hz - 100) < 1e-9);
	assert_true(fabs(h.over[0].width_hz - 8000) < 1e-9);
	track_destroy(t);
}

/* A look at channel 0 that found an emission there. */
static void show_finding(struct track *t, int64_t at, struct finding f)
{
	struct look l = { .start_us = EPOCH + at, .mono_us = at, .span_us = 20 * MS,
			  .length_us = 20 * MS, .slices = 1, .slice_transforms = 1, .bin_hz = 1250 };
	enum verdict verdict[CHANNELS] = { VERDICT_BUSY, VERDICT_IDLE, VERDICT_IDLE, VERDICT_IDLE };

	track_look(t, &track_hop, &l, &(struct judged){ .verdict = verdict, .seats = CHANNELS,
							.finding = &f, .findings = 1 });
}

/* Each counts by its power over the noise, up to 20 dB. */
static void a_stronger_look_tells_more_but_not_all(void **state)
{
	static const struct {
		double ratio, offset_hz, width_hz;
	} looks[] = { { 10, 90, 8000 }, { 90, 190, 9000 }, { 1e6, 290, 10000 } };
	static struct heard h;
	struct track_rules rules = { 0, 50 * MS, SECOND };
	struct track *t = track_create(&rules, &track_band, 1, note_over, note_touch, &h);
	(void)state;

	for (int i = 0; i < 3; i++)
		show_finding(t, i * SECOND, (struct finding){ .power = looks[i].ratio * 2e-9, .floor = (i + 1) * 1e-9,
							      .offset_hz = looks[i].offset_hz,
							      .width_hz = looks[i].width_hz });
	track_end(t);
	assert_int_equal(h.overs, 1);
	/* 20, 90 and 100 of 210 */
	assert_true(fabs(h.over[0].offset_hz - (20 * 90 + 90 * 190 + 100 * 290) / 210.0) < 1e-6);
	assert_true(fabs(h.over[0].width_hz - (20 * 8.0 + 90 * 9 + 100 * 10) / 0.210) < 1e-6);
	assert_true(fabs(h.over[0].floor_dbfs - 10 * log10(2e-9)) < 1e-6);
	track_destroy(t);
}

/* The same number in another band is another channel. */
static void bands_are_apart(void **state)
{
	static const struct span spans[] = { { 0, 0, CHANNELS }, { 1, 0, 1 } };
	static const struct hop hop = { .spans = spans, .n_spans = 2 };
	static struct heard h;
	struct band bands[] = { track_band, track_band };
	struct track_rules rules = { 0, 50 * MS, SECOND };
	struct track *t = track_create(&rules, bands, 2, note_over, note_touch, &h);
	enum verdict verdict[CHANNELS + 1] = { VERDICT_BUSY };
	struct finding f = { .power = 100, .floor = 1 };
	bool open[CHANNELS + 1];
	(void)state;

	for (int i = 0; i < 4; i++) {
		struct look l = { .mono_us = i * SECOND, .span_us = 20 * MS, .length_us = 20 * MS,
				  .slices = 1, .slice_transforms = 1, .bin_hz = 1250 };
		f.band = i % 2;
		for (int c = 0; c <= CHANNELS; c++)
			verdict[c] = c == f.band * CHANNELS ? VERDICT_BUSY : VERDICT_IDLE;
		track_look(t, &hop, &l, &(struct judged){ .verdict = verdict, .seats = CHANNELS + 1,
							  .finding = &f, .findings = 1 });
		track_open(t, &hop, (i + 1) * SECOND, open);
		assert_int_equal(open[0], i % 2 == 0);
		assert_int_equal(open[CHANNELS], i % 2 == 1);
	}
	track_end(t);
	assert_int_equal(h.overs, 4);
	for (int i = 0; i < 4; i++)
		assert_true(h.over[i].band == i % 2 && h.over[i].channel == 0 && h.over[i].looks == 1);
	track_destroy(t);
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
	struct track *t = track_create(&rules, &track_band, 1, note_over, note_touch, &h);
	bool open[CHANNELS];
	(void)state;

	assert_false(track_soon(t, &track_hop, 0));
	show(t, 0, 20 * MS, &(struct view){ 1, '#', 100 }, 1);
	track_open(t, &track_hop, SECOND, open);
	assert_true(open[1] && !open[0] && !open[2]);
	assert_true(track_soon(t, &track_hop, SECOND));
	track_open(t, &track_hop, 10 * SECOND, open);
	assert_false(open[1]);                  /* long ago */
	show(t, SECOND, 20 * MS, &(struct view){ 1, '#', 100 }, 1);
	assert_int_equal(h.openings, 1);
	assert_int_equal(h.held, 1);
	show(t, 2 * SECOND, 20 * MS, &(struct view){ 1, '?', 0 }, 1);
	assert_int_equal(h.blind_us[1], 20 * MS);
	track_revisit(t, 10 * SECOND);
	track_open(t, &track_hop, 15 * SECOND, open);
	assert_true(open[1]);                   /* looks have become rarer */
	show(t, 12 * SECOND, 20 * MS, NULL, 0);
	track_open(t, &track_hop, 13 * SECOND, open);
	assert_false(open[1]);                  /* it went off */
	show(t, 13 * SECOND, 20 * MS, &(struct view){ 1, '#', 100 }, 1);
	assert_int_equal(h.openings, 2);
	assert_int_equal(h.held, 1);
	track_end(t);
	track_end(t);
	assert_int_equal(h.overs, 2);
	track_destroy(t);
	track_destroy(NULL);
}

/* A carrier that never goes off is handed out hour by hour, and loses no busy time. */
static void endless_overs_are_handed_out(void **state)
{
	static struct heard h;
	struct track_rules rules = { 0, 50 * MS, 10 * SECOND };
	struct track *t = track_create(&rules, &track_band, 1, note_over, note_touch, &h);
	(void)state;

	for (int i = 0; i < 9 * 100; i++)       /* two and a half hours */
		show(t, INT64_C(10) * i * SECOND, 20 * MS, &(struct view){ 3, '#', 100 }, 1);
	assert_int_equal(h.overs, 2);
	track_end(t);
	assert_int_equal(h.overs, 3);
	for (int i = 0; i < 2; i++)
		assert_in_range(h.over[i].last_us - h.over[i].first_us, TRACK_LONGEST_US,
				TRACK_LONGEST_US + INT64_C(10) * SECOND);
	assert_int_equal(h.over[0].busy_us + h.over[1].busy_us + h.over[2].busy_us, h.busy_us[3]);
	assert_int_equal(h.busy_us[3], 900 * 20 * MS);
	/* The next began unseen after the look that ended the one before. */
	assert_int_equal(h.over[0].after_us, -1);
	assert_int_equal(h.over[1].before_us, 10 * SECOND - 20 * MS);
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
		struct track *t = track_create(&rules, &track_band, 1, note_over, note_touch, &h);
		int64_t at = 0;
		for (int i = 0; i < 500; i++) {
			struct view v[CHANNELS];
			for (int c = 0; c < CHANNELS; c++)
				v[c] = (struct view){ c, "..##()|?x."[noise_between(&r, 0, 9)],
						      pow(10, noise_uniform(&r) * 3) };
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
		cmocka_unit_test(level_and_kind_are_of_many_looks),
		cmocka_unit_test(a_stronger_look_tells_more_but_not_all),
		cmocka_unit_test(bands_are_apart),
		cmocka_unit_test(level_bins),
		cmocka_unit_test(opened_and_held),
		cmocka_unit_test(endless_overs_are_handed_out),
		cmocka_unit_test(random_rows_add_up),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
