#ifndef BANDCENSUS_DSP_ROLL_H
#define BANDCENSUS_DSP_ROLL_H

#include "dsp/crystal.h"
#include "dsp/lines.h"

/* Who was heard where, over many looks: lines gathered by frequency, whatever
 * channels there may be. Memory sized at the start. */
struct roll;

/* One place on the dial where something was heard. */
struct heard {
	struct witness witness;         /* median of its middles, and how sure that is */
	double         drift_hz_s, drift_error; /* how fast it moves, and how sure that is */
	double         width_hz;        /* mean                                        */
	double         over_db;         /* median over the noise                       */
	double         power;           /* mean, full scale 1                          */
	int            looks;           /* it was heard in                             */
	int            exchanges;      /* with 5 s of silence between, at the least   */
	int64_t        mono_us;         /* when last                                   */
};

struct roll *roll_create(void);                 /* NULL: no memory */
void roll_destroy(struct roll *r);              /* NULL is fine    */
void roll_reset(struct roll *r);

/* Adds a line of a look at mono_us. */
void roll_hear(struct roll *r, const struct line *line, int64_t mono_us);

#define ROLL_MAX 512

/* All heard in at least so many looks, ascending in frequency. How many. */
int roll_call(struct roll *r, int looks, struct heard out[ROLL_MAX]);

#endif
