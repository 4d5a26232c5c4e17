#ifndef BANDCENSUS_DAEMON_CALIBRATE_TRACKING_H
#define BANDCENSUS_DAEMON_CALIBRATE_TRACKING_H

#include "daemon/ledger.h"
#include "dsp/ear.h"

/* Keeps a post's receiver on frequency: hunts for the crystal's error before the
 * watch begins, follows it from then on, and hunts again when nobody was heard for long. */
struct tracking;

/* post: index into n->sources. Borrows both. NULL: no memory. */
struct tracking *tracking_create(const struct watch *n, int post, struct ledger *l);
void tracking_destroy(struct tracking *t);      /* NULL is fine */

/* Before the watch begins: looks at a block from a hop, but judges no channel.
 * Whether more such looks are wanted; a minute or two of them are. *ppm: corrected
 * for at that look, and from then on. */
bool tracking_overhear(struct tracking *t, int hop, struct ear *ear, const struct block *b,
		       double *ppm);

/* Takes the look whose noise the ear judged last. */
void tracking_look(struct tracking *t, int hop, const struct ear *ear, double *ppm);

#endif
