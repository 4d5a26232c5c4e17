#include "daemon/dongle/source_dongle.h"

#include <string.h>
#include <time.h>

#include "daemon/dongle/keeper.h"

/* The seam to a keeper of a dongle. */

static void *dongle_source_open(const struct source_request *request, struct fault *why)
{
	struct keeper *k = keeper_create(request->arg, request->bias_tee);

	if (!k) {
		fault_set(why, FAULT_RETRY, "dongle: no memory for it");
		return NULL;
	}
	if (!request->at_once && keeper_meet(k, why) < 0)
		goto fail;
	return k;
fail:
	keeper_destroy(k);
	return NULL;
}

static void dongle_source_about(void *self, struct source_about *out)
{
	struct timespec now;

	memset(out, 0, sizeof *out);
	keeper_about(self, out);
	out->tunable = true;
	clock_gettime(CLOCK_REALTIME, &now);
	out->start_us = (int64_t)now.tv_sec * 1000000 + now.tv_nsec / 1000;
}

static int dongle_source_tune(void *self, const struct tuning *to, struct fault *why)
{
	return keeper_tune(self, to, why);
}

static int dongle_source_read(void *self, size_t n, struct block *out, struct fault *why)
{
	return keeper_read(self, n, out, why);
}

static int dongle_source_descriptor(void *self)
{
	return keeper_descriptor(self);
}

static void dongle_source_rest(void *self, int64_t us)
{
	if (us > 0)
		keeper_rest(self);
}

static int dongle_source_restart(void *self, struct fault *why)
{
	(void)self;
	(void)why;
	return 0;
}

static void dongle_source_renew(void *self)
{
	keeper_renew(self);
}

static void dongle_source_close(void *self)
{
	keeper_destroy(self);
}

struct dongle_counts source_dongle_counts(const void *self)
{
	return keeper_counts(self);
}

const struct source_ops source_dongle = {
	.name = "dongle",
	.open = dongle_source_open,
	.about = dongle_source_about,
	.tune = dongle_source_tune,
	.read = dongle_source_read,
	.descriptor = dongle_source_descriptor,
	.rest = dongle_source_rest,
	.restart = dongle_source_restart,
	.renew = dongle_source_renew,
	.close = dongle_source_close,
};
