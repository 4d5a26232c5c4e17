#ifndef BANDCENSUS_DAEMON_ONLOOKER_H
#define BANDCENSUS_DAEMON_ONLOOKER_H

#include "daemon/schedule.h"
#include "dsp/ear.h"
#include "store/survey.h"

/* One look, as all that have an interest in it are shown it. Borrowed for the call. */
struct sight {
	int                  post;
	const struct visit  *visit;
	const struct hop    *hop;
	double               ppm;       /* corrected for at that look                 */
	const struct block  *block;
	struct ear          *ear;
	const struct look   *look;
	const struct judged *judged;    /* NULL at a challenge: nothing was judged or */
					/* learnt from it                             */
	const bool          *open;      /* by seat: busy at the look before; NULL too */
};

/* Is shown every look that counts, park and challenge included. */
struct onlooker {
	void *self;
	void (*see)(void *self, const struct sight *s);

	/* What it found out by the look just shown, to be kept in the survey; asked until
	 * false: nothing more. NULL: it never finds anything. */
	bool (*found)(void *self, struct artefact_row *out);
};

#endif
