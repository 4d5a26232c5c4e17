#ifndef BANDCENSUS_DAEMON_INQUIRER_H
#define BANDCENSUS_DAEMON_INQUIRER_H

#include "daemon/watch.h"
#include "dsp/track.h"

/* Asks of overs heard while a post stays on a hop what they are: an inquiry for each
 * post. */
struct inquirer;

/* Borrows n. NULL: no memory. */
struct inquirer *inquirer_create(const struct watch *n);
void inquirer_destroy(struct inquirer *q);      /* NULL is fine */

/* A look of a post that stays, and what was judged of it. */
void inquirer_hear(struct inquirer *q, int post, const struct block *b, const struct judged *j);

/* An over has ended: its kind and confidence, if they are better known now, and what was
 * measured of it. Where several posts heard it, that of the one which did so longest. */
void inquirer_answer(struct inquirer *q, struct transmission *t);

#endif
