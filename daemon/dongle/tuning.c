#include "daemon/dongle/tuning.h"

#include <math.h>

#include "daemon/dongle/synthesiser.h"

/* Below 26 MHz an R820T lands elsewhere without a word; what listens there is the
 * converter's own input, on sticks wired for it, which has no tuner's gain or filter. */
static int check_centre(const struct dongle_facts *f, struct freq centre, struct fault *why)
{
	char text[FREQ_TEXT];
	bool low = centre.thirds < FREQ_HZ(1000000LL * f->low_mhz).thirds;

	if (!low && centre.thirds <= FREQ_HZ(1000000LL * f->high_mhz).thirds)
		return 0;
	return fault_set(why, FAULT_INPUT,
			 "%s: centre is %s MHz, must be %d to %d for its %s tuner%s", f->name,
			 freq_format_mhz(text, centre), f->low_mhz, f->high_mhz, f->tuner,
			 low ? "; direct sampling, for what is below, is not supported" : "");
}

int dongle_check(const struct dongle_facts *f, const struct tuning *to, struct fault *why)
{
	int32_t r = to->rate_hz;

	if (check_centre(f, to->centre, why) < 0)
		return -1;
	if (!(r > 225000 && r <= 300000) && !(r > 900000 && r <= 3200000))
		return fault_set(why, FAULT_INPUT,
				 "%s: rate is %d S/s, must be 225001 to 300000 or 900001 to "
				 "3200000, best 2400000", f->name, r);
	if (!(fabs(to->ppm) <= 500))
		return fault_set(why, FAULT_INPUT, "%s: ppm is %g, must be -500 to 500", f->name,
				 to->ppm);
	return 0;
}

struct dongle_settings dongle_settings_for(const struct dongle_facts *f, const struct tuning *to)
{
	double hz = freq_to_hz(to->centre);
	int32_t asked = synthesiser_covers(f->tuner) ?
		synthesiser_ask_hz(hz, to->rate_hz, 0, to->ppm) :
		(int32_t)lround(hz / (1 + to->ppm * 1e-6));

	return (struct dongle_settings){ to->rate_hz, asked, to->gain_tenth_db };
}

struct freq dongle_stands_at(const struct dongle_facts *f, const struct dongle_settings *s,
			     double ppm)
{
	double hz = synthesiser_covers(f->tuner) ?
		synthesiser_stands_hz(s->centre_hz, s->rate_hz, 0, ppm) :
		s->centre_hz * (1 + ppm * 1e-6);

	return (struct freq){ llround(hz * 3) };
}

bool dongle_settings_same(const struct dongle_settings *a, const struct dongle_settings *b)
{
	return a->rate_hz == b->rate_hz && a->centre_hz == b->centre_hz &&
	       a->gain_tenth_db == b->gain_tenth_db;
}
