#ifndef BANDCENSUS_DSP_CLICK_H
#define BANDCENSUS_DSP_CLICK_H

#include "dsp/look.h"

/* Tells clicks (a switch, lightning): slices in which the noise rises everywhere at once.
 * Judged from the quietest places of the look alone, each against its own quietest slice,
 * so that it does not matter what else is on; and the rise must be alike all over the
 * window, which no signal's keying is. */
struct click;

/* For looks like this one, judged in bins first_bin .. first_bin + bins - 1. NULL: no
 * memory. */
struct click *click_create(const struct look *like, int first_bin, int bins);
void click_destroy(struct click *c);            /* NULL is fine */

/* Sets the look's spoilt and lift; whether any is spoilt. What fills the whole look is
 * none: its noise is higher. */
bool click_mark(struct click *c, struct look *l);

#endif
