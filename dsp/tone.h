#ifndef BANDCENSUS_DSP_TONE_H
#define BANDCENSUS_DSP_TONE_H

#include <stdbool.h>
#include <stdint.h>

/* Tones and digital codes that transmitters send below speech so that receivers of
 * their own group alone open (CTCSS and DCS). */

#define TONES 50
#define CODES 104

/* A standard tone in tenths of a hertz, ascending; 0 <= i < TONES. */
int32_t tone_ddhz(int i);

/* A code's nine bits, to be written as three octal digits, ascending; 0 <= i < CODES. */
int code_bits(int i);

/* The code that is the same upside down: who sets one "inverted" and who sets the other
 * "normal" send the same. So a code heard has two names. Which of them is the "normal" one
 * rests on a one shifting the frequency up, which is from memory: no outside source at hand
 * says so, and the tables of inverse pairs fit either way. */
int code_inverse(int bits);

/* The 23 bits that are sent over and over for nine, the first sent lowest: three octal
 * digits, binary 100, eleven check bits of the Golay code. */
uint32_t code_word(int bits);

/* How well one of them explains a stretch of the frequency below speech. */
struct tone_fit {
	int    best;            /* index of the tone or code                         */
	double share;           /* of the power about the mean that it explains, 0 .. 1 */
	double peak_hz;         /* its peak                                          */
	double hz;              /* tones: where it was found                         */
};

/* x[n] at rate_hz (600 or more); n in all. explained[TONES] is given each tone's power over that
 * about the mean, by least squares with a constant. */
struct tone_fit tone_fit(const float *x, int n, double rate_hz, double explained[TONES]);

/* The same of the codes, 134.4 bits a second, in whatever place of the word x begins. */
struct tone_fit code_fit(const float *x, int n, double rate_hz, double explained[CODES]);

#endif
