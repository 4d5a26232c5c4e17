#include "daemon/dongle/synthesiser.h"

#include <math.h>
#include <string.h>

/* Read off the registers that Debian's librtlsdr 0.6.0-4 wrote, over 86166 settings
 * with three corrections, all of them met: tests/test_synthesiser.c keeps a part. */

#define CRYSTAL_HZ     28800000
#define VCO_LOW_KHZ    1770000          /* and twice as much, not included */
#define DIVIDER_MOST   64
#define IF_STEPS       4194304          /* 2^22 to the crystal             */
#define FRACTION_STEPS 65536

/* The IF follows from the filters chosen for a rate. */
static const struct {
	int32_t up_to_hz, if_hz;
} intermediates[] = {
	{ 900000,  2125000 },   /* 300001 to 900000 are no rates */
	{ 1200000, 1700000 },
	{ 1450000, 1575000 },
	{ 1550000, 1525000 },
	{ 1600000, 1500000 },
	{ 1700000, 1450000 },
	{ 1800000, 1750000 },
	{ 1900000, 1700000 },
	{ 1950000, 1675000 },
	{ 2050000, 1625000 },
	{ 2080000, 1640000 },
	{ 2180000, 1940000 },
	{ 2280000, 1890000 },
	{ 2330000, 1865000 },
	{ 2430000, 1815000 },
	{ INT32_MAX, 3570000 },
};

bool synthesiser_covers(const char *tuner)
{
	return strcmp(tuner, "R820T") == 0;
}

int32_t synthesiser_if_hz(int32_t rate_hz)
{
	int i = 0;

	while (rate_hz > intermediates[i].up_to_hz)
		i++;
	return intermediates[i].if_hz;
}

/* The fraction is found bit by bit, each weighing a truncated number of kHz, and
 * not to the end: this is where most of the error is made. */
static int32_t fraction_of(int64_t rest_khz, int64_t two_crystals_khz)
{
	int32_t fraction = 0;

	for (int bit = 1; bit <= 15 && rest_khz > 1; bit++) {
		int64_t weight_khz = two_crystals_khz >> bit;
		if (rest_khz > weight_khz) {
			fraction += FRACTION_STEPS >> bit;
			rest_khz -= weight_khz;
		}
	}
	return fraction;
}

struct synthesiser synthesiser_set(int32_t asked_hz, int32_t rate_hz, int whole_ppm)
{
	struct synthesiser s = { 0 };
	/* What the library takes the crystal for, cut to hertz. */
	int64_t crystal = (int64_t)(CRYSTAL_HZ * (1 + whole_ppm / 1e6));
	int64_t if_hz = synthesiser_if_hz(rate_hz), lo = asked_hz + if_hz, divider = 2;

	s.if_steps = (int32_t)(if_hz * IF_STEPS / crystal);
	int64_t lo_khz = (lo + 500) / 1000;
	while (divider <= DIVIDER_MOST && lo_khz * divider < VCO_LOW_KHZ)
		divider *= 2;
	if (asked_hz <= 0 || divider > DIVIDER_MOST || lo_khz * divider >= 2 * VCO_LOW_KHZ)
		return s;
	int64_t vco = lo * divider;
	s.divider = (int32_t)divider;
	s.whole = (int32_t)(vco / (2 * crystal));
	s.fraction =
		fraction_of((vco - 2 * crystal * s.whole) / 1000, 2 * ((crystal + 500) / 1000));
	return s;
}

double synthesiser_hz(const struct synthesiser *s, double crystal_ppm)
{
	double crystal = CRYSTAL_HZ * (1 + crystal_ppm * 1e-6);

	if (s->divider == 0)
		return NAN;
	return crystal * (2 * (s->whole + (double)s->fraction / FRACTION_STEPS) / s->divider -
			  (double)s->if_steps / IF_STEPS);
}

double synthesiser_stands_hz(int32_t asked_hz, int32_t rate_hz, int whole_ppm, double crystal_ppm)
{
	struct synthesiser s = synthesiser_set(asked_hz, rate_hz, whole_ppm);
	double hz = synthesiser_hz(&s, crystal_ppm);

	return isnan(hz) ? asked_hz : hz;
}

double synthesiser_lands_hz(int32_t asked_hz, int32_t rate_hz)
{
	return synthesiser_stands_hz(asked_hz, rate_hz, 0, 0);
}

#define SEEK_HZ 2500    /* farther than any landing is from what was asked */
#define STEP_HZ 10      /* the finest that the kHz of the VCO let through  */

int32_t synthesiser_ask_hz(double wanted_hz, int32_t rate_hz, int whole_ppm, double crystal_ppm)
{
	/* What the correction leaves over moves it as a whole. */
	int32_t about = (int32_t)lround(wanted_hz * (1 - (crystal_ppm - whole_ppm) * 1e-6));
	int32_t best = about;
	double nearest_hz = INFINITY;

	for (int32_t ask = about - SEEK_HZ; ask <= about + SEEK_HZ; ask += STEP_HZ) {
		struct synthesiser s = synthesiser_set(ask, rate_hz, whole_ppm);
		double off_hz = fabs(synthesiser_hz(&s, crystal_ppm) - wanted_hz);
		if (off_hz < nearest_hz) {      /* never with NAN */
			nearest_hz = off_hz;
			best = ask;
		}
	}
	return best;
}
