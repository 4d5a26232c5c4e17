#ifndef BANDCENSUS_TESTS_DONGLE_STEPS_H
#define BANDCENSUS_TESTS_DONGLE_STEPS_H

#include "tests/test.h"

#include <string.h>

#include "daemon/source.h"
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

static inline void check_fault(const char *row, const struct fault *why, enum fault_kind kind,
			const char *part)
{
	size_t n = strlen(why->text);
	if (why->kind != kind || !strstr(why->text, part))
		fail_msg("%s: got kind %d \"%s\", want \"%s\"", row, why->kind, why->text, part);
	if (strchr(why->text, '\n') || n == 0 || n >= sizeof why->text - 1 ||
	    why->text[n - 1] == '.')
		fail_msg("%s: not one line without a full stop: \"%s\"", row, why->text);
}

#endif
