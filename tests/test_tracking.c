#include "tests/survey_place.h"
#include "tests/town_world.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "daemon/watch.h"
#include "store/station.h"

#define SETTLE_US (2 * MIN_US)          /* from the first look that counts */

#ifdef __SANITIZE_ADDRESS__     /* four times slower: the shorter night alone */
#define FIRST 1
#else
#define FIRST 0
#endif

/* What a watch shows of its receiver's frequency. */
struct overseer {
	const struct town *town;
	const struct band *bands;
	int64_t            first_us;    /* into the night */
	double             most, square;
	int                looks;
	int                right, wrong;        /* overs of the steady ones, by channel */
};

/* On all night, and strong: where they are found says where the raster is. */
static const char *const steady[] = { "Weather Station", "Aerodrome Info", "Trunk Control A" };

static void see_channels(struct overseer *o, const struct sight *s)
{
	for (int i = 0; s->judged && i < s->judged->findings; i++) {
		const struct finding *f = &s->judged->finding[i];
		struct freq at = raster_centre(&o->bands[f->band].raster, f->channel);
		for (size_t k = 0; k < sizeof steady / sizeof steady[0]; k++) {
			int e = town_emitter(o->town, steady[k]);
			int64_t off = at.thirds - o->town->emitters[e].frequency.thirds;
			if (off == 0)
				o->right++;
			else if (llabs(off) < FREQ_KHZ(13).thirds)
				o->wrong++;
		}
	}
}

static void see(void *self, const struct sight *s)
{
	struct overseer *o = self;
	int64_t us = s->look->mono_us - o->town->start_us;

	if (o->first_us < 0)
		o->first_us = us;
	see_channels(o, s);
	if (us - o->first_us < SETTLE_US)
		return;
	double off = s->ppm - town_crystal_ppm(o->town, us);
	o->most = fmax(o->most, fabs(off));
	o->square += off * off;
	o->looks++;
}

static const struct {
	const char *why;
	double      begin_minute, minutes, settings_ppm;
	const char *const *bands;       /* NULL: all */
	double      most, rms;          /* after two minutes */
} nights[] = {
	{ "just plugged in, settings know nothing", 0, 22, 0, NULL, 1.0, 0.5 },
	{ "warm, settings 20 ppm beside", 60, 8, 53, NULL, 1.0, 0.5 },
};

static void watch_town(const struct world *w, const char *path, size_t k)
{
	struct station station;
	struct fault why = { 0 };
	struct band *bands;
	int n_bands;
	struct hop_plan hops;
	struct progress progress = { 0 };
	volatile sig_atomic_t stop = 0;
	const char *config = CONFIG_DIR "/harlow-ferry-night.conf";
	struct watch_source source = { .ops = &source_town, .source = open_town(NULL) };

	assert_int_equal(station_read(config, &station, &why), 0);
	assert_int_equal(station_bands(&station, config, &bands, &n_bands, &why), 0);
	assert_int_equal(hop_plan_sweep(&hops, bands, n_bands, RATE), 0);
	source_town.about(source.source, &source.about);
	source.about.rate_hz = RATE;
	station.warm_up_us = (int64_t)(nights[k].begin_minute * MIN_US);
	station.ppm = nights[k].settings_ppm;
	station.park_share = station.challenge_share = 0;
	station.sweeps_per_spell = 1;
	station.rest_us = 2000000;      /* half the sweeps for half the computing */
	struct run_row run = { .start_us = source.about.start_us, .rate_hz = RATE, .dwell_us = 20000,
			       .ppm = station.ppm };
	struct survey *survey = survey_write(path, &run, bands, n_bands, &why);
	if (!survey)
		fail_msg("%s", why.text);
	struct overseer o = { .town = &w->town, .bands = bands, .first_us = -1 };
	struct onlooker onlooker = { .self = &o, .see = see };
	struct watch n = {
		.sources = &source, .n_sources = 1, .station = &station, .bands = bands,
		.n_bands = n_bands, .hops = &hops, .survey = survey, .run = run.id,
		.for_us = (int64_t)(nights[k].minutes * MIN_US), .stop = &stop, .progress = &progress,
		.onlookers = &onlooker, .n_onlookers = 1,
	};
	if (watch_run(&n, &why) < 0)
		fail_msg("%s: %s", nights[k].why, why.text);
	survey_close(survey);
	source_town.close(source.source);
	hop_plan_free(&hops);
	station_free(&station);
	free(bands);
	assert_true(o.looks > 5000);
	double rms = sqrt(o.square / o.looks);
	if (o.most > nights[k].most || rms > nights[k].rms)
		fail_msg("%s: at most %.2f ppm beside the truth, %.2f rms", nights[k].why, o.most, rms);
	if (o.right < 100 || o.wrong > 0)
		fail_msg("%s: %d looks find the steady ones on their channels, %d beside", nights[k].why,
			 o.right, o.wrong);
}

/* The file says what the crystal turned out to be, and when. */
static void books_say_so(const char *path, double ppm)
{
	char text[64];

	ask(path, "SELECT ppb FROM run", text);
	if (fabs(strtod(text, NULL) / 1000 - ppm) > 1)
		fail_msg("the run says %s ppb, want about %.0f", text, 1000 * ppm);
	ask(path, "SELECT count(*) FROM incident WHERE what='crystal'", text);
	assert_true(strtol(text, NULL, 10) >= 2);
}

static void keeps_on_frequency(void **state)
{
	void *world;
	struct place *p = *state;

	assert_int_equal(world_build(&world), 0);
	const struct world *w = world;
	for (size_t k = FIRST; k < sizeof nights / sizeof nights[0]; k++) {
		empty_place(p);
		watch_town(w, p->path, k);
		books_say_so(p->path, town_crystal_ppm(&w->town, (int64_t)(nights[k].begin_minute + 0.5) * MIN_US));
	}
	world_drop(&world);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test_setup_teardown(keeps_on_frequency, make_place, remove_place),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
