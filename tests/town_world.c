#include "tests/town_world.h"

#include <stdlib.h>

int world_build(void **state)
{
	struct world *w = calloc(1, sizeof *w);
	struct fault why;

	assert_non_null(w);
	if (town_read(CONFIG_DIR "/harlow-ferry.conf", &w->town, &why) < 0)
		fail_msg("%s", why.text);
	w->night = night_create(&w->town, SEED);
	assert_non_null(w->night);
	*state = w;
	return 0;
}

int world_drop(void **state)
{
	struct world *w = *state;

	night_destroy(w->night);
	town_free(&w->town);
	free(w);
	return 0;
}

const struct emitter *emitter_of(const struct world *w, const char *name)
{
	int at = town_emitter(&w->town, name);

	if (at < 0)
		fail_msg("the town has no \"%s\"", name);
	return &w->town.emitters[at];
}

const struct over *overs_of(const struct world *w, const char *name, int *n)
{
	return night_overs(w->night, (int)(emitter_of(w, name) - w->town.emitters), n);
}

void *open_town(const char *truth)
{
	struct fault why;
	struct source_request q = { .arg = CONFIG_DIR "/harlow-ferry.conf", .seed = SEED,
		.truth_path = truth };
	void *s = source_town.open(&q, &why);

	if (!s)
		fail_msg("%s", why.text);
	return s;
}

void tune_to(void *s, double mhz, double ppm, int gain_tenth_db)
{
	struct fault why;
	struct tuning t = { freq_from_hz(mhz * 1e6), RATE, ppm, gain_tenth_db };

	if (source_town.tune(s, &t, &why) < 0)
		fail_msg("%s", why.text);
}

struct block read_look(void *s, size_t n)
{
	struct fault why;
	struct block b;

	if (source_town.read(s, n, &b, &why) != SOURCE_BLOCK)
		fail_msg("no block: %s", why.text);
	assert_int_equal(b.n, n);
	return b;
}

void wait_until(void *s, int64_t us)
{
	struct block b = read_look(s, 2400);
	struct source_about a;

	source_town.about(s, &a);
	source_town.rest(s, us - (b.mono_us - a.start_us) - 1000);
}
