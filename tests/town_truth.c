#include "tests/test.h"

#include "tests/town_truth.h"

#include <stdio.h>
#include <stdlib.h>

#include "daemon/town/night.h"

static const char *const roles[] = { "emitter", "birdie", "noise", "ghost" };

/* Overs between which a repeater's carrier did not fall are one. */
static void tell(const struct night *n, int emitter, struct sender_told *s)
{
	const struct town *t = night_town(n);
	const struct emitter *e = &t->emitters[emitter];
	int overs;
	const struct over *o = night_overs(n, emitter, &overs);

	*s = (struct sender_told){ .hz = freq_to_hz(e->frequency), .level_dbm = e->level_dbm };
	snprintf(s->role, sizeof s->role, "%s", roles[e->role]);
	snprintf(s->name, sizeof s->name, "%s", e->name);
	snprintf(s->service, sizeof s->service, "%s", e->service);
	snprintf(s->mode, sizeof s->mode, "%s", mode_name((enum mode)e->mode));
	snprintf(s->kind, sizeof s->kind, "%s", kind_name((enum kind)e->kind));
	s->sent = calloc((size_t)overs + 1, sizeof *s->sent);
	assert_non_null(s->sent);
	for (int i = 0; i < overs; i++) {
		struct sent *last = s->n > 0 ? &s->sent[s->n - 1] : NULL;
		double on = 1e-6 * (double)o[i].start_us, off = 1e-6 * (double)o[i].end_us;
		if (last && i > 0 && o[i - 1].end_us == o[i].start_us)
			last->off_s = off;
		else
			s->sent[s->n++] = (struct sent){ on, off,
				e->level_dbm + o[i].level_db - town_noise_dbm(t, e, o[i].start_us) };
	}
}

struct truth *town_truth(const char *path, const char *start, uint64_t seed)
{
	struct truth *t = calloc(1, sizeof *t);
	struct town town;
	struct fault why;

	if (town_read(path, &town, &why) < 0 || town_move(&town, start, "start", &why) < 0)
		fail_msg("%s", why.text);
	struct night *n = night_create(&town, seed);
	assert_true(t && n);
	t->of = calloc((size_t)town.n_emitters + 1, sizeof *t->of);
	assert_non_null(t->of);
	t->senders = town.n_emitters;
	t->start_us = town.start_us;
	t->seconds = 1e-6 * (double)town.length_us;
	for (int i = 0; i < t->senders; i++)
		tell(n, i, &t->of[i]);
	night_destroy(n);
	town_free(&town);
	return t;
}
