#ifndef BANDCENSUS_DSP_CHALLENGE_H
#define BANDCENSUS_DSP_CHALLENGE_H

#include <stddef.h>

#include "dsp/sighting.h"

/* Is it on the air, or of our own making? A line is looked at four times within
 * a fraction of a second: as before, with the centre moved, with the gain
 * lowered, and as before again. Trials count only when it was there, and alike,
 * at both ends, so that a talker who let go of the key is no evidence. Pure. */

/* What a line does when the centre moves by s: it stays where it is shown, or
 * goes along by so many s. */
enum move {
	MOVE_STAYS = 0,         /* on the air, a harmonic of the crystal, or mixed from these */
	MOVE_RIDES,             /* 1: keeps its distance from the centre                 */
	MOVE_MIRRORS,           /* 2: a mirror image, about the centre or past the IF    */
	MOVE_BACK,              /* -1: by a harmonic of the tuner's oscillator           */
	MOVE_TRIPLE,            /* 3: the same, mirrored                                 */
	MOVES
};

double move_factor(enum move m);

struct trial {
	double shift_hz;                /* of the centre in the second look       */
	double less_db;                 /* gain taken away in the third           */
	struct sighting home, moved[MOVES], weaker, again;
};

/* Whether it was there, and alike, at both ends. */
bool trial_counts(const struct trial *t);

/* Whether it went off meanwhile. */
bool trial_broke(const struct trial *t);

#define TRIALS_MOST  12
#define PARENTS_MOST 3

/* All that is known of one line. What a look without an antenna showed is not in it: the
 * survey keeps that with its level, and who reads it knows how strong the night's were;
 * a ruling would shut out whoever shares the channel with the receiver's own line. */
struct evidence {
	double hz, wide_hz;             /* as displayed; what was looked at       */
	double applied_ppm;             /* crystal correction behind the display  */
	double show_error_hz;           /* how far the display may be off         */
	int    looks, on;               /* usual looks since first heard; with it */
	struct trial trial[TRIALS_MOST];
	int    trials;                  /* that count                             */
	int    broken;                  /* others, that broke                     */
	int    parents;                 /* 0, 2 (2 a - b) or 3 (a + b - c): far stronger */
	double parent_hz[PARENTS_MOST];
	int    with, without;           /* it came on while all parents were on; looks that */
					/* showed it while one was surely not             */
	double parents_share;           /* of the time that all are on            */
	double beyond_hz;               /* a far stronger one a whole rate away; 0: none */
};

enum ruling_word {
	RULING_UNSURE = 0,
	RULING_REAL,
	RULING_BIRDIE,                  /* harmonic of the crystal                */
	RULING_SPUR,                    /* keeps its distance from the centre     */
	RULING_IMAGE,
	RULING_HARMONIC,                /* of the tuner's own oscillator          */
	RULING_ALIAS,
	RULING_PRODUCT,                 /* mixed from stronger ones in an overloaded tuner */
	RULING_WORDS
};

/* "unsure", "real", "birdie" ... */
const char *ruling_name(enum ruling_word w);

/* Not on the air at all. */
bool ruling_false(enum ruling_word w);

struct ruling {
	enum ruling_word is;
	int    trials;                  /* that counted                           */
	int    moved[MOVES], faded;     /* did so when the centre moved; only fell, or went */
	int    steep, plain, gone;      /* fell 2 to 4 times the gain; as it did; farther */
	double over_db;                 /* mean, over the noise                   */
	double shift_hz, less_db, fall_db;      /* the last one's, means          */
	int    fell;                    /* of how many falls that is the mean     */
	int    multiple;                /* of the crystal; 0: none near           */
	double multiple_off_hz;
	double line;                    /* mean share in one line                 */
	double share_on;
};

struct ruling challenge_judge(const struct evidence *e);

/* Harmonic of the crystal that is displayed within error_hz; 0: none. Whatever
 * the crystal's true error, tuner and samples share it: only what was corrected
 * for shows. */
int challenge_multiple(double hz, double applied_ppm, double error_hz, double *off_hz);

/* The evidence in a line, for people. Returns out. */
char *challenge_tell(const struct evidence *e, const struct ruling *r, char *out, size_t size);

#endif
