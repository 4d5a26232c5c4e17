#include "tests/town_world.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

static void same_calls_same_bytes(void **state)
{
	void *a = open_town(NULL), *b = open_town(NULL);

	(void)state;
	for (int round = 0; round < 2; round++) {
		for (int k = 0; k < 3; k++) {
			tune_to(a, 162.0 + k, 33, 297);
			tune_to(b, 162.0 + k, 33, 297);
			struct block x = read_look(a, 10000), y = read_look(b, 10000);
			assert_int_equal(x.start_us, y.start_us);
			assert_memory_equal(x.iq, y.iq, 20000);
		}
		/* One goes back to the start, the other is a new one: the same night. */
		assert_int_equal(source_town.restart(a, NULL), 0);
		source_town.close(b);
		b = open_town(NULL);
	}
	source_town.close(a);
	source_town.close(b);
}

static void time_passes(void **state)
{
	void *s = open_town(NULL);
	struct source_about about;

	(void)state;
	source_town.about(s, &about);
	assert_true(about.virtual_clock && about.tunable);
	assert_int_equal(about.length_us, 12 * HOUR_US);
	assert_int_equal(about.retune_us, 15000);       /* retune = "15 ms" in its settings */
	tune_to(s, 162.0, 33, 297);
	struct block b = read_look(s, LOOK);
	assert_int_equal(b.start_us, about.start_us + 15000);   /* a retune takes 15 ms */
	assert_int_equal(b.mono_us, b.start_us);
	b = read_look(s, 100);
	assert_int_equal(b.start_us, about.start_us + 35000);
	source_town.rest(s, 1000000);
	b = read_look(s, 100);
	assert_int_equal(b.start_us, about.start_us + 1035041);
	source_town.close(s);
}

static void the_clock_is_stepped(void **state)
{
	void *s = open_town(NULL);
	struct source_about about;

	(void)state;
	source_town.about(s, &about);
	tune_to(s, 162.0, 33, 297);
	wait_until(s, 450 * MIN_US - 10000);
	struct block b = read_look(s, LOOK);
	assert_int_equal(b.start_us, b.mono_us);
	b = read_look(s, LOOK);
	assert_int_equal(b.mono_us, about.start_us + 450 * MIN_US + 10000);
	assert_int_equal(b.start_us, b.mono_us - 40000000);
	source_town.close(s);
}

static void the_dongle_drops_off(void **state)
{
	void *s = open_town(NULL);
	struct fault why = { 0 };
	struct block b;
	int lost = 0;

	(void)state;
	tune_to(s, 162.0, 33, 297);
	wait_until(s, 370 * MIN_US - 10000);
	assert_int_equal(source_town.read(s, LOOK, &b, &why),
			 SOURCE_FAULT);    /* in the middle of a look */
	assert_int_equal(why.kind, FAULT_RETRY);
	assert_non_null(strstr(why.text, "lost"));
	while (source_town.read(s, LOOK, &b, &why) == SOURCE_FAULT && lost < 1000) {
		source_town.rest(s, 10000000);
		lost++;
	}
	/* Four minutes in steps of 10 s and what the read took. */
	if (lost < 21 || lost > 24)
		fail_msg("%d faults in four minutes", lost);
	source_town.close(s);
}

static void the_night_ends(void **state)
{
	void *s = open_town(NULL);
	struct fault why;
	struct block b;

	(void)state;
	tune_to(s, 162.0, 33, 297);
	wait_until(s, 12 * HOUR_US - 5000);
	assert_int_equal(source_town.read(s, LOOK, &b, &why), SOURCE_BLOCK);
	assert_int_equal(b.n, 12000);
	assert_int_equal(source_town.read(s, LOOK, &b, &why), SOURCE_END);
	assert_int_equal(source_town.read(s, LOOK, &b, &why), SOURCE_END);
	source_town.close(s);
}

static void refused_tunings(void **state)
{
	static const struct {
		const char *why;
		double      mhz;
		int32_t     rate;
	} cases[] = {
		{ "too slow", 100, 225000 },
		{ "too fast", 100, 3200001 },
		{ "below the tuner", 20, RATE },
		{ "above it", 1800, RATE },
	};
	void *s = open_town(NULL);
	struct fault why;
	struct block b;

	(void)state;
	assert_int_equal(source_town.read(s, LOOK, &b, &why), SOURCE_FAULT);    /* not tuned yet */
	for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
		struct tuning t = { freq_from_hz(cases[i].mhz * 1e6), cases[i].rate, 0, 297 };
		if (source_town.tune(s, &t, &why) == 0 || why.kind != FAULT_INPUT)
			fail_msg("%s: was taken", cases[i].why);
	}
	source_town.close(s);
}

/* Carriers up, from the night itself. */
static int carriers(const struct world *w)
{
	int count = 0;

	for (int i = 0; i < w->town.n_emitters; i++) {
		int n;
		const struct over *o = night_overs(w->night, i, &n);
		for (int j = 0; j < n; j++)
			count += j == 0 || o[j - 1].end_us != o[j].start_us;
	}
	return count;
}

static void the_truth_is_told(void **state)
{
	struct world *w = *state;
	char path[] = "/tmp/bandcensus-truth-XXXXXX", line[512], hz[64];
	int fd = mkstemp(path), lines = 0, stepped = 0, air = 0;

	assert_true(fd >= 0);
	close(fd);
	source_town.close(open_town(path));
	FILE *f = fopen(path, "r");
	assert_non_null(f);
	while (fgets(line, sizeof line, f)) {
		long long start, mono;
		double level, snr;
		if (*line == '#' || strncmp(line, "name,", 5) == 0)
			continue;
		lines++;
		if (sscanf(line,
			   "%*[^,],%*[^,],%63[^,],%*[^,],%*[^,],%*f,%lld,%*d,%lld,%*d,%lf,%lf", hz,
			   &start, &mono,
			   &level, &snr) != 5)
			fail_msg("line %d of the truth: %s", lines, line);
		if (start != mono && start != mono - 40000000)
			fail_msg("stamped %lld at %lld", start, mono);
		stepped += start != mono;
		if (strcmp(hz, "121308333.333") == 0)
			air++;
	}
	fclose(f);
	unlink(path);
	assert_int_equal(lines, carriers(w));
	assert_true(stepped > 1000 && air > 100);
	/* A folder that is not there. */
	struct fault why;
	struct source_request q = { .arg = CONFIG_DIR "/harlow-ferry.conf", .seed = SEED,
				    .truth_path = "/nowhere/at/all.csv" };
	assert_null(source_town.open(&q, &why));
	assert_int_equal(why.kind, FAULT_INPUT);
	assert_non_null(strstr(why.text, "/nowhere/at/all.csv"));
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(same_calls_same_bytes),
		cmocka_unit_test(time_passes),
		cmocka_unit_test(the_clock_is_stepped),
		cmocka_unit_test(the_dongle_drops_off),
		cmocka_unit_test(the_night_ends),
		cmocka_unit_test(refused_tunings),
		cmocka_unit_test(the_truth_is_told),
	};
	return cmocka_run_group_tests(tests, world_build, world_drop);
}
