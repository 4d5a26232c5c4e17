#include "dsp/lowpass.h"

#include <math.h>

#include "dsp/window.h"

#define BETA     6.2            /* 65 dB ...                                     */
#define TAPS_FOR 4.1            /* ... at so many taps times transition over rate */

int lowpass_taps(double pass_hz, double stop_hz, double rate_hz)
{
	return 2 + 2 * (int)ceil(0.5 * TAPS_FOR * rate_hz / (stop_hz - pass_hz));
}

void lowpass_fill(float *tap, int n, double half_hz, double rate_hz)
{
	double sum = 0;

	window_fill(tap, n, WINDOW_KAISER, BETA);
	/* A periodic window: its middle is point n/2, and point 0 has no partner. */
	tap[0] = n == 1;
	for (int i = 1; i < n; i++) {
		double t = i - 0.5 * n, x = 2 * M_PI * half_hz / rate_hz * t;
		tap[i] = (float)(tap[i] * (t == 0 ? 1 : sin(x) / x));
		sum += tap[i];
	}
	for (int i = 1; i < n; i++)
		tap[i] = (float)(tap[i] / sum);
}
