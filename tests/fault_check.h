#ifndef BANDCENSUS_TESTS_FAULT_CHECK_H
#define BANDCENSUS_TESTS_FAULT_CHECK_H

#include "tests/test.h"

#include <stdbool.h>
#include <string.h>

#include "store/fault.h"

/* What every fault's text is: one line, without a full stop, not cut off. */
static inline bool is_one_line(const char *text)
{
	size_t n = strlen(text);

	return n > 0 && n < sizeof ((struct fault *)0)->text - 1 && !strpbrk(text, "\n\r") &&
	       text[n - 1] != '.';
}

/* Fails the test unless the fault is of that kind, with those words in it. */
static inline void check_fault(const char *row, const struct fault *why, enum fault_kind kind,
			       const char *part)
{
	if (why->kind != kind || !strstr(why->text, part))
		fail_msg("%s: got kind %d \"%s\", want \"%s\"", row, why->kind, why->text, part);
	if (!is_one_line(why->text))
		fail_msg("%s: not one line without a full stop: \"%s\"", row, why->text);
}

#endif
