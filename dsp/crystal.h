#ifndef BANDCENSUS_DSP_CRYSTAL_H
#define BANDCENSUS_DSP_CRYSTAL_H

#include <stdbool.h>

#include "dsp/band.h"
#include "dsp/comb.h"

/* How far the receiver's crystal is off, without a reference: whoever transmits
 * keeps to the channels of some band, so the right error is the one that puts
 * most of them on channels (dsp/comb.h). With an error of +1 ppm everything shows
 * 1 ppm low. */

struct crystal_wants {
	double             applied_ppm; /* corrected for when the witnesses were heard  */
	double             least_ppm, most_ppm; /* the error lies between               */
	int                witnesses;   /* that must agree, ...                         */
	int                bands;       /* ... from so many bands                       */
	double             sure_ppm;    /* standard error to be had                     */
	const struct freq *reference;   /* carriers known to be on the air, or NULL:    */
	int                references;  /* each is one of the witnesses, if heard       */
};

/* What trade practice asks for: ten would be better, two bands are the least. */
#define CRYSTAL_WITNESSES 6
#define CRYSTAL_BANDS     2
#define CRYSTAL_RANGE_PPM 150.0         /* no crystal is worse                     */
#define CRYSTAL_SURE_PPM  0.2
#define CRYSTAL_ODDS      100.0         /* against all other errors together       */

enum crystal_word {
	CRYSTAL_TOLD = 0,
	CRYSTAL_TOO_FEW,        /* not enough agree on any error                    */
	CRYSTAL_ONE_BAND,       /* enough, but not from enough bands                */
	CRYSTAL_AMBIGUOUS,      /* another error explains them nearly as well       */
	CRYSTAL_ROUGH           /* one error it is, but not known well enough       */
};

/* All but word is the best guess, told or not. */
struct crystal_verdict {
	enum crystal_word word;
	double ppm, error_ppm;  /* of the crystal, in all; standard error           */
	double odds;            /* for it against all other errors, at most 1e9     */
	double rival_ppm;       /* the best of those                                */
	int    agree, bands;    /* witnesses on a channel then, and their bands     */
};

/* What a witness says once the error is known. */
struct crystal_fit {
	int32_t     band;       /* index; -1: none there                            */
	struct freq channel;    /* the nearest                                      */
	double      residual_hz;        /* its true frequency less that             */
	double      agrees;     /* times likelier than from somewhere at random     */
};

/* Room for the work; bands ascend, and are borrowed. Broadcast FM is no witness,
 * its carriers may be 2 kHz off. NULL: no memory. */
struct crystal;

struct crystal *crystal_create(const struct band *bands, int n_bands);
void crystal_destroy(struct crystal *c);        /* NULL is fine */

void crystal_judge(struct crystal *c, const struct crystal_wants *w, const struct witness *witness,
		   int n, struct crystal_verdict *out);

/* shift_ppm: the crystal's error less what was corrected for. */
struct crystal_fit crystal_fit(const struct crystal *c, const struct witness *w, double shift_ppm);

/* Whether a line shown at hz is a harmonic of the receiver's own clock: it is
 * where the correction puts it, whatever the crystal does. */
bool crystal_own(double hz, double applied_ppm);

#endif
