#include "tools/plan/census.h"

/* Two receivers at one place, or two surveys of one night merged: both hear the same over. */

#define LOOK_BACK 8             /* overs of one channel that may go on at a time */

static int64_t least(int64_t a, int64_t b)
{
	return a < b ? a : b;
}

static int64_t most(int64_t a, int64_t b)
{
	return a > b ? a : b;
}

/* Runs that go on at a time are few: a bit for each of 64 tells them apart. */
static uint64_t bit_of(const struct over *o)
{
	return o->heard_by ? o->heard_by : UINT64_C(1) << (o->run & 63);
}

/* By how much two overs lie over each other at the most, their true ends being where they
 * may be; below 0: they can't be one. */
static int64_t shared_us(const struct over *a, const struct over *b)
{
	return least(a->last_us + most(a->after_us, 0), b->last_us + most(b->after_us, 0)) -
	       most(a->first_us - most(a->before_us, 0), b->first_us - most(b->before_us, 0));
}

/* From the first sight of either to the last; the true ends lie no further out than
 * either says. What it was like is said by who heard it better. */
static void join(struct over *a, const struct over *b)
{
	int64_t first = least(a->first_us, b->first_us), last = most(a->last_us, b->last_us);
	int64_t begun =
		most(a->first_us - most(a->before_us, 0), b->first_us - most(b->before_us, 0));
	int64_t ended = least(a->last_us + most(a->after_us, 0), b->last_us + most(b->after_us, 0));
	bool better = b->heard_ms != a->heard_ms ? b->heard_ms > a->heard_ms : b->looks > a->looks;
	uint64_t by = bit_of(a) | bit_of(b);
	struct over both = better ? *b : *a;

	both.run = a->run;
	both.heard_by = by;
	both.looks = a->looks + b->looks;
	both.busy_us = most(a->busy_us, b->busy_us);
	both.peak_ddb = a->peak_ddb > b->peak_ddb ? a->peak_ddb : b->peak_ddb;
	both.first_us = first;
	both.last_us = last;
	both.before_us = most(0, first - begun);
	both.after_us = most(0, ended - last);
	*a = both;
}

void census_join(struct census *c)
{
	int n = 0;

	for (int i = 0; i < c->overs; i++) {
		const struct over o = c->over[i];
		struct over *with = NULL;
		int64_t shared = -1;
		for (int k = n - 1; k >= 0 && k >= n - LOOK_BACK; k--) {
			struct over *of = &c->over[k];
			if (of->band != o.band || of->channel != o.channel)
				break;
			if (!(bit_of(of) & bit_of(&o)) && shared_us(of, &o) > shared) {
				with = of;
				shared = shared_us(of, &o);
			}
		}
		if (with)
			join(with, &o);
		else
			c->over[n++] = o;
	}
	c->overs = n;
}
