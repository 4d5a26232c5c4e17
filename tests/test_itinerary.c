/* What --check promises of a night, against a night of looks and overs played plainly. */
#include "tests/test.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "daemon/itinerary.h"
#include "tests/noise.h"

#define TRIES 40000

/* Ten bands far apart, each a hop: a sweep takes 0.33 s. */
#define HOPS 10

static const struct {
	const char *why;
	int64_t     rest_us, revisit_us;
	int         spell, sources;
	const char *says;               /* NULL: nothing special */
} cases[] = {
	{ "without rests", 0, 0, 1, 1, NULL },
	{ "a rest after each sweep", 5000000, 0, 1, 1, "after every 1 sweeps a rest of 5 s, which counts as not looked" },
	{ "a rest after each tenth", 20000000, 0, 10, 1, "after every 10 sweeps a rest of 20 s" },
	{ "two receivers", 0, 0, 1, 2, "receivers: 2, of up to 5 hops each" },
	{ "more than can be kept", 0, 100000, 1, 1, "a sweep takes 0.3 s, so that cannot be kept" },
};

static char *printed(const struct station *s, const struct band *bands, const struct hop_plan *hops,
		     const struct schedule_rules *rules, int sources)
{
	char *text = calloc(1, 8000);
	FILE *to = tmpfile();
	struct fault why;

	assert_true(text && to);
	fflush(stdout);
	int before = dup(STDOUT_FILENO);
	dup2(fileno(to), STDOUT_FILENO);
	int result = itinerary_print(s, bands, HOPS, hops, rules, sources, &why);
	fflush(stdout);
	dup2(before, STDOUT_FILENO);
	close(before);
	assert_int_equal(result, 0);
	rewind(to);
	assert_true(fread(text, 1, 7999, to) < 7999);
	fclose(to);
	return text;
}

/* Share of overs that last until the next look, begun at any time: looks sweep_s apart, after so many a rest. */
static double met_plainly(double mean_s, double sweep_s, double rest_s, int spell, struct noise *dice)
{
	double cycle = spell * sweep_s + rest_s;
	int met = 0;

	for (int i = 0; i < TRIES; i++) {
		double at = noise_uniform(dice) * cycle, last = (spell - 1) * sweep_s;
		double next = at > last ? cycle - at : ceil(at / sweep_s) * sweep_s - at;
		met += -mean_s * log(1 - noise_uniform(dice)) > next;
	}
	return (double)met / TRIES;
}

static double after(const char *text, const char *words)
{
	const char *at = strstr(text, words);

	if (!at)
		fail_msg("says nothing of \"%s\":\n%s", words, text);
	return strtod(at + strlen(words), NULL);
}

static void promises_are_kept(void **state)
{
	struct band bands[HOPS] = { 0 };
	struct noise dice = { .state = 20260418 };
	struct station s;
	struct fault why;
	struct hop_plan hops;

	(void)state;
	print_message("seed %d\n", 20260418);
	for (int i = 0; i < HOPS; i++)
		bands[i] = (struct band){ .id = "far", .service = "business", .mode = MODE_NFM, .width_hz = 11000,
					  .raster = { FREQ_KHZ(100000 + 10000 * i), { 37500 }, 10 } };
	assert_int_equal(station_read(NULL, &s, &why), 0);
	assert_int_equal(hop_plan_sweep(&hops, bands, HOPS, 2400000), 0);
	assert_int_equal(hops.n, HOPS);
	for (size_t k = 0; k < sizeof cases / sizeof cases[0]; k++) {
		/* Without parks and challenges: those come at times of their own. */
		const struct schedule_rules rules = { .look_us = 20000, .visit_us = 33000, .revisit_us = cases[k].revisit_us };
		double sweep_s = 33e-3 * HOPS / cases[k].sources, rest_s = (double)cases[k].rest_us * 1e-6;
		s.rest_us = cases[k].rest_us;
		s.sweeps_per_spell = cases[k].spell;
		char *text = printed(&s, bands, &hops, &rules, cases[k].sources);
		if (cases[k].says && !strstr(text, cases[k].says))
			fail_msg("%s: says nothing of \"%s\":\n%s", cases[k].why, cases[k].says, text);
		double every = after(text, "each channel is looked at every ");
		if (fabs(every - (sweep_s + rest_s / cases[k].spell)) > 0.051)
			fail_msg("%s: every %.1f s", cases[k].why, every);
		for (double mean = 2; mean <= 8; mean *= 2) {
			char words[20];
			snprintf(words, sizeof words, " %.0f s ", mean);
			double told = after(strstr(text, "chance to meet"), words) / 100;
			double is = met_plainly(mean, sweep_s, rest_s, cases[k].spell, &dice);
			/* Half a per cent of rounding, and four sigma of so many tries at most 1 %. */
			if (fabs(told - is) > 0.015)
				fail_msg("%s: overs of %.0f s: %.2f, by play %.3f", cases[k].why, mean, told, is);
		}
		free(text);
	}
	hop_plan_free(&hops);
	station_free(&s);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(promises_are_kept),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
