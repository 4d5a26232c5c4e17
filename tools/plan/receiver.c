#include "tools/plan/receiver.h"

#include <stddef.h>

const struct reach *receiver_reach(const struct receiver *r, struct freq f, enum mode mode)
{
	for (int i = 0; i < r->reaches; i++) {
		const struct reach *at = &r->reach[i];
		if (f.thirds >= at->low.thirds && f.thirds <= at->high.thirds &&
		    (at->modes & 1u << mode))
			return at;
	}
	return NULL;
}

int64_t receiver_delay(const struct receiver *r, double s)
{
	if (s <= 0 || r->delays == 0)
		return 0;
	for (int i = 0; i < r->delays; i++)
		if ((double)r->delay_us[i] >= s * 1e6)
			return r->delay_us[i];
	return r->delay_us[r->delays - 1];
}
