#include "tools/plan/landing.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>

struct freq landing_nearest(struct freq base, struct freq f, struct freq step)
{
	int64_t above = f.thirds - base.thirds;
	int64_t n = above / step.thirds - (above < 0 && above % step.thirds != 0);
	int64_t rest = above - n * step.thirds;

	if (2 * rest > step.thirds)
		n++;
	return (struct freq){ base.thirds + n * step.thirds };
}

/* The nearest that step can land on inside the stretch; false: nowhere. */
static bool land(struct freq base, const struct reach *reach, struct freq f, struct freq step,
		 struct landing *out)
{
	struct freq at = landing_nearest(base, f, step);

	if (at.thirds < reach->low.thirds)
		at.thirds += step.thirds;
	if (at.thirds > reach->high.thirds)
		at.thirds -= step.thirds;
	*out = (struct landing){ step, at, { at.thirds - f.thirds } };
	return at.thirds >= reach->low.thirds;
}

int landing_find(const struct receiver *r, struct freq f, enum mode mode,
		 const struct raster *raster, struct landing *out)
{
	const struct reach *reach = receiver_reach(r, f, mode);
	const struct raster alone = { f, { 1 }, 1 };
	struct landing at;
	bool found = false;

	if (!reach || reach->steps == 0)
		return -1;
	struct freq suits = landing_step(r, reach, raster ? raster : &alone);
	for (int i = 0; i < reach->steps; i++) {
		if (!land(r->landing_base, reach, f, reach->step[i], &at))
			continue;
		int64_t least = found ? llabs(out->error.thirds) : INT64_MAX;
		int64_t more = llabs(at.error.thirds) - least;
		if (more > 0 || (more == 0 && out->step.thirds == suits.thirds))
			continue;
		*out = at;
		found = true;
	}
	return found ? 0 : -1;
}

/* Errors repeat once a channel lies as far from the grid as the first did. */
static int64_t worst_error(struct freq base, const struct raster *raster, struct freq step)
{
	int64_t worst = 0;

	for (int32_t i = 0; i < raster->count; i++) {
		struct freq f = raster_centre(raster, i);
		int64_t e = llabs(landing_nearest(base, f, step).thirds - f.thirds);
		if (i > 0 && (f.thirds - raster->first.thirds) % step.thirds == 0)
			break;
		worst = e > worst ? e : worst;
	}
	return worst;
}

struct freq landing_step(const struct receiver *r, const struct reach *reach,
			 const struct raster *raster)
{
	struct freq best = reach->step[0];
	int64_t least = INT64_MAX;

	for (int i = 0; i < reach->steps; i++) {
		int64_t worst = worst_error(r->landing_base, raster, reach->step[i]);
		if (worst <= least) {
			least = worst;
			best = reach->step[i];
		}
	}
	return best;
}

/* Fair errors, and beyond which it is refused whatever the filter (common practice). */
static const struct {
	double fair_hz, refuse_hz;
} limits[MODE_COUNT] = {
	[MODE_NONE] = { 0, 0 },
	[MODE_AM]   = { 2000, 4000 },
	[MODE_NFM]  = { 2500, 4000 },
	[MODE_WFM]  = { 25000, 25000 },
};

bool landing_fits(const struct receiver *r, enum mode mode, double width_hz, struct freq error,
		  const char **why)
{
	double e = fabs(freq_to_hz(error));

	*why = "lands too far beside it";
	if (e <= limits[mode].fair_hz)
		return true;
	if (e > limits[mode].refuse_hz)
		return false;
	/* Half the emission and 1 kHz of drift must stay inside, 1.5 kHz down the
	 * filter's slope at the most. */
	*why = "lands so far beside it that its filter would cut it";
	return e + width_hz / 2 + 1000 <= r->filter_hz[mode] / 2 + 1500;
}

bool landing_designator(struct freq f, char out[16])
{
	const int64_t block = 75000, third = 25000;     /* 25 kHz and 25/3 kHz in thirds */
	int64_t rest = f.thirds % block;

	if (f.thirds <= 0 || rest % third != 0)
		return false;
	static const int name[3] = { 5, 10, 15 };
	unsigned khz = (unsigned)(f.thirds / block * 25 + name[rest / third]);
	snprintf(out, 16, "%u.%03u", khz / 1000 % 1000000, khz % 1000);
	return true;
}

bool landing_forbidden(struct freq low, struct freq high)
{
	static const struct { int32_t low, high; } cellular[] = {
		{ 824000000, 849000000 }, { 869000000, 894000000 },
	};

	for (size_t i = 0; i < sizeof cellular / sizeof cellular[0]; i++)
		if (high.thirds > FREQ_HZ(cellular[i].low).thirds &&
		    low.thirds < FREQ_HZ(cellular[i].high).thirds)
			return true;
	return false;
}
