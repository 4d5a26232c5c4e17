#include "daemon/source.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "daemon/town/air.h"

#define RATE_MIN         225001  /* what the usual dongle's resampler can do               */
#define RATE_MAX         3200000
#define LOWEST_HZ        24e6
#define HIGHEST_HZ       1766e6
#define STALL_US         1000000 /* a read that gets nothing takes so long                 */

struct invented {
	struct town_air   *air;
	const struct town *town;        /* the air's                              */
	char               path[4096];  /* its settings                           */
	uint64_t           seed;
	struct tuning      tuning;      /* rate 0: not yet                        */
	int64_t            base_us;     /* of sample 0 since tuned or rested      */
	int64_t            samples;     /* read since then                        */
	uint16_t          *iq;
	size_t             room;        /* pairs                                  */
};

static void town_close(void *self)
{
	struct invented *v = self;

	if (!v)
		return;
	town_air_destroy(v->air);
	free(v->iq);
	free(v);
}

/* The file asked for, or the one that comes along. */
static void town_path(const char *arg, char *out, size_t size)
{
	const char *folder = getenv("BANDCENSUS_CONFIG");

	if (!folder || !*folder)
		folder = access(BANDCENSUS_CONFIG_DIR, X_OK) == 0 ? BANDCENSUS_CONFIG_DIR :
								    BANDCENSUS_DATA_DIR;
	if (*arg)
		snprintf(out, size, "%s", arg);
	else
		snprintf(out, size, "%s/harlow-ferry.conf", folder);
}

static void *town_open(const struct source_request *request, struct fault *why)
{
	struct invented *v = calloc(1, sizeof *v);

	if (!v) {
		fault_set(why, FAULT_RETRY, "town: out of memory");
		return NULL;
	}
	town_path(request->arg, v->path, sizeof v->path);
	v->seed = request->seed ? request->seed : 1;
	v->air = town_air_create(v->path, request->start, v->seed, why);
	if (!v->air)
		goto fail;
	v->town = town_air_town(v->air);
	if (request->antenna_off)
		town_air_antenna_off(v->air);
	if (request->truth_path &&
	    night_write_truth(town_air_night(v->air), request->truth_path, why) < 0)
		goto fail;
	return v;
fail:
	town_close(v);
	return NULL;
}

static void town_about(void *self, struct source_about *out)
{
	const struct invented *v = self;

	memset(out, 0, sizeof *out);
	snprintf(out->label, sizeof out->label, "town %s, seed %llu", v->town->name,
		 (unsigned long long)v->seed);
	out->settings = v->path;
	out->tunable = true;
	out->start_us = v->town->start_us;
	out->retune_us = v->town->retune_us;
	out->length_us = v->town->length_us;
	out->virtual_clock = true;
}

/* Microseconds into the night. */
static int64_t now_us(const struct invented *v)
{
	int32_t rate = v->tuning.rate_hz;

	if (v->samples == 0)
		return v->base_us;
	return v->base_us + v->samples / rate * 1000000 + v->samples % rate * 1000000 / rate;
}

static void move_clock(struct invented *v, int64_t us)
{
	v->base_us = now_us(v) + us;
	v->samples = 0;
}

static bool same_tuning(const struct tuning *a, const struct tuning *b)
{
	return a->centre.thirds == b->centre.thirds && a->rate_hz == b->rate_hz &&
	       a->ppm == b->ppm && a->gain_tenth_db == b->gain_tenth_db;
}

static int town_tune(void *self, const struct tuning *to, struct fault *why)
{
	struct invented *v = self;
	double centre = freq_to_hz(to->centre);

	if (same_tuning(&v->tuning, to))
		return 0;
	if (to->rate_hz < RATE_MIN || to->rate_hz > RATE_MAX)
		return fault_set(why, FAULT_INPUT, "town: rate is %d S/s, must be %d to %d",
				 to->rate_hz, RATE_MIN, RATE_MAX);
	if (centre < LOWEST_HZ || centre > HIGHEST_HZ)
		return fault_set(why, FAULT_INPUT, "town: centre is %.6f MHz, must be %g to %g MHz",
				 centre / 1e6, LOWEST_HZ / 1e6, HIGHEST_HZ / 1e6);
	const struct air_setting set = {
		.centre_hz = centre, .rate_hz = to->rate_hz, .ppm = to->ppm,
		.gain_db = to->gain_tenth_db / 10.0,
	};
	move_clock(v, v->town->retune_us);
	if (town_air_set(v->air, &set, v->base_us) < 0)
		return fault_set(why, FAULT_RETRY, "town: no memory for noise");
	v->tuning = *to;
	return 0;
}

/* While the dongle is off the bus a read gets nothing, and takes its time. */
static int lost(struct invented *v, int64_t start_us, int64_t end_us, struct fault *why)
{
	const struct event *e = town_event(v->town, EVENT_LOST, start_us, end_us);

	if (!e)
		return 0;
	move_clock(v, e->from_us > start_us ? e->from_us - start_us : STALL_US);
	return fault_set(why, FAULT_RETRY, "town: dongle is lost, it comes back at %s", e->until);
}

static int make_room(struct invented *v, size_t n, struct fault *why)
{
	if (n <= v->room)
		return 0;
	uint16_t *more = realloc(v->iq, n * sizeof *more);
	if (!more)
		return fault_set(why, FAULT_RETRY, "town: no memory for %zu samples", n);
	v->iq = more;
	v->room = n;
	return 0;
}

static int town_get(void *self, size_t n, struct block *out, struct fault *why)
{
	struct invented *v = self;
	int64_t start = now_us(v), left = v->town->length_us - start;

	if (v->tuning.rate_hz == 0) {
		fault_set(why, FAULT_INPUT, "town: was read before it was tuned");
		return SOURCE_FAULT;
	}
	size_t most = left > 0 ? (size_t)((double)left * v->tuning.rate_hz / 1e6) : 0;
	n = n < most ? n : most;
	if (n == 0)
		return SOURCE_END;
	if (make_room(v, n, why) < 0 ||
	    lost(v, start, start + (int64_t)((double)n * 1e6 / v->tuning.rate_hz), why) < 0)
		return SOURCE_FAULT;
	town_air_fill(v->air, start, v->iq, n);
	v->samples += (int64_t)n;
	*out = (struct block){
		.iq = v->iq, .format = SAMPLE_CU8, .n = n, .rate_hz = v->tuning.rate_hz,
		.centre = v->tuning.centre, .start_us = town_clock_us(v->town, start),
		.mono_us = v->town->start_us + start,
	};
	return SOURCE_BLOCK;
}

static void town_rest(void *self, int64_t us)
{
	move_clock(self, us);
}

static int town_restart(void *self, struct fault *why)
{
	struct invented *v = self;

	(void)why;
	v->base_us = 0;
	v->samples = 0;
	town_air_reset(v->air);
	v->tuning.rate_hz = 0;
	return 0;
}

const struct source_ops source_town = {
	.name = "town",
	.open = town_open,
	.about = town_about,
	.tune = town_tune,
	.read = town_get,
	.rest = town_rest,
	.restart = town_restart,
	.close = town_close,
};
