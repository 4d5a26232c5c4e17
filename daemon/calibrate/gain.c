#include "daemon/calibrate/gain.h"

#include <math.h>
#include <string.h>

/* P = a x + b with x the gain as a power ratio: least squares of relative errors,
 * neither share negative. */
static void split(const struct gain_step *s, int n, double *a, double *b)
{
	double xx = 0, x1 = 0, one = 0, x = 0, w = 0;

	for (int i = 0; i < n; i++) {
		double p = s[i].noise_lsb * s[i].noise_lsb, u = pow(10, s[i].gain_db / 10) / p,
		       v = 1 / p;
		xx += u * u;
		x1 += u * v;
		one += v * v;
		x += u;
		w += v;
	}
	double d = xx * one - x1 * x1;
	*a = d > 0 ? (x * one - w * x1) / d : 0;
	*b = d > 0 ? (w * xx - x * x1) / d : w / one;
	if (*a <= 0) {
		*a = 0;
		*b = w / one;
	} else if (*b < 0) {
		*b = 0;
		*a = x / xx;
	}
}

/* A burst next door clips at any gain, and meets one step's looks more than another's:
 * two standard deviations of the difference are chance. */
bool gain_clips(const struct gain_step *s, int i)
{
	double share = (s[0].clipped * s[0].looks + s[i].clipped * s[i].looks) /
		       (s[0].looks + s[i].looks);
	double chance = sqrt(share * (1 - share) * (1.0 / s[0].looks + 1.0 / s[i].looks));

	return s[i].clipped - s[0].clipped > GAIN_CLIPPED + 2 * chance;
}

/* The most gain that clips hardly more than the least. */
static double clip_limit(const struct gain_step *s, int n)
{
	double most = s[0].gain_db;

	for (int i = 0; i < n && !gain_clips(s, i); i++)
		most = s[i].gain_db;
	return most;
}

struct gain_advice gain_advise(const struct gain_step *step, int n)
{
	struct gain_advice out;
	double a, b, above = clip_limit(step, n), last = step[n - 1].gain_db;

	memset(&out, 0, sizeof out);
	split(step, n, &a, &b);
	out.own_lsb = sqrt(b);
	for (int i = 0; i < n; i++) {
		double in = a * pow(10, step[i].gain_db / 10);
		out.over_db[i] = 10 * log10(fmax(in, 1e-9) / fmax(b, 1e-9));
		if (i > 0)
			out.rise[i] = 20 * log10(step[i].noise_lsb / step[i - 1].noise_lsb) /
				      (step[i].gain_db - step[i - 1].gain_db);
	}
	double noise = a > 0 ? 10 * log10(b / a) + GAIN_OVER_DB : HUGE_VAL;
	double steps = a > 0 ? 10 * log10(fmax(GAIN_LSB * GAIN_LSB - b, 1e-9) / a) : HUGE_VAL;
	out.gain_db = fmax(fmax(noise, steps), step[0].gain_db);
	out.limit = noise > steps ? GAIN_NOISE_BELOW : GAIN_STEPS_BELOW;
	if (out.gain_db > above) {
		out.gain_db = above;
		out.limit = above < last ? GAIN_CLIPS_ABOVE : GAIN_RANGE_ENDS;
	}
	return out;
}

double gain_slope(double power_low, double power_high, double gain_db_more)
{
	return 10 * log10(power_high / power_low) / gain_db_more;
}
