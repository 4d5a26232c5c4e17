#include "daemon/town/night_inside.h"

#include <math.h>
#include <stdlib.h>

#include "dsp/dice.h"

#define HOUR_US INT64_C(3600000000)
#define WALK_US INT64_C(10000000)       /* a wandering frequency takes a step this often */

/* Streams of the seed beside those of the emitters. */
enum { STREAM_CLICKS = 1000, STREAM_ERRORS, STREAM_WALKS };

int row_add(struct row *r, struct over o)
{
	if (r->n == r->room) {
		int room = r->room ? 2 * r->room : 64;
		struct over *more = realloc(r->at, (size_t)room * sizeof *more);
		if (!more)
			return -1;
		r->at = more;
		r->room = room;
	}
	r->at[r->n++] = o;
	return 0;
}

static int write_clicks(struct night *n)
{
	struct dice d = dice_of(n->seed, STREAM_CLICKS);

	for (int i = 0; i < n->town->n_events; i++) {
		const struct event *v = &n->town->events[i];
		int64_t at = v->from_us;
		while (v->what == EVENT_CLICKS && v->per_minute > 0) {
			at += llround(dice_exponential(&d, 60e6 / v->per_minute));
			if (at >= v->until_us)
				break;
			struct over o = { .start_us = at, .level_db = (float)v->rise_db };
			at += llround(dice_between(&d, 5e3, 50e3));
			o.end_us = o.talk_us = at;
			if (row_add(&n->clicks, o) < 0)
				return -1;
		}
	}
	return 0;
}

/* Fixed errors of transmitters; a ghost has its parents', the dongle's own has none. */
static void throw_errors(struct night *n)
{
	const struct town *t = n->town;

	for (int i = 0; i < t->n_emitters; i++) {
		struct dice d = dice_of(n->seed ^ STREAM_ERRORS, (uint64_t)i);
		if (t->emitters[i].role == SENDER_EMITTER)
			n->error_hz[i] = t->error_ppm * 1e-6 * dice_normal(&d) *
					 freq_to_hz(t->emitters[i].frequency);
	}
	for (int i = 0; i < t->n_emitters; i++)
		if (t->emitters[i].role == SENDER_GHOST)
			n->error_hz[i] = 2 * n->error_hz[t->emitters[i].parent_at] -
					 n->error_hz[t->emitters[i].other_at];
}

/* A random walk, reflected at the limits, that fills them in some minutes. */
static int walk(struct night *n, int emitter)
{
	double limit = n->town->emitters[emitter].wander_hz, at = 0;
	struct dice d = dice_of(n->seed ^ STREAM_WALKS, (uint64_t)emitter);
	int steps = (int)(n->town->length_us / WALK_US) + 2;

	n->walk_hz[emitter] = calloc((size_t)steps, sizeof **n->walk_hz);
	if (!n->walk_hz[emitter])
		return -1;
	for (int i = 0; i < steps; i++) {
		n->walk_hz[emitter][i] = (float)at;
		at += 0.1 * limit * fmax(fmin(dice_normal(&d), 3), -3);
		at = at > limit ? 2 * limit - at : at < -limit ? -2 * limit - at : at;
	}
	return 0;
}

struct night *night_create(const struct town *t, uint64_t seed)
{
	struct night *n = calloc(1, sizeof *n);
	size_t count = (size_t)t->n_emitters + 1;

	if (!n)
		return NULL;
	n->town = t;
	n->seed = seed;
	n->overs = calloc(count, sizeof *n->overs);
	n->error_hz = calloc(count, sizeof *n->error_hz);
	n->walk_hz = calloc(count, sizeof *n->walk_hz);
	if (!n->overs || !n->error_hz || !n->walk_hz)
		goto fail;
	for (int i = 0; i < t->n_emitters; i++)
		if (t->emitters[i].wander_hz > 0 && walk(n, i) < 0)
			goto fail;
	throw_errors(n);
	if (night_write_overs(n) < 0 || write_clicks(n) < 0)
		goto fail;
	return n;
fail:
	night_destroy(n);
	return NULL;
}

void night_destroy(struct night *n)
{
	if (!n)
		return;
	for (int i = 0; i < n->town->n_emitters; i++) {
		if (n->overs)
			free(n->overs[i].at);
		if (n->walk_hz)
			free(n->walk_hz[i]);
	}
	free(n->overs);
	free(n->error_hz);
	free(n->walk_hz);
	free(n->clicks.at);
	free(n);
}

const struct over *night_overs(const struct night *n, int emitter, int *count)
{
	*count = n->overs[emitter].n;
	return n->overs[emitter].at;
}

const struct over *night_clicks(const struct night *n, int *count)
{
	*count = n->clicks.n;
	return n->clicks.at;
}

const struct town *night_town(const struct night *n)
{
	return n->town;
}

int over_after(const struct over *o, int count, int64_t us)
{
	int low = 0, high = count;

	while (low < high) {
		int mid = low + (high - low) / 2;
		if (o[mid].end_us > us)
			high = mid;
		else
			low = mid + 1;
	}
	return low;
}

/* A drifting one starts afresh, on its frequency, with each over. */
double night_offset_hz(const struct night *n, int emitter, int64_t us)
{
	const struct emitter *e = &n->town->emitters[emitter];
	const struct row *r = &n->overs[emitter];
	double hz = n->error_hz[emitter];

	if (n->walk_hz[emitter]) {
		const float *w = &n->walk_hz[emitter][us / WALK_US];
		hz += w[0] + (w[1] - w[0]) * (double)(us % WALK_US) / (double)WALK_US;
	}
	if (e->drift_hz != 0) {
		int i = over_after(r->at, r->n, us);
		if (i < r->n && us > r->at[i].start_us)
			hz += e->drift_hz * (double)(us - r->at[i].start_us) / (double)HOUR_US;
	}
	return hz;
}
