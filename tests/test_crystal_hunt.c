#include "tests/town_world.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "daemon/calibrate/crystal_hunt.h"
#include "store/station.h"

/* The band plan of the town, or some of it. */
struct place {
	struct band    *bands;
	int             n;
	struct hop_plan hops;
};

static void place_open(struct place *p, const char *const *only)
{
	struct station s;
	struct fault why;
	const char *path = CONFIG_DIR "/harlow-ferry-night.conf";

	assert_int_equal(station_read(path, &s, &why), 0);
	assert_int_equal(station_bands(&s, path, &p->bands, &p->n, &why), 0);
	station_free(&s);
	int kept = only ? 0 : p->n;
	for (int i = 0; only && i < p->n; i++)
		for (const char *const *id = only; *id; id++)
			if (strcmp(*id, p->bands[i].id) == 0)
				p->bands[kept++] = p->bands[i];
	p->n = kept;
	assert_int_equal(hop_plan_sweep(&p->hops, p->bands, p->n, RATE), 0);
}

static void place_close(struct place *p)
{
	hop_plan_free(&p->hops);
	free(p->bands);
}

static const char *const only_weather[] = { "weather", NULL };
static const char *const only_low[] = { "telemetry-173", "balloons", "licence-free", NULL };
static const char *const uhf[] = { "business-450", "works-453", "police-460", "trunked", NULL };

static const struct {
	const char *why;
	const char *const *bands;       /* NULL: all */
	double      minute;             /* of the night when it begins to listen */
	int         minutes;            /* to listen, at the most                */
	double      applied, least, most;
	enum crystal_word word;
} hunts[] = {
	{ "warm, nothing known",                 NULL, 25, 5, 0, -150, 150, CRYSTAL_TOLD },
	{ "warm, corrected the wrong way",       NULL, 25, 5, -60, -150, 150, CRYSTAL_TOLD },
	{ "just plugged in",                     NULL, 0, 5, 0, -150, 150, CRYSTAL_TOLD },
	{ "one carrier on weather alone",        only_weather, 25, 1, 0, -150, 150, CRYSTAL_TOO_FEW },
	{ "bands where hardly anybody is heard", only_low, 25, 1, 0, -150, 150, CRYSTAL_TOO_FEW },
	{ "four talkers at UHF are too few",     uhf, 25, 1, 0, -150, 150, CRYSTAL_TOO_FEW },
};

static void hunt_at(const struct world *w, size_t k)
{
	struct place p;
	struct source_about about;
	struct fault why = { 0 };
	struct progress none = { 0 };
	volatile sig_atomic_t stop = 0;
	struct crystal_found *f = calloc(1, sizeof *f);
	void *s = open_town(NULL);

	place_open(&p, hunts[k].bands);
	source_town.about(s, &about);
	struct listening_wants on = { &source_town, s, &about, &p.hops, 20000, &stop, &none };
	struct listening *l = listening_create(&on);
	assert_true(f && l);
	struct crystal_hunt h = {
		.on = &on, .bands = p.bands, .n_bands = p.n, .applied_ppm = hunts[k].applied,
		.gain_tenth_db = 297, .least_ppm = hunts[k].least, .most_ppm = hunts[k].most,
		.least_us = MIN_US, .most_us = hunts[k].minutes * MIN_US, .enough_ppm = 0.17,
	};
	listening_rest(l, (int64_t)(hunts[k].minute * MIN_US));
	if (crystal_hunt(l, &h, f, &why) != SOURCE_BLOCK)
		fail_msg("%s: %s", hunts[k].why, why.text);
	int64_t end = listening_now_us(l) - w->town.start_us;
	double truth = town_crystal_ppm(&w->town, end - f->heard_us / 2);
	double move = town_crystal_ppm(&w->town, end) - town_crystal_ppm(&w->town, end - f->heard_us);
	move /= (double)f->heard_us / MIN_US;
	char text[300];
	if (f->verdict.word != hunts[k].word)
		fail_msg("%s: said %s (%.2f ppm)", hunts[k].why, crystal_refusal(f, text, sizeof text),
			 f->verdict.ppm);
	if (f->verdict.word == CRYSTAL_TOLD && fabs(f->verdict.ppm - truth) > 0.5)
		fail_msg("%s: %.2f +- %.2f ppm, in truth %.2f", hunts[k].why, f->verdict.ppm,
			 f->verdict.error_ppm, truth);
	/* Voices wander a little; what matters is 1.4 ppm a minute against none. */
	if (f->verdict.word == CRYSTAL_TOLD && fabs(f->drift_ppm_min - move) > 0.1)
		fail_msg("%s: moves by %.2f ppm a minute, in truth %.2f", hunts[k].why,
			 f->drift_ppm_min, move);
	listening_destroy(l);
	source_town.close(s);
	place_close(&p);
	free(f);
}

static void town_tells_the_crystal(void **state)
{
	for (size_t k = 0; k < sizeof hunts / sizeof hunts[0]; k++)
		hunt_at(*state, k);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(town_tells_the_crystal),
	};
	return cmocka_run_group_tests(tests, world_build, world_drop);
}
