#ifndef BANDCENSUS_TESTS_DONGLE_STEPS_H
#define BANDCENSUS_TESTS_DONGLE_STEPS_H

#include "tests/test.h"

#include <poll.h>
#include <stdio.h>
#include <string.h>

#include "daemon/dongle/source_dongle.h"
#include "daemon/dongle/synthesiser.h"
#include "tests/fault_check.h"
#include "tests/fake_rtlsdr.h"

/* What every test of the dongle source does. */
#define TUNING(hz) { FREQ_HZ(hz), 2400000, 0, 297 }

static inline int reset(void **state)
{
	(void)state;
	fake_reset();
	return 0;
}

static inline void *open_named(const char *arg, struct fault *why)
{
	struct source_request q = { .arg = arg };
	memset(why, 0, sizeof *why);
	return source_dongle.open(&q, why);
}

/* Waits as a watch does. */
static inline int read_block(void *self, size_t n, struct block *out, struct fault *why)
{
	struct pollfd news = { .fd = source_dongle.descriptor(self), .events = POLLIN };
	int r;

	while ((r = source_dongle.read(self, n, out, why)) == SOURCE_LATER)
		poll(&news, 1, 1000);
	return r;
}

static inline int tune_and_read(void *self, const struct tuning *to, size_t n, struct block *out,
				struct fault *why)
{
	return source_dongle.tune(self, to, why) < 0 ? SOURCE_FAULT :
	       read_block(self, n, out, why);
}

/* The calls that set it up for 2.4 MS/s at this centre with a faultless crystal. */
static inline const char *set_up(char *text, size_t size, const char *before, int64_t hz)
{
	snprintf(text, size, "%sopen 0;bias 0;rate 2400000;manual 1;gain 297;agc 0;centre %d;test 1;"
		 "flush 0;test 0;", before, synthesiser_ask_hz((double)hz, 2400000, 0, 0));
	return text;
}

#endif
