#include "dsp/raster.h"

#include <assert.h>

static int64_t floor_div(int64_t a, int64_t b)
{
	int64_t q = a / b;
	return q - (a % b != 0 && (a < 0) != (b < 0));
}

struct raster raster_between(struct freq low, struct freq high, struct freq base, struct freq step)
{
	assert(step.thirds > 0);
	int64_t n0 = -floor_div(base.thirds - low.thirds, step.thirds);
	int64_t n1 = floor_div(high.thirds - base.thirds, step.thirds);

	return (struct raster){
		.first = { base.thirds + n0 * step.thirds },
		.step = step,
		.count = n1 >= n0 && n1 - n0 < INT32_MAX ? (int32_t)(n1 - n0 + 1) : 0,
	};
}

struct freq raster_centre(const struct raster *r, int32_t channel)
{
	return (struct freq){ r->first.thirds + (int64_t)channel * r->step.thirds };
}

struct freq raster_last(const struct raster *r)
{
	return raster_centre(r, r->count - 1);
}

int32_t raster_nearest(const struct raster *r, struct freq f)
{
	int64_t up = 2 * (f.thirds - r->first.thirds) + r->step.thirds;
	int64_t twice = 2 * r->step.thirds;

	if (up == 0)            /* exactly half a step below the first */
		return 0;
	int64_t n = floor_div(up, twice);
	if (n * twice == up)    /* a tie goes down */
		n--;
	return n < 0 || n >= r->count ? -1 : (int32_t)n;
}
