#ifndef BANDCENSUS_DAEMON_SUSPICION_H
#define BANDCENSUS_DAEMON_SUSPICION_H

#include "dsp/challenge.h"
#include "dsp/detect.h"

/* What was heard so far, each line once, and how suspicious it is. */

/* The most suspicious first. */
enum reason {
	REASON_CRYSTAL = 0,     /* at a multiple of the crystal                         */
	REASON_MIXED,           /* where two or three strong ones would mix             */
	REASON_MIRROR,          /* where a strong one would be mirrored                 */
	REASON_ALWAYS,          /* never goes off                                       */
	REASON_NONE             /* was heard                                            */
};

struct line_heard {
	int32_t band, channel;
	int     hop;
	double  power_db;               /* mean in the measured width, dBFS             */
	int64_t seen_us;                /* mono, of the last look that showed it ...    */
	int64_t before_us;              /* ... and of the one before that               */
	int64_t tried_us;
	int     attempts, row;          /* trials in all; since it came on              */
	bool    settled;
	enum reason reason;
	int     both, all;              /* looks that told of all parents; all were on  */
	struct evidence proof;          /* where it is, how often on, trials            */
};

#define LINES_HEARD 512         /* more are passed over: a night has some hundred */

#define HOPS_KNOWN  1024        /* more share their places; two dozen are usual   */

struct lines_heard {
	struct line_heard line[LINES_HEARD];
	int     n;
	int64_t looked_us[HOPS_KNOWN];  /* mono, begin of each hop's last look          */
	double  ppm;                    /* corrected for                                */
};

/* Takes what a usual look showed. */
void lines_heard_look(struct lines_heard *h, const struct hop *hop, int hop_index,
		      const struct band *bands, const struct look *l, const struct judged *j);

/* Whether it was there at its hop's last look, not long ago. */
bool line_on(const struct lines_heard *h, const struct line_heard *l, int64_t now_us);

/* Fills in who might make it: parents that mix, the one a whole rate away. What
 * was found before stays when nobody is found now. */
void suspicion_parents(const struct lines_heard *h, struct line_heard *l, int32_t rate_hz,
		       int64_t now_us);

#endif
