#include "tests/test.h"

#include <string.h>

#include "tests/survey_place.h"

/* ---- what goes in comes out ---- */

#define SAME(member) assert_int_equal(got->member, put->member)
#define SAME_TEXT(member) assert_string_equal(got->member, put->member)

static void same_run(const struct run_row *got, const struct run_row *put)
{
	SAME(id); SAME(start_us); SAME(end_us); SAME(rate_hz); SAME(gain_ddb); SAME(dwell_us);
	SAME_TEXT(station); SAME_TEXT(source); SAME_TEXT(version);
	assert_float_equal(got->ppm, put->ppm, 1e-9);
	assert_float_equal(got->pfa, put->pfa, 1e-18);
	assert_float_equal(got->margin_db, put->margin_db, 1e-9);
}

static void same_activity(const struct activity_row *got, const struct activity_row *put)
{
	SAME(run); SAME(hour); SAME(band); SAME(channel); SAME(busy_looks); SAME(busy_us);
	SAME(openings); SAME(held); SAME(blind_looks); SAME(blind_us);
	assert_memory_equal(got->level, put->level, sizeof put->level);
	assert_memory_equal(got->level_looks, put->level_looks, sizeof put->level_looks);
}

static void same_transmission(const struct transmission_row *got, const struct transmission_row *put)
{
	SAME(run); SAME(band); SAME(channel); SAME(first_us); SAME(last_us); SAME(before_us);
	SAME(after_us); SAME(busy_us); SAME(looks); SAME(level_ddb); SAME(peak_ddb); SAME(floor_ddb);
	SAME(offset_hz); SAME(width_hz); SAME(kind); SAME(confidence); SAME(tone_ddhz);
	SAME(heard_ms); SAME(occupied_hz); SAME(down26_hz); SAME(deviation_hz); SAME(depth_pm);
	SAME(below); SAME(code);
}

static void same_rest(const struct world_seen *w, const struct world_rows *rows)
{
	{
		const struct coverage_row *got = &w->coverage[0], *put = &rows->coverage;
		SAME(run); SAME(hour); SAME(band); SAME(first); SAME(count); SAME(looks); SAME(pairs);
		SAME(looked_us); SAME(clipped); SAME(floor_ddb_sum); SAME(floor_low_ddb);
		SAME(floor_high_ddb);
	}
	{
		const struct incident_row *got = &w->incident[0], *put = &rows->incident;
		SAME(run); SAME(at_us); SAME(until_us); SAME_TEXT(what); SAME_TEXT(text);
	}
	{
		const struct artefact_row *got = &w->artefact[0], *put = &rows->artefact;
		SAME(run); SAME(at_us); SAME(band); SAME(channel); SAME_TEXT(cause); SAME_TEXT(text);
	}
	{
		const struct parked_row *got = &w->parked[0], *put = &rows->parked;
		SAME(run); SAME(hour); SAME(band); SAME(first); SAME(count); SAME(parks); SAME(parked_us);
	}
	{
		const struct strip_row *got = &w->strip[0], *put = &rows->strip;
		SAME(run); SAME(band); SAME(start_us); SAME(cell_us); SAME(cells);
		assert_int_equal(w->strip_bytes, put->packed.n);
		assert_int_equal(w->text_bytes, strlen(rows->setting.text));
	}
}

static void round_trip(void **state)
{
	const struct place *p = *state;
	struct fault why = { 0 };
	struct run_row run = world_run();
	struct survey *s = must_write(p->path, &run);
	struct world_rows rows = world_rows(run.id, 3);
	const struct band *bands;

	assert_int_equal(world_write(s, &rows, &why), 0);
	assert_int_equal(survey_begin(s, &why), 0);
	assert_int_equal(survey_end_run(s, run.id, 9 * HOUR_US, &why), 0);
	assert_int_equal(survey_end_run(s, run.id + 1, 9 * HOUR_US, &why), -1);
	assert_int_equal(survey_commit(s, &why), 0);
	survey_close(s);
	run.end_us = 9 * HOUR_US;

	struct world_seen w = see_all(p->path);
	assert_int_equal(w.n_run, 1);
	same_run(&w.run[0], &run);
	same_activity(&w.activity[0], &rows.activity);
	same_transmission(&w.transmission[0], &rows.transmission);
	same_rest(&w, &rows);

	s = must_read(p->path);
	assert_int_equal(survey_bands(s, &bands), WORLD_BANDS);
	for (int i = 0; i < WORLD_BANDS; i++) {
		const struct band *got = &bands[i], *put = &world_bands[i];
		SAME_TEXT(id); SAME_TEXT(name); SAME_TEXT(service); SAME(mode); SAME(width_hz);
		SAME(raster.first.thirds); SAME(raster.step.thirds); SAME(raster.count);
		for (int k = 0; k < BAND_SPLITS; k++)
			SAME(split[k].thirds);
	}
	survey_close(s);
}

static void every_kind_and_mode(void **state)
{
	const struct place *p = *state;
	struct fault why = { 0 };
	struct run_row run = world_run();
	struct survey *s = must_write(p->path, &run);

	for (int k = 0; k < KIND_COUNT; k++) {
		struct world_rows rows = world_rows(run.id, k);
		rows.transmission.kind = (enum kind)k;
		assert_int_equal(world_write(s, &rows, &why), 0);
	}
	survey_close(s);
	struct world_seen w = see_all(p->path);
	assert_int_equal(w.n_transmission, KIND_COUNT);
	for (int k = 0; k < KIND_COUNT; k++)
		assert_int_equal(w.transmission[k].kind, k);
}

static void coverage_and_activity_add_up(void **state)
{
	const struct place *p = *state;

	write_survey(p->path, 5);
	struct world_seen w = see_all(p->path);
	assert_int_equal(w.n_coverage, 1);
	assert_int_equal(w.coverage[0].looks, 100 + 101 + 102 + 103 + 104);
	assert_int_equal(w.coverage[0].pairs, 5 * 90);
	assert_int_equal(w.coverage[0].looked_us, 5 * INT64_C(3000000000));
	assert_int_equal(w.coverage[0].clipped, 5 * 2);
	assert_int_equal(w.coverage[0].floor_ddb_sum, 5 * -61400);
	assert_int_equal(w.n_activity, 1);
	const struct activity_row *a = &w.activity[0];
	assert_int_equal(a->busy_looks, 5 * 9);
	assert_int_equal(a->busy_us, 5 * 270000);
	assert_int_equal(a->openings, 5 * 2);
	assert_int_equal(a->held, 5 * 7);
	assert_int_equal(a->blind_looks, 5 * 3);
	assert_int_equal(a->blind_us, 5 * 90000);
	assert_int_equal(a->level[0], 5);
	assert_int_equal(a->level[17], 5 * 260000 + 0 + 1 + 2 + 3 + 4);
	assert_int_equal(a->level_looks[17], 5 * 7);
	assert_int_equal(a->level[LEVEL_BINS - 1], 5 * INT64_C(3600000000));
	assert_int_equal(w.n_transmission, 5);

	/* Another night is another run: its rows are its own. */
	write_survey(p->path, 1);
	w = see_all(p->path);
	assert_int_equal(w.n_run, 2);
	assert_int_equal(w.n_coverage, 2);
	assert_int_equal(w.n_activity, 2);
	assert_int_equal(w.n_transmission, 6);
	assert_int_equal(w.activity[1].level[17], 260000);
}

static int not_after(int64_t *last, int64_t key)
{
	int wrong = key < *last;

	*last = key;
	return wrong;
}

struct order { int64_t transmission, coverage; int seen; };

static int see_transmission(void *self, const struct transmission_row *r)
{
	struct order *o = self;

	o->seen++;
	return not_after(&o->transmission, (r->band * INT64_C(1000) + r->channel) * 100 * HOUR_US + r->first_us);
}

static int see_two(void *self, const struct transmission_row *r)
{
	(void)r;
	return ++((struct order *)self)->seen == 2 ? 77 : 0;
}

static void walks_are_in_order_and_can_stop(void **state)
{
	const struct place *p = *state;
	struct fault why = { 0 };
	struct run_row run = world_run();
	struct survey *s = must_write(p->path, &run);
	struct order o = { 0 };

	for (int i = 0; i < 60; i++) {
		struct world_rows rows = world_rows(run.id, (i * 37) % 60);
		rows.transmission.band = i % 2;
		assert_int_equal(world_write(s, &rows, &why), 0);
	}
	assert_int_equal(survey_each_transmission(s, see_transmission, &o, &why), 0);
	assert_int_equal(o.seen, 60);
	survey_close(s);
	s = must_read(p->path);
	o.seen = 0;
	assert_int_equal(survey_each_transmission(s, see_two, &o, &why), 77);
	assert_int_equal(o.seen, 2);
	o = (struct order){ 0 };
	assert_int_equal(survey_each_transmission(s, see_transmission, &o, &why), 0);
	assert_int_equal(o.seen, 60);
	survey_close(s);
}

static void it_says_what_it_is(void **state)
{
	static const struct { const char *sql, *answer; } cases[] = {
		{ "PRAGMA application_id", "1111715443" },
		{ "PRAGMA user_version", "5" },
		{ "PRAGMA integrity_check", "ok" },
		{ "PRAGMA foreign_key_check", "" },
		{ "SELECT count(*) FROM pragma_table_list WHERE type='table' AND NOT strict"
		  " AND name NOT LIKE 'sqlite_%'", "0" },
		{ "SELECT kind FROM transmission", "nfm" },
		{ "SELECT mode FROM band WHERE id='air'", "AM" },
		{ "SELECT split_thirds FROM band WHERE id='works'", "1800000 -1800000 25000" },
	};
	const struct place *p = *state;
	char out[64];

	write_survey(p->path, 1);
	for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
		ask(p->path, cases[i].sql, out);
		if (strcmp(out, cases[i].answer) != 0)
			fail_msg("%s: %s, not %s", cases[i].sql, out, cases[i].answer);
	}
}

#define TEST(name) cmocka_unit_test_setup_teardown(name, make_place, remove_place)

int main(void)
{
	const struct CMUnitTest tests[] = {
		TEST(round_trip), TEST(every_kind_and_mode), TEST(coverage_and_activity_add_up),
		TEST(walks_are_in_order_and_can_stop), TEST(it_says_what_it_is),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
