/* What --check promises of a night, against a night of looks and overs played plainly, and against nights surveyed. */
#include "tests/test.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "daemon/growth.h"
#include "daemon/itinerary.h"
#include "tests/noise.h"

#define TRIES 40000
#define DAY_US (24 * HOUR_US)

/* Ten bands far apart, each a hop: a sweep takes 0.33 s. */
#define HOPS 10

static const struct {
	const char *why;
	int64_t     rest_us, revisit_us;
	int         spell, sources;
	const char *says;               /* NULL: nothing special */
} cases[] = {
	{ "without rests", 0, 0, 1, 1, NULL },
	{ "a rest after each sweep", 5000000, 0, 1, 1, "after 1 sweep a rest of 5 s, which counts as not looked" },
	{ "a rest after each tenth", 20000000, 0, 10, 1, "after 10 sweeps a rest of 20 s" },
	{ "two receivers", 0, 0, 1, 2, "receivers: 2, of up to 5 hops each" },
	{ "more than can be kept", 0, 100000, 1, 1, "a sweep takes 0.3 s, so that cannot be kept" },
};

static char *printed(const struct station *s, const struct band *bands, const struct hop_plan *hops,
		     const struct schedule_rules *rules, int sources)
{
	const struct timetable always = { .always = true };
	char *text = calloc(1, 8000);
	FILE *to = tmpfile();
	struct fault why;

	assert_true(text && to);
	fflush(stdout);
	int before = dup(STDOUT_FILENO);
	dup2(fileno(to), STDOUT_FILENO);
	int result = itinerary_print(s, &always, bands, HOPS, hops, rules, sources, &why);
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

/* kB of surveys of the town, and how it was looked at as --check foretells it: tests/bench/sizes.sh. */
static const struct {
	const char    *why;
	int            channels, spans;
	struct looking looked;
	int            nights, kb;
} surveyed[] = {
	{ "without rests", 12046, 105, { 1200, 0, 1 }, 1, 2744 },
	{ "rests of 20 s", 12046, 105, { 157, 157, 0.03 }, 1, 4173 },
	{ "rests of 90 s after three sweeps", 12046, 105, { 109, 36.4, 0.07 }, 1, 2080 },
	{ "three nights of these", 12046, 105, { 109, 36.4, 0.07 }, 3, 6144 },
	{ "rests of 300 s", 12046, 105, { 11.9, 11.9, 0 }, 1, 1056 },
	{ "rests of 1190 s", 12046, 105, { 3.02, 3.02, 0 }, 1, 516 },
	{ "three nights of these", 12046, 105, { 3.02, 3.02, 0 }, 3, 1454 },
	{ "air alone, rests of 1190 s", 2280, 10, { 3.02, 3.02, 0 }, 1, 98 },
	{ "air and marine, 90 s after three", 2354, 12, { 118, 39.3, 0.01 }, 1, 217 },
	{ "fire, police, ems and rescue", 796, 7, { 119, 39.8, 0.01 }, 1, 135 },
	{ "business", 3446, 17, { 118, 39.2, 0.01 }, 1, 520 },
};

/* Each within the factor promised; all together neither too large nor too small, and by no more than half. */
static void nights_grow_as_foretold(void **state)
{
	const int n = sizeof surveyed / sizeof surveyed[0];
	double sum = 0;

	(void)state;
	for (int i = 0; i < n; i++) {
		struct growth g = growth_of(surveyed[i].channels, surveyed[i].spans, &surveyed[i].looked);
		double kb = growth_bytes(&g, surveyed[i].nights, 12 * surveyed[i].nights) * 1e-3;
		double is = kb / surveyed[i].kb;
		print_message("%-34s %5.0f kB foretold, %5d kB: %.2f\n", surveyed[i].why, kb, surveyed[i].kb, is);
		if (!(is <= GROWTH_FACTOR && is >= 1.0 / GROWTH_FACTOR))
			fail_msg("%s: %.0f kB foretold, %d kB were", surveyed[i].why, kb, surveyed[i].kb);
		sum += log(is) / n;
	}
	if (!(fabs(sum) <= log(1.5)))
		fail_msg("all together by a factor of %.2f", exp(sum));
}

/* What is not looked at does not grow; more looks never make less; twice the channels are twice as much. */
static void growth_follows_the_looks(void **state)
{
	const struct looking never = { 0 };
	struct growth none = growth_of(6000, 50, &never), g = none;

	(void)state;
	assert_true(none.overs == 0 && none.strips > 0);
	for (double looks = 0.5; looks < 20000; looks *= 2) {
		const struct looking l = { looks, looks / 3, 1 - 1 / looks / 3 };
		struct growth more = growth_of(6000, 50, &l), wide = growth_of(12000, 100, &l);
		assert_true(more.overs > g.overs && more.accounts > g.accounts);
		assert_true(more.accounts < more.day_of_accounts);
		assert_true(fabs(wide.overs - 2 * more.overs) < 1e-6 * more.overs);
		assert_true(fabs(growth_bytes(&more, 2, 24) + growth_bytes(&more, 0, 0) -
				 2 * growth_bytes(&more, 1, 12)) < 1e-3);
		g = more;
	}
}

/* 365 nights are 52 weeks and a day. */
static void years_go_by_what_is_kept(void **state)
{
	const struct looking l = { 1000, 0, 1 };
	struct growth g = growth_of(12000, 100, &l);
	const struct keep all = { 0 }, longer = { .overs_us = 400 * DAY_US, .hours_us = 400 * DAY_US };
	const struct keep overs = { .overs_us = 73 * DAY_US }, hours = { .hours_us = 73 * DAY_US };
	double year = growth_year(&g, 7, 84, &all), nights = 365 * 12;

	(void)state;
	assert_true(fabs(year - growth_bytes(&g, 365, nights)) < 1);
	assert_true(fabs(growth_year(&g, 7, 84, &longer) - year) < 1);
	/* A fifth of the year is kept whole. */
	assert_true(fabs(year - growth_year(&g, 7, 84, &overs) - 0.8 * nights * g.overs) < 1);
	assert_true(fabs(year - growth_year(&g, 7, 84, &hours) -
			 0.8 * (nights * g.accounts - 365 * g.day_of_accounts)) < 1);
	/* One run that goes on all the week has days all the same. */
	assert_true(fabs(growth_year(&g, 1, 168, &all) - growth_year(&g, 1, 168, &hours) -
			 0.8 * 365 * (24 * g.accounts - g.day_of_accounts)) < 1);
}

/* The numbers after words: "2.2 MB (1.1 to 4.3)", in MB. */
static double size_after(const char *text, const char *words)
{
	const char *at = strstr(text, words);
	double is, least, most;
	char unit;

	if (!at || sscanf(at + strlen(words), "%lf %cB (%lf to %lf)", &is, &unit, &least, &most) != 4)
		fail_msg("no size after \"%s\":\n%s", words, text);
	/* Each is rounded to its last digit, of two at the least; least may have one. */
	assert_true(fabs(is / least / GROWTH_FACTOR - 1) < 0.11 && fabs(most / is / GROWTH_FACTOR - 1) < 0.06);
	return unit == 'G' ? is * 1000 : unit == 'M' ? is : is / 1000;
}

static void sizes_are_told(void **state)
{
	/* A sweep takes 0.33 s; a rest of 0.1 s parts no overs. */
	static const struct {
		int64_t        rest_us;
		int            spell;
		struct looking looked;
	} of[] = {
		{ 0, 1, { 3600 / 0.33, 0, 1 } },
		{ 100000, 1, { 3600 / 0.43, 0, 1 } },
		{ 1190000000, 1, { 3600 / 1190.33, 3600 / 1190.33, 0 } },
		{ 30000000, 100, { 3600 / 0.63, 3600 / 63.0, 32.67 / 63 } },
	};
	const struct schedule_rules rules = { .look_us = 20000, .visit_us = 33000 };
	struct band bands[HOPS] = { 0 };
	struct hop_plan hops;
	struct station s;
	struct fault why;

	(void)state;
	for (int i = 0; i < HOPS; i++)
		bands[i] = (struct band){ .id = "far", .service = "business", .mode = MODE_NFM, .width_hz = 11000,
					  .raster = { FREQ_KHZ(100000 + 10000 * i), { 37500 }, 100 } };
	assert_int_equal(station_read(NULL, &s, &why), 0);
	assert_int_equal(hop_plan_sweep(&hops, bands, HOPS, 2400000), 0);
	for (size_t k = 0; k < sizeof of / sizeof of[0]; k++) {
		s.rest_us = of[k].rest_us;
		s.sweeps_per_spell = of[k].spell;
		char *text = printed(&s, bands, &hops, &rules, 1);
		struct growth g = growth_of(100 * HOPS, hops.n_spans, &of[k].looked);
		double night = growth_bytes(&g, 1, 12) * 1e-6, week = growth_bytes(&g, 1, 168) * 1e-6;
		double year = growth_year(&g, 1, 168, &(struct keep){ 0 }) * 1e-6;      /* presets keep 400 d */
		/* Two digits are told. */
		assert_true(fabs(size_after(text, "survey: about ") / night - 1) < 0.06);
		assert_true(fabs(size_after(text, " hours, and ") / (night - g.start * 1e-6) - 1) < 0.06);
		assert_true(fabs(size_after(text, "168 hours a week: about ") / week - 1) < 0.06);
		assert_true(fabs(size_after(text, " a week, ") / year - 1) < 0.06);
		free(text);
	}
	hop_plan_free(&hops);
	station_free(&s);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(promises_are_kept),
		cmocka_unit_test(nights_grow_as_foretold),
		cmocka_unit_test(growth_follows_the_looks),
		cmocka_unit_test(years_go_by_what_is_kept),
		cmocka_unit_test(sizes_are_told),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
