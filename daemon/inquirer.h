#ifndef BANDCENSUS_DAEMON_INQUIRER_H
#define BANDCENSUS_DAEMON_INQUIRER_H

#include "daemon/watch.h"
#include "dsp/track.h"

/* Asks of overs what they are, in sweeps and more closely while a post stays on a hop: an
 * inquiry for each post. */
struct inquirer;

/* Borrows n. NULL: no memory. */
struct inquirer *inquirer_create(const struct watch *n);
void inquirer_destroy(struct inquirer *q);      /* NULL is fine */

/* A post's look, what was judged of it, and whether more of the same hop follow. */
void inquirer_hear(struct inquirer *q, int post, const struct block *b, const struct judged *j,
		   bool stays);

/* An over has ended: its kind and what was measured of it. Where several posts heard it,
 * the one that did so longest tells. */
void inquirer_answer(struct inquirer *q, struct transmission *t);

#endif
