#include "tests/dongle/tuner.h"

#include <math.h>
#include <string.h>

#include "tests/dongle/chip.h"

/* Lock is plausible for a VCO between these. */
#define VCO_LOW_HZ  1.75e9
#define VCO_HIGH_HZ 3.6e9

#define VCO_FINE    0x20        /* in register 4: tune voltage in the middle      */
#define FILTER_CODE 0x08        /* ... and a calibration that is neither 0 nor 15 */

/* Tenths of a dB from step to step. The library's public list of gains climbs LNA
 * and mixer in turn, so its differences are these. */
static const int lna_steps[16] = {
	0, 9, 13, 40, 38, 13, 31, 22, 26, 31, 26, 14, 19, 5, 35, 13,
};
static const int mixer_steps[16] = {
	0, 5, 10, 10, 19, 9, 10, 25, 17, 10, 8, 16, 13, 6, 3, -8,
};

#define AUTOMATIC_DB 33.8       /* what LNA and mixer settle on by themselves     */
#define VGA_STEP_DB  3.4        /* 16.3 dB at 8, 26.5 dB at 11                    */
#define VGA_USUAL    8          /* with manual gain: the list is without it       */

void tuner_reset(struct tuner *t)
{
	memset(t, 0, sizeof *t);
	t->registers[0] = 0x96;         /* read as 0x69 */
}

void tuner_write(struct tuner *t, const uint8_t *bytes, int n)
{
	if (n < 1)
		return;
	t->at = bytes[0];
	for (int i = 1; i < n; i++) {
		int at = bytes[0] + i - 1;
		if (at > 4 && at < TUNER_REGISTERS)
			t->registers[at] = bytes[i];
		if (at == 0x14)
			t->settings++;
	}
}

static uint8_t reversed(uint8_t x)
{
	x = (uint8_t)((x & 0x0f) << 4 | x >> 4);
	x = (uint8_t)((x & 0x33) << 2 | (x >> 2 & 0x33));
	return (uint8_t)((x & 0x55) << 1 | (x >> 1 & 0x55));
}

void tuner_read(const struct tuner *t, uint8_t *bytes, int n)
{
	for (int i = 0; i < n; i++) {
		uint8_t x = i < TUNER_REGISTERS ? t->registers[i] : 0;
		if (i == 2)
			x = tuner_locked(t) ? 0x40 : 0;
		else if (i == 4)
			x = VCO_FINE | FILTER_CODE;
		bytes[i] = reversed(x);
	}
}

double tuner_vco_hz(const struct tuner *t)
{
	const uint8_t *r = t->registers;
	int whole = 4 * (r[0x14] & 0x3f) + (r[0x14] >> 6) + 13;
	double part = r[0x12] & 0x08 ? 0 : (r[0x16] * 256 + r[0x15]) / 65536.0;

	return 2 * CRYSTAL_HZ * (whole + part);
}

double tuner_lo_hz(const struct tuner *t)
{
	return ldexp(tuner_vco_hz(t), -((t->registers[0x10] >> 5) + 1));
}

bool tuner_locked(const struct tuner *t)
{
	double vco = tuner_vco_hz(t);
	return !t->no_lock && vco > VCO_LOW_HZ && vco < VCO_HIGH_HZ;
}

static int sum(const int steps[16], int index)
{
	int all = 0;

	for (int i = 0; i <= index; i++)
		all += steps[i];
	return all;
}

double tuner_gain_db(const struct tuner *t)
{
	const uint8_t *r = t->registers;
	bool manual = (r[0x05] & 0x10) && !(r[0x07] & 0x10);
	double vga = VGA_STEP_DB * ((r[0x0c] & 0x0f) - VGA_USUAL);

	if (!manual)
		return AUTOMATIC_DB + vga;
	return (sum(lna_steps, r[0x05] & 0x0f) + sum(mixer_steps, r[0x07] & 0x0f)) / 10.0 + vga;
}
