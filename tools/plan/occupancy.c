#include "tools/plan/occupancy.h"

#include "dsp/chance.h"

#include <math.h>

struct band_use occupancy_of_band(const struct census *c, int band)
{
	const struct band *of = &c->band[band];
	struct band_use u = { .busy_hour = week_busy_hour(&c->week[band], &u.busy_hour_sro) };
	double channels = c->looked[band].share * of->raster.count,
	       step_hz = freq_to_hz(of->raster.step);
	double below = 0, above = 0;

	if (channels <= 0)
		return u;
	for (int i = 0; i < c->channels; i++) {
		const struct channel *ch = &c->channel[i];
		if (ch->band != band)
			continue;
		double low = ch->occupancy - ch->likely.low, high = ch->likely.high - ch->occupancy;
		u.sro += ch->occupancy / channels;
		u.fbo += ch->occupancy * (ch->width_hz > 0 ? ch->width_hz : of->width_hz) /
			 step_hz / channels;
		below += low * low;
		above += high * high;
	}
	u.fbo = fmin(1, u.fbo);
	u.sro_likely = (struct interval){ fmax(0, u.sro - sqrt(below) / channels),
					  fmin(1, u.sro + sqrt(above) / channels) };
	if (u.sro <= 0) {
		const struct looked *l = &c->looked[band];
		double look_s = l->looks > 0 ? 1e-6 * (double)l->looked_us / (double)l->looks : 0;
		double seen = occupancy_seen(OCCUPANCY_OVER_S, look_s, l->revisit_s);
		u.sro_likely.high = fmin(1, OCCUPANCY_OVER_S / 3600 / channels *
					 interval_none_hour(seen, (double)l->looks * l->revisit_s));
	}
	return u;
}

double occupancy_seen(double over_s, double look_s, double revisit_s)
{
	return revisit_s > 0 ? fmin(1, (over_s + look_s) / revisit_s) : 1;
}

static double z_of(double confidence)
{
	return normal_quantile(0.5 + confidence / 2);
}

double occupancy_samples(double p, double part, double confidence)
{
	double z = z_of(confidence) / part;
	return z * z * (1 - p) / p;
}

double occupancy_samples_within(double p, double off, double confidence)
{
	double z = z_of(confidence) / off;
	return z * z * p * (1 - p);
}

double occupancy_dependence(double correlation)
{
	return (1 + correlation) / (1 - correlation);
}
