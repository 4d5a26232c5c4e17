#ifndef BANDCENSUS_TESTS_SPOKEN_H
#define BANDCENSUS_TESTS_SPOKEN_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

/* Speech as a transmitter sends it, made of espeak-ng's (tests/data/voice_8k.u8) by
 * liquid-dsp's filters. */
struct spoken {
	bool   emphasis;        /* 6 dB an octave up to 3 kHz, as on FM                    */
	bool   poor;            /* 12 dB an octave below 250 Hz only: its low end gets out */
	double share;           /* of the peak that speech may take, 0 .. 1; 0: silence    */
	double tone_hz;         /* a tone below it, and its peak; 0: none                  */
	double tone;
	int    code;            /* a digital code below it of 9 bits, with that peak; 0: none */
	double code_level;
};

#define SPOKEN_HZ 48000

/* n values at 48 kS/s, limited to 1. The seed picks where in the speech they begin. */
void spoken_make(const struct spoken *s, uint64_t seed, float *audio, size_t n);

/* The 23 bits that stand for a digital code, the first sent lowest. */
uint32_t spoken_code_word(int code);

#endif
