#include "tests/town_world.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/eventfd.h>
#include <unistd.h>

#include "daemon/calibrate/calibrate.h"
#include "daemon/calibrate/crystal_hunt.h"

/* The town's receiver, with troubles of its own. Samples are late now and then, as a dongle's are. */
struct spoilt {
	void       *town;
	struct freq deaf;               /* this tuning can't be had                          */
	bool        all_deaf;
	int         lost_at, lost_for;  /* from that tuning on so many fail                  */
	int         stop_at;            /* tunings; 0: is not stopped                        */
	int         tunes, reads, bell;
	volatile sig_atomic_t stop;
};

static int spoilt_tune(void *self, const struct tuning *to, struct fault *why)
{
	struct spoilt *s = self;
	int n = ++s->tunes;

	s->stop = s->stop_at && n >= s->stop_at;
	if (n >= s->lost_at && n < s->lost_at + s->lost_for)
		return fault_set(why, FAULT_RETRY, "spoilt: it vanished, plug it in again");
	if (s->all_deaf || to->centre.thirds == s->deaf.thirds) {
		fault_set(why, FAULT_RETRY, "spoilt: did not lock");
		return SOURCE_DEAF;
	}
	return source_town.tune(s->town, to, why);
}

static int spoilt_read(void *self, size_t n, struct block *out, struct fault *why)
{
	struct spoilt *s = self;

	return ++s->reads % 100 == 0 ? SOURCE_LATER : source_town.read(s->town, n, out, why);
}

static int spoilt_descriptor(void *self)
{
	const struct spoilt *s = self;

	return s->bell;
}

static void spoilt_rest(void *self, int64_t us)
{
	const struct spoilt *s = self;

	source_town.rest(s->town, us);
}

static const struct source_ops ops = {
	.name = "spoilt", .tune = spoilt_tune, .read = spoilt_read, .descriptor = spoilt_descriptor,
	.rest = spoilt_rest,
};

/* What is printed meanwhile; the test's own output goes where it went. */
static char *printed_by(const struct calibrate *c, int *result, struct fault *why)
{
	char *text = calloc(1, 20000);
	FILE *to = tmpfile();
	int before;

	assert_true(text && to);
	fflush(stdout);
	before = dup(STDOUT_FILENO);
	dup2(fileno(to), STDOUT_FILENO);
	*result = calibrate_run(c, why);
	fflush(stdout);
	dup2(before, STDOUT_FILENO);
	close(before);
	rewind(to);
	assert_true(fread(text, 1, 19999, to) < 19999);
	fclose(to);
	return text;
}

static const char *const few[] = { "weather", "fire", "marine-ship" };

static const struct {
	const char   *why;
	bool          all;              /* bands: all of the town's, or a few                */
	int           gains;            /* that the tuner has; 0: as the town's              */
	int           deaf_hop;         /* -1: none                                          */
	struct spoilt with;
	int           result;
	const char   *says;             /* on paper                                          */
	const char   *fault;            /* in the complaint                                  */
} runs[] = {
	{ "a good night, one part of the dial deaf, lost for three seconds", true, 0, 2,
	  { .lost_at = 300, .lost_for = 3 }, 0, "ppm = \"", NULL },
	{ "few bands, one of their hops deaf, a tuner of one gain", false, 1, 0, { .tunes = 0 }, -1,
	  "ppm = \"33.00 ppm\";\t# as before: not told\n  gain = \"29.7 dB\";\t# as before: the tuner has no two",
	  "the crystal's error can't be told: of " },
	{ "deaf everywhere", false, 0, -1, { .all_deaf = true }, -1, "", "spoilt: did not lock" },
	{ "lost for good", false, 0, -1, { .lost_at = 150, .lost_for = 1 << 30 }, -1, "", "spoilt: it vanished" },
	{ "stopped by hand", false, 0, -1, { .stop_at = 200 }, -1, "", "the calibration was stopped" },
};

static void run_one(const struct world *w, size_t k, const struct station *station, struct band *all, int n)
{
	struct spoilt s = runs[k].with;
	struct source_about about;
	struct progress none = { 0 };
	struct fault why = { 0 };
	struct hop_plan hops;
	struct band bands[3];
	int result, found = 0;

	s.town = open_town(NULL);
	s.bell = eventfd(1, 0);
	source_town.about(s.town, &about);
	if (runs[k].gains)
		about.gains = (struct gain_steps){ .n = 1, .tenth_db = { 297 } };
	for (int i = 0; i < n; i++)
		for (int f = 0; f < 3; f++)
			if (strcmp(all[i].id, few[f]) == 0 && found < 3)
				bands[found++] = all[i];
	assert_int_equal(found, 3);
	struct calibrate c = {
		.on = { &ops, &s, &about, &hops, 20000, &s.stop, &none }, .station = station,
		.bands = runs[k].all ? all : bands, .n_bands = runs[k].all ? n : 3, .for_us = MIN_US,
	};
	assert_int_equal(hop_plan_sweep(&hops, c.bands, c.n_bands, RATE), 0);
	if (runs[k].deaf_hop >= 0)
		s.deaf = hops.hops[runs[k].deaf_hop].centre;
	char *text = printed_by(&c, &result, &why);
	if (result != runs[k].result || !strstr(text, runs[k].says) ||
	    (runs[k].fault && !strstr(why.text, runs[k].fault)))
		fail_msg("%s: %d, \"%s\"\n%s", runs[k].why, result, result ? why.text : "", text);
	const char *ppm = strstr(text, "it runs ");
	double told = ppm ? strtod(ppm + 8, NULL) : NAN;
	double truth = town_crystal_ppm(&w->town, station->warm_up_us + MIN_US / 2);
	/* As a hunt is asked for in test_crystal_hunt.c. */
	if (result == 0 && !(fabs(told - truth) < 0.5))
		fail_msg("%s: %.2f ppm, in truth %.2f", runs[k].why, told, truth);
	free(text);
	hop_plan_free(&hops);
	source_town.close(s.town);
	close(s.bell);
}

static void town_calibrates(void **state)
{
	const char *path = CONFIG_DIR "/harlow-ferry-night.conf";
	struct station station;
	struct fault why;
	struct band *bands;
	int n;

	assert_int_equal(station_read(path, &station, &why), 0);
	assert_int_equal(station_bands(&station, path, &bands, &n, &why), 0);
	for (size_t k = 0; k < sizeof runs / sizeof runs[0]; k++)
		run_one(*state, k, &station, bands, n);
	free(bands);
	station_free(&station);
}

static const struct {
	struct crystal_verdict verdict;
	const char *words;
} refusals[] = {
	{ { .word = CRYSTAL_TOLD }, "it is told" },
	{ { .word = CRYSTAL_TOO_FEW, .agree = 4 },
	  "of 9 steady carriers heard at most 4 keep to channels at any one error, must be 6" },
	{ { .word = CRYSTAL_ONE_BAND, .agree = 7, .ppm = -12.3, .bands = 1 },
	  "the 7 carriers that agree on -12.3 ppm are all of 1 band, must be of 2" },
	{ { .word = CRYSTAL_AMBIGUOUS, .ppm = 33.1, .rival_ppm = -20.4 },
	  "33.1 ppm and -20.4 ppm explain the 9 carriers nearly alike" },
	{ { .word = CRYSTAL_ROUGH, .ppm = 33.1, .error_ppm = 0.35 }, "it is about 33.1 ppm but only to +- 0.35, must be 0.20" },
};

static void refusals_name_what_is_missing(void **state)
{
	struct crystal_found *f = calloc(1, sizeof *f);
	char text[300];

	(void)state;
	assert_non_null(f);
	f->n = 9;
	for (size_t i = 0; i < sizeof refusals / sizeof refusals[0]; i++) {
		f->verdict = refusals[i].verdict;
		if (strncmp(crystal_refusal(f, text, sizeof text), refusals[i].words, strlen(refusals[i].words)) != 0)
			fail_msg("says \"%s\", not \"%s\"", text, refusals[i].words);
	}
	free(f);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(town_calibrates),
		cmocka_unit_test(refusals_name_what_is_missing),
	};

	return cmocka_run_group_tests(tests, world_build, world_drop);
}
