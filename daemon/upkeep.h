#ifndef BANDCENSUS_DAEMON_UPKEEP_H
#define BANDCENSUS_DAEMON_UPKEEP_H

#include "daemon/outbox.h"
#include "daemon/watch.h"
#include "store/room.h"
#include "store/thin.h"

/* Looks after the survey file while it is written: that its disk does not fill, that it stays
 * below the size allowed, and that what is old is thinned. What it does is logged and kept as
 * an incident. */
struct upkeep {
	const struct watch *n;
	struct outbox      *outbox;
	enum allowance      allowed;            /* what may be written                         */
	int64_t             since_us;           /* not all may be                              */
	struct thinning     thinning;
	int64_t             thinned_us;         /* last begun; 0: not yet                      */
	int64_t             newest_us;          /* thinning is for this time                   */
	bool                full;               /* larger than allowed: the survey is to end   */
};

struct upkeep upkeep_create(const struct watch *n, struct outbox *o);

/* Thins what is due before the first look. -1 only when the survey can't be written for good. */
int upkeep_begin(struct upkeep *u, struct fault *why);

/* How long what is kept, as the settings say. */
struct keep upkeep_keep(const struct station *st);

/* Before each commit. */
void upkeep_room(struct upkeep *u, int64_t now_us);

/* After one: the size; and once a day thinning, a step each time. As upkeep_begin. */
int upkeep_step(struct upkeep *u, int64_t now_us, struct fault *why);

#endif
