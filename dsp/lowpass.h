#ifndef BANDCENSUS_DSP_LOWPASS_H
#define BANDCENSUS_DSP_LOWPASS_H

/* An even number of taps that take 65 dB of attenuation from pass_hz to stop_hz at a rate
 * (Kaiser's rule). */
int lowpass_taps(double pass_hz, double stop_hz, double rate_hz);

/* Fills so many taps, of unit gain at zero and half of it at half_hz. One tap: no filter. */
void lowpass_fill(float *tap, int n, double half_hz, double rate_hz);

#endif
