#include "tests/survey_place.h"
#include "tests/town_world.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "daemon/calibrate/baseline.h"
#include "store/baseline.h"

static void told_and_read(void **state)
{
	static const char *const wrong[] = {
		"", "mirrors 118.2 MHz", "-61.2 dBFS", "x dBFS in 98 % of looks at 29.7 dB of gain, at 1 MHz",
		"-61.2 dBFS in 98 % of looks at 29.7 dB of gain, at 144.0047 MHz and more",
	};
	struct baseline_line put = { -61.2, 0.98, 29.7, 144.0047 }, got = { 0 };
	char text[200];

	(void)state;
	assert_string_equal(baseline_tell(&put, text, sizeof text),
			    "-61.2 dBFS in 98 % of looks at 29.7 dB of gain, at 144.0047 MHz");
	assert_int_equal(baseline_read(text, &got), 0);
	assert_true(fabs(got.dbfs - put.dbfs) < 0.01 && fabs(got.share - put.share) < 0.001 &&
		    fabs(got.gain_db - put.gain_db) < 0.01 && fabs(got.mhz - put.mhz) < 1e-6);
	for (size_t i = 0; i < sizeof wrong / sizeof wrong[0]; i++) {
		struct baseline_line same = { 1, 2, 3, 4 };
		if (baseline_read(wrong[i], &same) == 0 || same.dbfs != 1)
			fail_msg("\"%s\" was taken", wrong[i]);
	}
}

static void floor_told_and_read(void **state)
{
	static const char *const wrong[] = {
		"", "mirrors 118.2 MHz", "-61.2 dBFS in 98 % of looks at 29.7 dB of gain, at 1 MHz",
		"-61.2 dBFS of noise in x looks at 29.7 dB of gain", "-61.2 dBFS of noise in 9 looks at 29.7 dB of gain!",
	};
	struct baseline_floor put = { -78.31, 120, 29.7 }, got = { 0 };
	char text[200];

	(void)state;
	assert_string_equal(baseline_floor_tell(&put, text, sizeof text),
			    "-78.31 dBFS of noise in 120 looks at 29.7 dB of gain");
	assert_int_equal(baseline_floor_read(text, &got), 0);
	assert_true(fabs(got.dbfs - put.dbfs) < 1e-9 && got.looks == 120 && fabs(got.gain_db - put.gain_db) < 1e-9);
	for (size_t i = 0; i < sizeof wrong / sizeof wrong[0]; i++) {
		struct baseline_floor same = { 1, 2, 3 };
		if (baseline_floor_read(wrong[i], &same) == 0 || same.dbfs != 1)
			fail_msg("\"%s\" was taken", wrong[i]);
	}
}

/* The town without its antenna: exactly what its dongle makes itself, each on the
 * channel where a survey at the same correction hears it. */
static void town_without_antenna(void **state)
{
	const struct place *p = *state;
	struct station station;
	struct fault why = { 0 };
	struct band *bands;
	struct source_about about;
	struct progress progress = { 0 };
	volatile sig_atomic_t stop = 0;
	struct source_request q = { .arg = CONFIG_DIR "/harlow-ferry.conf", .seed = SEED,
				    .antenna_off = true };
	void *s = source_town.open(&q, &why);
	char text[64], sql[300];
	void *world;
	int internal = 0;

	assert_non_null(s);
	assert_int_equal(world_build(&world), 0);
	const struct town *town = &((struct world *)world)->town;
	source_town.about(s, &about);
	assert_int_equal(station_read(CONFIG_DIR "/harlow-ferry-night.conf", &station, &why), 0);
	struct baseline b = { .station = &station, .ppm = 33, .for_us = MIN_US };
	struct hop_plan hops;
	assert_int_equal(station_bands(&station, CONFIG_DIR "/harlow-ferry-night.conf", &bands, &b.n_bands,
				       &why), 0);
	assert_int_equal(hop_plan_sweep(&hops, bands, b.n_bands, RATE), 0);
	b.on = (struct listening_wants){ &source_town, s, &about, &hops, 20000, &stop, &progress };
	b.bands = bands;
	struct run_row run = { .start_us = about.start_us, .rate_hz = RATE, .ppm = 33 };
	b.survey = survey_write(p->path, &run, bands, b.n_bands, &why);
	assert_non_null(b.survey);
	b.run = run.id;
	source_town.rest(s, 120 * MIN_US);
	if (baseline_run(&b, &why) < 0)
		fail_msg("%s", why.text);
	survey_close(b.survey);
	for (int i = 0; i < town->n_emitters; i++) {
		const struct emitter *e = &town->emitters[i];
		if (e->role != SENDER_BIRDIE)
			continue;
		/* Where it is shown: it goes with the correction. */
		snprintf(sql, sizeof sql, "SELECT count(*) FROM artefact WHERE cause='antenna off' AND "
			 "text LIKE '%%at %.3f%%'", floor(freq_to_hz(e->frequency) * (1 + 33e-6) / 1e3) / 1e3);
		ask(p->path, sql, text);
		if (strtol(text, NULL, 10) < 1)
			fail_msg("%s is not in it", e->name);
		internal += (int)strtol(text, NULL, 10);
	}
	ask(p->path, "SELECT count(*) FROM artefact WHERE cause='antenna off'", text);
	if (strtol(text, NULL, 10) != internal)
		fail_msg("%s lines, of which %d are the dongle's", text, internal);
	/* The noise of each band, which is the converter's and the tuner's alone. */
	snprintf(sql, sizeof sql, "SELECT count(DISTINCT band) = %d AND count(*) = %d FROM artefact WHERE "
		 "cause='floor off' AND text LIKE '-%% dBFS of noise in %% looks at %% dB of gain'", b.n_bands, b.n_bands);
	ask(p->path, sql, text);
	assert_string_equal(text, "1");
	ask(p->path, "SELECT count(*) FROM incident WHERE what='antenna off' AND until_us > at_us", text);
	assert_string_equal(text, "1");
	source_town.close(s);
	hop_plan_free(&hops);
	station_free(&station);
	free(bands);
	world_drop(&world);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(told_and_read),
		cmocka_unit_test(floor_told_and_read),
		cmocka_unit_test_setup_teardown(town_without_antenna, make_place, remove_place),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
