#include "tools/plan/coincide.h"

#include <math.h>
#include <stdbool.h>
#include <string.h>

#include "tools/plan/census.h"

/* Sides that take turns answer within so long. */
#define TURN_US     INT64_C(15000000)
/* Looks at two frequencies of one sweep lie so far apart. */
#define AT_ONCE_US  INT64_C(500000)

/* Places an exchange is moved to: this far and twice this far ..., either way. Not nearer, for
 * there it may still meet what it met. */
#define SHIFT_US    INT64_C(20000000)
#define NEAREST     6
#define SHIFTS      96          /* either way: to 34 minutes                      */
#define APART_US    INT64_C(60000000)   /* silence after which it is another exchange    */
#define MOST        400         /* exchanges: the first                              */

/* First over of b that may still have been on at us. Overs do not overlap, so ends ascend. */
static int after(struct overs b, int64_t us)
{
	int low = 0, high = b.n;

	while (low < high) {
		int mid = low + (high - low) / 2;
		if (b.o[mid].last_us < us)
			low = mid + 1;
		else
			high = mid;
	}
	/* The one before may reach further than it was seen. */
	return low > 0 ? low - 1 : 0;
}

static int64_t slack(int64_t us)
{
	return us > 0 ? us : 0;
}

static int64_t blur(int64_t us)
{
	return slack(us) / 2 < AT_ONCE_US ? slack(us) / 2 : AT_ONCE_US;
}

/* The over of a, moved, may have been on within reach_us of one of b. */
static bool near(const struct over *o, int64_t move_us, struct overs b, int64_t reach_us)
{
	int64_t from = o->first_us - slack(o->before_us) + move_us - reach_us;
	int64_t to = o->last_us + slack(o->after_us) + move_us + reach_us;

	for (int i = after(b, from); i < b.n; i++) {
		if (b.o[i].first_us - slack(b.o[i].before_us) > to)
			return false;
		if (b.o[i].last_us + slack(b.o[i].after_us) >= from)
			return true;
	}
	return false;
}

/* Both seen on at once, or in one sweep. */
static bool at_once(const struct over *o, int64_t move_us, struct overs b)
{
	int64_t from = o->first_us - blur(o->before_us) + move_us;
	int64_t to = o->last_us + blur(o->after_us) + move_us;

	for (int i = after(b, from); i < b.n; i++) {
		if (b.o[i].first_us - blur(b.o[i].before_us) > to)
			return false;
		if (b.o[i].last_us + blur(b.o[i].after_us) >= from)
			return true;
	}
	return false;
}

static bool keeps(const struct over *o, int64_t move_us, struct overs b, enum keeping how)
{
	switch (how) {
	case KEEP_TOGETHER:
		return near(o, move_us, b, 0);
	case KEEP_TURNS:
		return near(o, move_us, b, TURN_US) && !at_once(o, move_us, b);
	case KEEP_AT_ONCE:
		return at_once(o, move_us, b);
	}
	return false;
}

int coincide_kept(struct overs a, struct overs b, enum keeping how)
{
	int kept = 0;

	for (int i = 0; i < a.n; i++)
		kept += keeps(&a.o[i], 0, b, how);
	return kept;
}

/* Most overs of an exchange keep to the other's. */
static bool exchange_keeps(const struct over *o, int n, int64_t move_us, struct overs b,
			   enum keeping how, int *kept)
{
	*kept = 0;
	for (int i = 0; i < n; i++)
		*kept += keeps(&o[i], move_us, b, how);
	return 2 * *kept > n;
}

/* P(as many of the trials or more come true), each with its own chance. */
static double tail(const double *p, int n, int least)
{
	double at[MOST + 1] = { 1 }, sum = 0;

	for (int i = 0; i < n; i++)
		for (int k = i + 1; k >= 0; k--)
			at[k] = at[k] * (1 - p[i]) + (k > 0 ? at[k - 1] * p[i] : 0);
	for (int k = n; k >= least; k--)
		sum += at[k];
	return fmin(sum, 1);
}

/* The time in which both channels' overs lie: nothing is moved out of it. */
struct stay {
	int64_t from_us, to_us;
};

static struct stay stay_of(struct overs a, struct overs b)
{
	struct stay s = { a.o[0].first_us, a.o[a.n - 1].last_us };

	if (b.n > 0 && b.o[0].first_us < s.from_us)
		s.from_us = b.o[0].first_us;
	if (b.n > 0 && b.o[b.n - 1].last_us > s.to_us)
		s.to_us = b.o[b.n - 1].last_us;
	return s;
}

/* Moves an exchange about: in what share of places it keeps, the one it has counted among
 * them; and how many overs do on average. */
static double by_chance(struct overs x, struct stay stay, bool keeps_here, struct overs b,
			enum keeping how, double *expected)
{
	int places = 1, came_true = keeps_here, kept, all = 0;

	for (int s = NEAREST; s <= SHIFTS; s++)
		for (int side = -1; side <= 1; side += 2) {
			int64_t move = side * s * SHIFT_US;
			if (x.o[0].first_us + move < stay.from_us ||
			    x.o[x.n - 1].last_us + move > stay.to_us)
				continue;
			places++;
			came_true += exchange_keeps(x.o, x.n, move, b, how, &kept);
			all += kept;
		}
	*expected += places > 1 ? (double)all / (places - 1) : 0;
	return (double)(came_true > 0 ? came_true : 1) / places;
}

void coincide(struct overs a, struct overs b, enum keeping how, struct coincidence *out)
{
	double chance[MOST];
	int kept_exchanges = 0, n = 0;

	*out = (struct coincidence){ .chance = 1 };
	for (int i = 0, next; i < a.n && n < MOST; i = next) {
		int kept;
		for (next = i + 1; next < a.n; next++)
			if (a.o[next].first_us - a.o[next - 1].last_us > APART_US)
				break;
		struct overs x = { &a.o[i], next - i };
		bool here = exchange_keeps(x.o, x.n, 0, b, how, &kept);
		kept_exchanges += here;
		chance[n++] = by_chance(x, stay_of(a, b), here, b, how, &out->expected);
		out->overs += x.n;
		out->kept += kept;
	}
	out->exchanges = n;
	out->chance = tail(chance, n, kept_exchanges);
}
