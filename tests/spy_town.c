#include "tests/spy_town.h"

#include "tests/test.h"

#include <stdlib.h>

struct spy spy;

static int spy_tune(void *self, const struct tuning *to, struct fault *why)
{
	spy.centre = to->centre;
	return source_town.tune(self, to, why);
}

static int spy_read(void *self, size_t n, struct block *b, struct fault *why)
{
	int got = source_town.read(self, n, b, why);

	if (got != SOURCE_BLOCK || b->n < n)
		return got;
	if (spy.looks == spy.room) {
		spy.room = spy.room ? 2 * spy.room : 4096;
		spy.look = realloc(spy.look, (size_t)spy.room * sizeof *spy.look);
		assert_non_null(spy.look);
	}
	int64_t from_us = b->mono_us - spy.began_us;
	spy.look[spy.looks++] = (struct noted){
		from_us, from_us + (int64_t)((double)b->n * 1e6 / b->rate_hz), spy.centre };
	return got;
}

struct source_ops spy_town(int64_t began_us)
{
	struct source_ops ops = source_town;

	spy = (struct spy){ .began_us = began_us };
	ops.tune = spy_tune;
	ops.read = spy_read;
	return ops;
}

void spy_forget(void)
{
	free(spy.look);
	spy = (struct spy){ 0 };
}
