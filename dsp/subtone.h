#ifndef BANDCENSUS_DSP_SUBTONE_H
#define BANDCENSUS_DSP_SUBTONE_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "dsp/tone.h"

/* Listens for a tone or code below the speech of one over. Memory sized at the start;
 * what it gathers does not grow with time. */
struct subtone;

/* rate_hz: of the frequencies fed, 8 to 40 kHz. NULL: no memory. */
struct subtone *subtone_create(double rate_hz);
void subtone_destroy(struct subtone *s);        /* NULL is fine */

void subtone_reset(struct subtone *s);

/* The frequency in hertz, sample by sample. */
void subtone_feed(struct subtone *s, const float *hz, size_t n);

enum below {
	BELOW_UNKNOWN = 0,      /* too short to say                  */
	BELOW_NOTHING,          /* no tone, no code                  */
	BELOW_TONE,
	BELOW_CODE,
	BELOW_COUNT
};

/* "unknown", "nothing", "tone", "code". */
const char *below_name(enum below b);

struct subtone_word {
	enum below below;
	int32_t    tone_ddhz;   /* the standard tone, tenths of a hertz; 0: none */
	int        code;        /* nine bits; 0: none                            */
	double     share;       /* of the power below speech that it explains    */
	double     peak_hz;     /* its peak deviation                            */
	double     hz;          /* a tone's own frequency                        */
	double     seconds;     /* heard                                         */
};

/* After a hole: pieces are not joined over it, what was gathered stays. */
void subtone_cut(struct subtone *s);

/* What the over says so far: 0.4 s name a tone that is plain, 0.8 s any and say
 * when there is none. */
void subtone_take(const struct subtone *s, struct subtone_word *out);

/* ---- who shares a channel ---- */

#define USERS_MAX 8

/* Words of many overs on one channel. All zero: none yet. */
struct users {
	int     overs;                  /* long enough to tell                      */
	int     n;
	struct {
		int32_t tone_ddhz;      /* 0: a code, or when both are none         */
		int     code;
		int     overs;
	} user[USERS_MAX];
};

void users_hear(struct users *u, const struct subtone_word *w);

/* How many tones, codes or none are believed on: those of three overs or more, as long as
 * all believed together make up seven in ten. They come first then, most overs first. Two
 * tones on one channel are two users. */
int users_settle(struct users *u);

#endif
