#ifndef BANDCENSUS_TESTS_DONGLE_STEPS_H
#define BANDCENSUS_TESTS_DONGLE_STEPS_H

#include "tests/test.h"

#include <string.h>

#include "daemon/source.h"
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

#endif
