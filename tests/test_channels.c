#include "tests/test.h"

#include <stdbool.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "store/bandplan.h"

/* Published channels against the band plans that come with the program: what lies
 * in a band must be hit by its raster to the third of a hertz.
 *
 * tests/data/channels.csv carries each with its source and grade: "read" was seen
 * in the document named, "computed" follows from a rule that read values confirm
 * (the rules are tested below), "memory" was not looked up: such a row is told
 * about and fails nothing. */

#define CHANNELS 600

struct channel {
	char        service[24], region[12], name[24], grade[12], source[80];
	struct freq at;
};

struct table {
	struct channel *rows;
	int             n;
	struct bandplan america, europe;
};

static char *data_path(char out[1024], const char *name)
{
	snprintf(out, 1024, "%s/%s", SOURCE_ROOT, name);
	return out;
}

static int split(char *line, struct channel *c)
{
	char *part[7], *rest = line;

	line[strcspn(line, "\r\n")] = '\0';
	for (int i = 0; i < 7; i++)
		if (!(part[i] = strsep(&rest, ",")))
			return -1;
	snprintf(c->service, sizeof c->service, "%s", part[0]);
	snprintf(c->region, sizeof c->region, "%s", part[1]);
	snprintf(c->name, sizeof c->name, "%s", part[2]);
	snprintf(c->grade, sizeof c->grade, "%s", part[5]);
	snprintf(c->source, sizeof c->source, "%s", part[6]);
	return rest ? -1 : freq_parse(part[3], &c->at);
}

static int set_up(void **state)
{
	struct table *t = calloc(1, sizeof *t);
	struct fault why = { 0 };
	char line[256], path[1024];

	assert_non_null(t);
	t->rows = calloc(CHANNELS, sizeof *t->rows);
	assert_non_null(t->rows);
	FILE *f = fopen(data_path(path, "tests/data/channels.csv"), "r");
	if (!f || !fgets(line, sizeof line, f))
		fail_msg("%s: can't be read", path);
	while (fgets(line, sizeof line, f)) {
		assert_true(t->n < CHANNELS);
		if (split(line, &t->rows[t->n++]) < 0)
			fail_msg("%s:%d: is no channel", path, t->n + 1);
	}
	fclose(f);
	if (bandplan_read(data_path(path, "config/bands-north-america.conf"), &t->america, &why) < 0 ||
	    bandplan_read(data_path(path, "config/bands-europe.conf"), &t->europe, &why) < 0)
		fail_msg("%s", why.text);
	*state = t;
	return 0;
}

static int tear_down(void **state)
{
	struct table *t = *state;

	bandplan_free(&t->america);
	bandplan_free(&t->europe);
	free(t->rows);
	free(t);
	return 0;
}

/* The band whose first to last centre holds f; NULL: none. */
static const struct band *band_of(const struct bandplan *p, struct freq f)
{
	for (int i = 0; i < p->n_bands; i++)
		if (f.thirds >= p->bands[i].raster.first.thirds &&
		    f.thirds <= raster_last(&p->bands[i].raster).thirds)
			return &p->bands[i];
	return NULL;
}

/* Which plan must hold what, in a band of which service. Missing pairs are not
 * asked: a service that is not at home in that part of the world. */
static const struct {
	const char *service, *region;
	bool        america;
	const char *band_service;
} homes[] = {
	{ "weather radio",         "US/CA", true,  "weather" },
	{ "FRS",                   "US",    true,  "personal" },
	{ "GMRS main",             "US",    true,  "personal" },
	{ "GMRS repeater input",   "US",    true,  "personal" },
	{ "GMRS 462 interstitial", "US",    true,  "personal" },
	{ "GMRS 467 interstitial", "US",    true,  "personal" },
	{ "MURS",                  "US",    true,  NULL },      /* 4 and 5 live among business */
	{ "marine",                "US",    true,  "marine" },
	{ "marine",                "ITU",   true,  "marine" },
	{ "marine",                "ITU",   false, "marine" },
	{ "marine ship tx",        "ITU",   true,  "marine" },
	{ "marine ship tx",        "ITU",   false, "marine" },
	{ "marine coast tx",       "ITU",   false, "marine" },
	{ "marine AIS",            "ITU",   true,  "marine" },
	{ "marine AIS",            "ITU",   false, "marine" },
	{ "airband 25 kHz",        "ICAO",  true,  "air" },
	{ "airband 25 kHz",        "ICAO",  false, "air" },
	{ "airband 8.33 kHz",      "ICAO",  false, "air" },
	{ "railroad",              "US/CA", true,  NULL },      /* 2 to 4 live among business */
	{ "PMR446 analogue",       "CEPT",  false, "personal" },
	{ "FM broadcast",          "US",    true,  "broadcast" },
	{ "FM broadcast",          "US",    false, "broadcast" },
};

static void published_channels_are_hit_exactly(void **state)
{
	const struct table *t = *state;
	int hit = 0, told = 0;

	for (size_t h = 0; h < sizeof homes / sizeof homes[0]; h++) {
		const struct bandplan *plan = homes[h].america ? &t->america : &t->europe;
		int rows = 0;
		for (int i = 0; i < t->n; i++) {
			const struct channel *c = &t->rows[i];
			char mhz[FREQ_TEXT];
			if (strcmp(c->service, homes[h].service) != 0 || strcmp(c->region, homes[h].region) != 0)
				continue;
			rows++;
			const struct band *b = band_of(plan, c->at);
			int32_t n = b ? raster_nearest(&b->raster, c->at) : -1;
			bool good = n >= 0 && raster_centre(&b->raster, n).thirds == c->at.thirds &&
				    (!homes[h].band_service || strcmp(b->service, homes[h].band_service) == 0);
			hit += good;
			if (good)
				continue;
			freq_format_mhz(mhz, c->at);
			if (strcmp(c->grade, "memory") != 0)
				fail_msg("%s: %s %s, %s MHz (%s, %s), is in %s and not hit", plan->name,
					 c->service, c->name, mhz, c->source, c->grade, b ? b->id : "no band");
			printf("%s: %s %s, %s MHz expected from %s, unverified: not hit\n", plan->name,
			       c->service, c->name, mhz, c->source);
			told++;
		}
		if (rows == 0)
			fail_msg("no rows of %s, %s", homes[h].service, homes[h].region);
	}
	if (hit < 500)
		fail_msg("only %d channels hit, %d told", hit, told);
}

/* A row that lies in a band of its own part of the world is hit or is one of these. */
static const struct {
	const char *service;
	bool        america;
	const char *why;
} exceptions[] = {
	{ "marine coast tx",     true,  "the railroads have that stretch in North America" },
	{ "airband 8.33 kHz",    true,  "25 kHz channels in North America" },
	{ "PMR446 digital 6.25", false, "between the analogue channels, and digital" },
};

static bool at_home(const struct channel *c, bool america)
{
	bool everywhere = strcmp(c->region, "ITU") == 0 || strcmp(c->region, "ICAO") == 0;

	return everywhere || (strcmp(c->region, "CEPT") != 0) == america;
}

static void nothing_else_lies_between_channels(void **state)
{
	const struct table *t = *state;
	int excused[sizeof exceptions / sizeof exceptions[0]] = { 0 };

	for (int i = 0; i < 2 * t->n; i++) {
		const struct channel *c = &t->rows[i / 2];
		bool america = i % 2;
		const struct band *b = band_of(america ? &t->america : &t->europe, c->at);
		if (!b || !at_home(c, america) || strcmp(c->grade, "memory") == 0)
			continue;
		if ((c->at.thirds - b->raster.first.thirds) % b->raster.step.thirds == 0)
			continue;
		size_t e = 0;
		while (e < sizeof exceptions / sizeof exceptions[0] &&
		       (strcmp(exceptions[e].service, c->service) != 0 || exceptions[e].america != america))
			e++;
		if (e == sizeof exceptions / sizeof exceptions[0])
			fail_msg("%s %s lies between the channels of %s", c->service, c->name, b->id);
		excused[e]++;
	}
	for (size_t e = 0; e < sizeof exceptions / sizeof exceptions[0]; e++)
		if (!excused[e])
			fail_msg("no need to except %s: %s", exceptions[e].service, exceptions[e].why);
}

/* ---- the rules that "computed" rows follow ---- */

/* What a handset shows, in kilohertz, and where that is on the air, in thirds of a
 * hertz; -1: no such channel. ICAO Annex 10 Volume V, table 4-1(bis), by its rule. */
static int64_t air_thirds(int khz)
{
	static const int64_t beyond[25] = { [5] = 0, [10] = 25000, [15] = 50000 };
	int q = khz % 25;

	if (q != 0 && q != 5 && q != 10 && q != 15)
		return -1;
	return INT64_C(3000) * (khz - q) + beyond[q];
}

static void names_of_air_channels_follow_the_rule(void **state)
{
	const struct table *t = *state;
	int seen = 0;

	for (int i = 0; i < t->n; i++) {
		const struct channel *c = &t->rows[i];
		int mhz, khz;
		if (strncmp(c->service, "airband", 7) != 0)
			continue;
		if (sscanf(c->name, "%3d.%3d", &mhz, &khz) != 2)
			fail_msg("%s is no name of an air channel", c->name);
		if (air_thirds(mhz * 1000 + khz) != c->at.thirds)
			fail_msg("%s: %lld thirds", c->name, (long long)c->at.thirds);
		seen++;
	}
	assert_true(seen >= 80);
	assert_int_equal(air_thirds(118020), -1);

	/* 760 channels of 25 kHz and 2280 of 8.33 kHz, READ; 19 MHz by each step, COMPUTED. */
	int wide = 0, narrow = 0;
	for (int khz = 118000; khz < 137000; khz += 5) {
		wide += khz % 25 == 0;
		narrow += khz % 25 != 0 && air_thirds(khz) >= 0;
	}
	assert_int_equal(wide, 760);
	assert_int_equal(narrow, 2280);
}

/* f = at + step * (n - from) for the channels from .. to, with what must be added for
 * the coast side. Anchors READ: 16, 70, 67, 88 (47 CFR 80.364); 7, 40, 97 (AAR). */
static const struct {
	const char *service;
	int         from, to;
	int64_t     at_hz, step_hz;
} rules[] = {
	{ "FM broadcast",     200, 300,  87900000, 200000 },
	{ "railroad",           5,  97, 160185000,  15000 },
	{ "marine ship tx",     1,  28, 156050000,  50000 },
	{ "marine ship tx",    60,  88, 156025000,  50000 },
	{ "marine coast tx",    1,  28, 160650000,  50000 },
	{ "marine coast tx",   60,  88, 160625000,  50000 },
	{ "marine",             1,  28, 156050000,  50000 },
	{ "marine",            60,  88, 156025000,  50000 },
	{ "PMR446 analogue",    1,  16, 446006250,  12500 },
	{ "FRS",                1,   7, 462562500,  25000 },
	{ "FRS",                8,  14, 467562500,  25000 },
	{ "FRS",               15,  22, 462550000,  25000 },
};

static void numbered_channels_follow_their_rules(void **state)
{
	const struct table *t = *state;

	for (size_t r = 0; r < sizeof rules / sizeof rules[0]; r++) {
		int seen = 0;
		for (int i = 0; i < t->n; i++) {
			const struct channel *c = &t->rows[i];
			int n = atoi(c->name);
			if (strcmp(c->service, rules[r].service) != 0 || n < rules[r].from || n > rules[r].to)
				continue;
			seen++;
			if (c->at.thirds != 3 * (rules[r].at_hz + rules[r].step_hz * (n - rules[r].from)))
				fail_msg("%s %s: %lld thirds", c->service, c->name, (long long)c->at.thirds);
		}
		if (!seen)
			fail_msg("no %s from %d to %d", rules[r].service, rules[r].from, rules[r].to);
	}
}

static void every_row_has_a_grade(void **state)
{
	const struct table *t = *state;

	for (int i = 0; i < t->n; i++) {
		const struct channel *c = &t->rows[i];
		if (strcmp(c->grade, "read") != 0 && strcmp(c->grade, "computed") != 0 &&
		    strcmp(c->grade, "memory") != 0)
			fail_msg("%s %s: grade \"%s\"", c->service, c->name, c->grade);
		if (!c->source[0])
			fail_msg("%s %s: no source", c->service, c->name);
	}
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(every_row_has_a_grade),
		cmocka_unit_test(published_channels_are_hit_exactly),
		cmocka_unit_test(nothing_else_lies_between_channels),
		cmocka_unit_test(names_of_air_channels_follow_the_rule),
		cmocka_unit_test(numbered_channels_follow_their_rules),
	};
	return cmocka_run_group_tests(tests, set_up, tear_down);
}
