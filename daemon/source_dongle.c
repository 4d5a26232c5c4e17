#include "daemon/source.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>

#include "daemon/dongle.h"
#include "daemon/stream.h"

#define SETTLE_US 5000          /* synthesiser and filters, after a retune */

/* Heals itself: any fault of the device makes it lost, and the next tune closes
 * it, finds it again, opens it and sets it up from nothing. */
struct listener {
	char           name[80];        /* for faults: "dongle 00000001"           */
	char           label[128];
	char           arg[64];         /* to find it again by                     */
	enum dongle_by by;
	struct dongle *dongle;          /* NULL: not had                           */
	struct stream *stream;          /* what it hears; NULL: not started        */
	bool           lost;            /* dongle is good for closing alone        */
	bool           stuck;           /* a hung reader was left behind           */
	int32_t        rate_hz;         /* of the stream                           */
	struct freq    centre;          /* where the tuner truly is                */
};

static int check_stuck(const struct listener *l, struct fault *why)
{
	if (!l->stuck)
		return 0;
	return fault_set(why, FAULT_FATAL,
			 "%s: its reader hangs in the USB library, it must be replugged and the "
			 "program restarted",
			 l->name);
}

/* A reader that hangs keeps its dongle and its ring: left behind on purpose,
 * until the process ends. */
static void drop_device(struct listener *l)
{
	if (dongle_close(l->dongle)) {
		stream_destroy(l->stream);
	} else {
		stream_leave(l->stream);
		l->stuck = true;
	}
	l->dongle = NULL;
	l->stream = NULL;
	l->lost = false;
}

/* Whatever keeps it from coming back may pass: a second one with its serial is
 * unplugged again. */
static int heal(struct listener *l, struct fault *why)
{
	if (l->lost)
		drop_device(l);
	if (check_stuck(l, why) < 0)
		return -1;
	if (l->dongle)
		return 0;
	l->dongle = dongle_open(l->arg, l->by, why);
	if (l->dongle)
		return 0;
	why->kind = FAULT_RETRY;
	return -1;
}

/* ---- the seam ---- */

static void listener_close(void *self)
{
	struct listener *l = self;

	if (!l)
		return;
	drop_device(l);
	free(l);
}

static void *listener_open(const struct source_request *request, struct fault *why)
{
	struct listener *l = calloc(1, sizeof *l);
	const struct dongle_facts *facts;

	if (!l) {
		fault_set(why, FAULT_RETRY, "dongle: no memory for it");
		return NULL;
	}
	l->dongle = dongle_open(request->arg, DONGLE_BY_NAME, why);
	if (!l->dongle)
		goto fail;
	facts = dongle_facts(l->dongle);
	snprintf(l->name, sizeof l->name, "%s", facts->name);
	snprintf(l->label, sizeof l->label, "%s, %s", facts->name, facts->tuner);
	l->by = *facts->serial ? DONGLE_BY_SERIAL : DONGLE_BY_NAME;
	snprintf(l->arg, sizeof l->arg, "%s", *facts->serial ? facts->serial : request->arg);
	return l;
fail:
	listener_close(l);
	return NULL;
}

static void listener_about(void *self, struct source_about *out)
{
	const struct listener *l = self;
	struct timespec now;

	memset(out, 0, sizeof *out);
	snprintf(out->label, sizeof out->label, "%s", l->label);
	out->tunable = true;
	clock_gettime(CLOCK_REALTIME, &now);
	out->start_us = (int64_t)now.tv_sec * 1000000 + now.tv_nsec / 1000;
}

static int start(struct listener *l, struct fault *why)
{
	l->stream = stream_create(l->name);
	if (!l->stream)
		return fault_set(why, FAULT_RETRY, "%s: no memory for its samples", l->name);
	l->rate_hz = 0;
	return dongle_start(l->dongle, stream_ring(l->stream), why);
}

static int listener_tune(void *self, const struct tuning *to, struct fault *why)
{
	struct listener *l = self;
	int moved;

	if (heal(l, why) < 0 || dongle_check(l->dongle, to, why) < 0)
		return -1;
	moved = dongle_set(l->dongle, to, &l->centre, why);
	if (moved < 0 || (!l->stream && start(l, why) < 0)) {
		l->lost = true;
		return -1;
	}
	if (moved == 0)
		return 0;
	if (l->rate_hz != to->rate_hz)
		stream_rate(l->stream, to->rate_hz);
	l->rate_hz = to->rate_hz;
	/* The delivery under way is part old, part new; the synthesiser passes
	 * through other frequencies while it is being set. */
	stream_drop(l->stream, 1, SETTLE_US);
	return 0;
}

static int listener_read(void *self, size_t n, struct block *out, struct fault *why)
{
	struct listener *l = self;

	if (check_stuck(l, why) < 0)
		return SOURCE_FAULT;
	if (l->lost || !l->stream) {
		fault_set(why, FAULT_RETRY, "%s: is not tuned", l->name);
		return SOURCE_FAULT;
	}
	if (stream_read(l->stream, n, out, why) < 0) {
		l->lost = true;
		return SOURCE_FAULT;
	}
	out->centre = l->centre;
	return SOURCE_BLOCK;
}

/* A signal ends the sleep early, so that a stop is seen at once. */
static void listener_rest(void *self, int64_t us)
{
	struct listener *l = self;
	struct timespec t = { (time_t)(us / 1000000), (long)(us % 1000000 * 1000) };

	if (us > 0)
		nanosleep(&t, NULL);
	if (l->stream && !l->lost)
		stream_drop(l->stream, 0, 0);
}

static int listener_restart(void *self, struct fault *why)
{
	(void)self;
	(void)why;
	return 0;
}

const struct source_ops source_dongle = {
	.name = "dongle",
	.open = listener_open,
	.about = listener_about,
	.tune = listener_tune,
	.read = listener_read,
	.rest = listener_rest,
	.restart = listener_restart,
	.close = listener_close,
};
