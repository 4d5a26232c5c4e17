#include "dsp/designator.h"

#include <math.h>
#include <stdio.h>

#define SPEECH_HZ 3000          /* highest audio frequency of telephony */
#define MUSIC_HZ  15000
#define BROADCAST_HZ 75000

char *bandwidth_format(char out[DESIGNATOR_TEXT], double hz)
{
	static const char unit[] = "HKMG";
	int k = 0;

	snprintf(out, DESIGNATOR_TEXT, "0");
	if (hz < 0.001)
		return out;
	/* 999.5 Hz round up to 1.00 kHz. */
	while (hz >= 999.5 && unit[++k])
		hz /= 1000;
	if (!unit[k])
		return out;
	/* Digits before the letter: "H402" is 0.402 Hz, "6K00" 6 kHz, "12K5", "180K". A little
	 * is added for halves that have no exact double. */
	static const int scale[] = { 1000, 100, 10, 1 };
	int before = hz < 0.9995 ? 0 : hz < 9.995 ? 1 : hz < 99.95 ? 2 : 3;
	int digits = (int)floor(hz * scale[before] + 0.5 + 1e-9);
	for (int i = 3; i >= 0; i--) {
		out[i] = (char)(i == before ? unit[k] : '0' + digits % 10);
		digits /= i == before ? 1 : 10;
	}
	out[4] = 0;
	return out;
}

int deviation_system(double measured_hz)
{
	/* Half way between two on a scale of octaves. */
	return measured_hz > 2500 * M_SQRT2 ? 5000 : measured_hz > 1250 * M_SQRT2 ? 2500 : 1250;
}

double carson_hz(double deviation_hz, double audio_hz)
{
	return 2 * (deviation_hz + audio_hz);
}

char *designator_format(char out[DESIGNATOR_TEXT], enum kind kind, const struct features *f,
			bool talks)
{
	static const char *const class[KIND_COUNT] = {
		[KIND_CARRIER] = "N0N", [KIND_AM] = "A3E", [KIND_NFM] = "F3E", [KIND_WFM] = "F3E",
		[KIND_DATA] = "F1D",
	};
	double hz[KIND_COUNT] = {
		[KIND_AM] = 2 * SPEECH_HZ,
		[KIND_NFM] = carson_hz(deviation_system(f->deviation_hz), SPEECH_HZ),
		[KIND_WFM] = carson_hz(BROADCAST_HZ, MUSIC_HZ),
		[KIND_DATA] = rint(f->width_hz / 100) * 100,
	};
	char width[DESIGNATOR_TEXT] = "";

	out[0] = 0;
	if (!class[kind])
		return out;
	if (kind != KIND_CARRIER)
		bandwidth_format(width, hz[kind]);
	snprintf(out, DESIGNATOR_TEXT, "%.7s%s", width,
		 kind == KIND_DATA && talks ? "F1E" : class[kind]);
	return out;
}
