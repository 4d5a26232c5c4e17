#include "tests/town_world.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "store/bandplan.h"

/* An over of o that lasts all of [from, to]. */
static bool covered(const struct over *o, int n, int64_t from, int64_t to)
{
	int i = over_after(o, n, from);

	return i < n && o[i].start_us <= from && o[i].end_us >= to;
}


/* ---- the table ---- */

static void every_emitter_on_a_channel(void **state)
{
	struct world *w = *state;
	struct bandplan plan;
	struct fault why;
	char text[FREQ_TEXT];

	if (bandplan_read(CONFIG_DIR "/bands-harlow-ferry.conf", &plan, &why) < 0)
		fail_msg("%s", why.text);
	for (int i = 0; i < w->town.n_emitters; i++) {
		const struct emitter *e = &w->town.emitters[i];
		const struct band *home = NULL;
		if (e->role != SENDER_EMITTER)
			continue;
		for (int b = 0; b < plan.n_bands; b++) {
			const struct raster *r = &plan.bands[b].raster;
			int32_t c = raster_nearest(r, e->frequency);
			if (c >= 0 && raster_centre(r, c).thirds == e->frequency.thirds)
				home = &plan.bands[b];
		}
		if (!home)
			fail_msg("%s on %s is on no channel", e->name,
				 freq_format(text, e->frequency));
		if ((int)home->mode != e->mode)
			fail_msg("%s is %s in band %s", e->name, mode_name((enum mode)e->mode),
				 home->id);
		if (home->raster.step.thirds != e->step.thirds)
			fail_msg("%s: its step is not that of band %s", e->name, home->id);
	}
	assert_int_equal(plan.n_never, 2);
	bandplan_free(&plan);
}

/* The rest of an emitter, and of a town, is good. */
#define SOMEBODY "emitters = ( { name = \"A\"; service = \"fire\"; frequency = \"150 MHz\"; " \
		 "level = \"-90 dBm\"; "
#define HAPPENS  "emitters = ( ); events = ( { "

static const struct {
	const char *why, *line, *says;
} bad_towns[] = {
	{ "an input of nobody", SOMEBODY "input_of = \"B\"; } );", ":6: \"B\" is not an emitter" },
	{ "hours that are none", SOMEBODY "continuous = true; busy = \"7-25\"; } );",
	  ":6: busy is \"7-25\"" },
	{ "never on", SOMEBODY "} );", ":6: \"A\" is never on" },
	{ "an event that ends before it begins",
	  HAPPENS "what = \"lost\"; from = \"23:00\"; until = \"22:00\"; } );",
	  ":6: until is \"22:00\"" },
	{ "a time that is none", HAPPENS "what = \"lost\"; from = \"24:00\"; } );",
	  ":6: from \"24:00\"" },
	{ "an event of nobody",
	  HAPPENS "what = \"over\"; emitter = \"A\"; from = \"21:00\"; until = \"22:00\"; } );",
	  ":6: emitter is \"A\"" },
};

static void refused_towns(void **state)
{
	char path[] = "/tmp/bandcensus-town-XXXXXX";
	int fd = mkstemp(path);

	(void)state;
	assert_true(fd >= 0);
	close(fd);
	for (size_t i = 0; i < sizeof bad_towns / sizeof bad_towns[0]; i++) {
		struct fault why = { 0 };
		struct town t;
		FILE *f = fopen(path, "w");
		assert_non_null(f);
		fprintf(f, "kind = \"town\";\nname = \"x\";\nstart = \"2026-02-17T20:00:00Z\";\n"
			   "length = \"12 h\"; noise = \"-118 dBm\";\ncrystal = \"0 ppm\";\n%s\n",
			bad_towns[i].line);
		fclose(f);
		if (town_read(path, &t, &why) == 0)
			fail_msg("%s: was taken", bad_towns[i].why);
		if (why.kind != FAULT_INPUT || !strstr(why.text, bad_towns[i].says))
			fail_msg("%s: \"%s\" lacks \"%s\"", bad_towns[i].why, why.text,
				 bad_towns[i].says);
	}
	unlink(path);
}


/* ---- the night ---- */

/* Overs of many nights in one stretch of hours against the table's rate. Where
 * exchanges are Poisson and hold m overs, geometric, n overs expected have the
 * variance n (2 m - 1). */
static const struct {
	const char *name;
	int         from, to;           /* hours after 20:00 */
	double      share;              /* of the busy rate  */
	const char *why;
} rates[] = {
	{ "Street Works",        4,  9, 1,    "busy 00-05 as the table says" },
	{ "Rail Yard",           4,  9, 1,    "long exchanges, busy after midnight" },
	{ "Rail Yard",          10, 12, 0.2,  "a fifth outside the busy hours" },
	{ "Bakery Vans",         6, 10, 1,    "busy 02-06" },
	{ "Bakery Vans",         0,  5, 0,    "silent otherwise" },
	{ "Packet Node",         0, 12, 1,    "data, all night" },
	{ "Ship Identity Data",  0, 12, 1,    "thousands of bursts" },
	{ "Pager North",         3, 11, 0.4,  "four tenths at night" },
	{ "Fire Dispatch",       0,  1, 1,    "before the fire" },
	{ "Fire Dispatch",       3, 10, 0.4,  "after it" },
};

static void overs_an_hour(void **state)
{
	struct world *w = *state;
	enum { NIGHTS = 12 };

	double got[sizeof rates / sizeof rates[0]] = { 0 };
	for (int k = 0; k < NIGHTS; k++) {
		struct world v = {.town = w->town,
				  .night = night_create(&w->town, SEED + (uint64_t)k)};
		assert_non_null(v.night);
		for (size_t i = 0; i < sizeof rates / sizeof rates[0]; i++) {
			int n;
			const struct over *o = overs_of(&v, rates[i].name, &n);
			for (int j = 0; j < n; j++)
				got[i] += o[j].start_us >= rates[i].from * HOUR_US &&
					o[j].start_us < rates[i].to * HOUR_US;
		}
		night_destroy(v.night);
	}
	for (size_t i = 0; i < sizeof rates / sizeof rates[0]; i++) {
		const struct emitter *e = &w->town.emitters[town_emitter(&w->town, rates[i].name)];
		double want = e->rate * rates[i].share * (rates[i].to - rates[i].from) * NIGHTS;
		double sigma = sqrt(want * (2 * e->exchange - 1));
		if (fabs(got[i] - want) > 4 * sigma + 0.5)
			fail_msg("seed %llu, %s (%s): %g overs in %d nights, want %.0f within %.0f",
				 (unsigned long long)SEED, rates[i].name, rates[i].why, got[i],
					 NIGHTS, want, 4 * sigma);
	}
}

static void the_fire_triples_dispatch(void **state)
{
	struct world *w = *state;
	double got = 0, fireground = 0, elsewhere = 0;

	for (int k = 0; k < 20; k++) {
		struct world v = {.town = w->town,
				  .night = night_create(&w->town, SEED + (uint64_t)k)};
		int n;
		const struct over *o = overs_of(&v, "Fire Dispatch", &n);
		for (int j = 0; j < n; j++)
			got += o[j].start_us >= 100 * MIN_US && o[j].start_us < 120 * MIN_US;
		o = overs_of(&v, "Fireground 1", &n);
		if (n == 0 || o[0].start_us != 100 * MIN_US)
			fail_msg("seed %llu: nobody at the fire at 21:40",
				 (unsigned long long)SEED + (unsigned)k);
		for (int j = 0; j < n; j++)
			if (o[j].start_us >= 100 * MIN_US && o[j].end_us <= 170 * MIN_US)
				fireground++;
			else
				elsewhere++;
		night_destroy(v.night);
	}
	/* Three times 24 an hour in the 20 minutes to 22:00, 20 nights: 480, exchanges of 4. */
	if (fabs(got - 480) > 4 * sqrt(480 * 7))
		fail_msg("seed %llu: %g overs of Fire Dispatch during the fire, want 480",
			 (unsigned long long)SEED, got);
	assert_true(elsewhere == 0);
	/* The one surely there and 110 an hour in the 80 minutes of it that are busy hours. */
	if (fireground < 20 * 60 || fireground > 20 * 250)
		fail_msg("seed %llu: %g overs of Fireground 1", (unsigned long long)SEED,
			 fireground);
}

static void overs_ascend_and_never_overlap(void **state)
{
	struct world *w = *state;

	for (int i = 0; i < w->town.n_emitters; i++) {
		int n;
		const struct over *o = night_overs(w->night, i, &n);
		for (int j = 0; j < n; j++) {
			if (o[j].start_us < 0 || o[j].talk_us <= o[j].start_us ||
			    o[j].end_us < o[j].talk_us ||
			    o[j].end_us > w->town.length_us)
				fail_msg("%s: over %d is inside out", w->town.emitters[i].name, j);
			if (j > 0 && o[j].start_us < o[j - 1].end_us)
				fail_msg("%s: over %d starts in the one before",
					 w->town.emitters[i].name, j);
		}
	}
}

static void same_seed_same_night(void **state)
{
	struct world *w = *state;
	struct night *again = night_create(&w->town, SEED),
		     *other = night_create(&w->town, SEED + 1);
	int n, m, k, differ = 0;

	for (int i = 0; i < w->town.n_emitters; i++) {
		const struct over *a = night_overs(w->night, i, &n), *b = night_overs(again, i, &m);
		const struct over *c = night_overs(other, i, &k);
		assert_int_equal(n, m);
		for (int j = 0; j < n; j++)
			if (a[j].start_us != b[j].start_us || a[j].end_us != b[j].end_us ||
			    a[j].level_db != b[j].level_db ||
			    a[j].seed != b[j].seed)
				fail_msg("%s: over %d differs in a second night of the same seed",
					 w->town.emitters[i].name, j);
		differ += n != k || (n > 0 && a[0].seed != c[0].seed);
	}
	assert_true(differ > 40);
	night_destroy(again);
	night_destroy(other);
}

static const struct {
	const char *input, *repeater;
	double      chance;
} inputs[] = {
	{ "Police Dispatch In", "Police Dispatch Out", 0.4 },
	{ "Taxi In", "Taxi Out", 0.33 },
	{ "Ham 2m In", "Ham 2m Out", 0.3 },
};

static void inputs_while_the_talker_keys(void **state)
{
	struct world *w = *state;

	for (size_t i = 0; i < sizeof inputs / sizeof inputs[0]; i++) {
		int n, m;
		const struct over *in = overs_of(w, inputs[i].input, &n),
				  *out = overs_of(w, inputs[i].repeater, &m);
		for (int j = 0; j < n; j++) {
			int k = over_after(out, m, in[j].start_us);
			if (k == m || out[k].start_us != in[j].start_us ||
			    out[k].talk_us != in[j].end_us)
				fail_msg("%s: over %d is not that of a talker", inputs[i].input, j);
		}
		double want = m * inputs[i].chance, sigma = sqrt(want * (1 - inputs[i].chance));
		if (fabs(n - want) > 4 * sigma)
			fail_msg("seed %llu: %s heard %d of %d times", (unsigned long long)SEED,
				 inputs[i].input, n, m);
	}
}

static void ships_speak_in_the_gaps(void **state)
{
	struct world *w = *state;
	int n, m;
	const struct over *ship = overs_of(w, "Ship Side", &n),
			  *shore = overs_of(w, "Coast Station", &m);

	assert_true(n > 10);
	for (int j = 0; j < n; j++) {
		int k = over_after(shore, m, ship[j].start_us);
		if (k < m && shore[k].start_us < ship[j].end_us)
			fail_msg("ship over %d is on while the shore talks", j);
	}
}

static void ghosts_need_both_parents(void **state)
{
	struct world *w = *state;
	int n, a, b;
	const struct over *g = overs_of(w, "Ghost 146.800", &n);
	const struct over *north = overs_of(w, "Pager North", &a),
			  *south = overs_of(w, "Pager South", &b);
	int64_t ghost_us = 0, both_us = 0;

	assert_true(n > 20);
	for (int j = 0; j < n; j++) {
		if (!covered(north, a, g[j].start_us, g[j].end_us) ||
		    !covered(south, b, g[j].start_us, g[j].end_us))
			fail_msg("ghost %d without both its parents", j);
		ghost_us += g[j].end_us - g[j].start_us;
	}
	for (int j = 0; j < a; j++)
		for (int k = over_after(south, b, north[j].start_us); k < b &&
		     south[k].start_us < north[j].end_us; k++) {
			int64_t from = north[j].start_us > south[k].start_us ? north[j].start_us
				: south[k].start_us;
			int64_t to = north[j].end_us < south[k].end_us ? north[j].end_us
				: south[k].end_us;
			both_us += to - from;
		}
	assert_int_equal(ghost_us, both_us);
}

static const struct {
	const char *why, *name;
	int64_t     from_min, to_min;   /* after 20:00 */
	bool        on;
} moments[] = {
	{ "the taxi's microphone is stuck",         "Taxi Out",        312, 331, true },
	{ "the first bulletin",                     "Coast Station",   333, 336, true },
	{ "the second bulletin",                    "Coast Station",   573, 576, true },
	{ "trunk control until it moves",           "Trunk Control A",   0, 420, true },
	{ "and after it has come back",             "Trunk Control A", 480, 720, true },
	{ "the other in between",                   "Trunk Control B", 420, 480, true },
	{ "not a minute more",                      "Trunk Control B", 480, 720, false },
	{ "the air ducts from 01:00",               "Distant Weather", 300, 600, true },
	{ "and not before",                         "Distant Weather",   0, 300, false },
	{ "the balloon flies at midnight",          "Weather Balloon", 180, 300, true },
	{ "the club sleeps",                        "Flying Club",       0, 720, false },
	{ "weather never stops",                    "Weather Station",   0, 720, true },
};

static void what_happens_when(void **state)
{
	struct world *w = *state;

	for (size_t i = 0; i < sizeof moments / sizeof moments[0]; i++) {
		int n;
		const struct over *o = overs_of(w, moments[i].name, &n);
		int64_t from = moments[i].from_min * MIN_US, to = moments[i].to_min * MIN_US;
		int k = over_after(o, n, from);
		bool on = moments[i].on ? covered(o, n, from, to) : k < n && o[k].start_us < to;
		if (on != moments[i].on)
			fail_msg("%s: %s %s", moments[i].why, moments[i].name, on ? "was heard"
				 : "was not on throughout");
	}
	int n;
	night_clicks(w->night, &n);
	/* 20 a minute less the clicks' own lengths, 20 minutes: 394 expected. */
	if (abs(n - 394) > 80)
		fail_msg("seed %llu: %d clicks", (unsigned long long)SEED, n);
}

static const struct {
	const char *why;
	double      minute, ppm, slack;
} crystal[] = {
	{ "cold",                     0,  40, 0.001 },
	{ "warm, nearly",            20,  33, 0.2 },
	{ "and ever after",         600,  33, 0.001 },
};

static void the_dongle_warms_up(void **state)
{
	struct world *w = *state;

	for (size_t i = 0; i < sizeof crystal / sizeof crystal[0]; i++)
		if (fabs(town_crystal_ppm(&w->town, (int64_t)(crystal[i].minute * 60e6)) -
			 crystal[i].ppm) > crystal[i].slack)
			fail_msg("%s: %g ppm", crystal[i].why,
				 town_crystal_ppm(&w->town, (int64_t)(crystal[i].minute * 60e6)));
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(every_emitter_on_a_channel),
		cmocka_unit_test(refused_towns),
		cmocka_unit_test(overs_an_hour),
		cmocka_unit_test(the_fire_triples_dispatch),
		cmocka_unit_test(overs_ascend_and_never_overlap),
		cmocka_unit_test(same_seed_same_night),
		cmocka_unit_test(inputs_while_the_talker_keys),
		cmocka_unit_test(ships_speak_in_the_gaps),
		cmocka_unit_test(ghosts_need_both_parents),
		cmocka_unit_test(what_happens_when),
		cmocka_unit_test(the_dongle_warms_up),
	};
	return cmocka_run_group_tests(tests, world_build, world_drop);
}
