#ifndef BANDCENSUS_TOOLS_PLAN_COMPARE_H
#define BANDCENSUS_TOOLS_PLAN_COMPARE_H

#include "tools/plan/side.h"

/* Two surveys of one place, or of two: what is on now that was not, and so on.
 *
 * Only hours that both looked at are counted: those of the week, or where the two share none,
 * those of the day. Where both met a channel, the shares of their looks that did are held against
 * each other (side.h), for these are what they are whenever the looks come; where one met nothing,
 * how many exchanges it would have met, by the hours in which its looks would have met one
 * (exposure.h). So a slow survey is not taken for a quiet band, nor one that rests. Given the sum of
 * both counts, one is binomial when nothing changed (exact.h). Of as many tests as there are channels
 * the least p is held against 0.01 over their number, the next against 0.01 over one less, and so
 * on (Holm 1979).
 *
 * A channel that is on most of the time has no exchanges to count: it differs when the two
 * intervals of its occupancy do not meet. */
#define COMPARE_P 0.01

enum change {
	CHANGE_NONE = 0,        /* both heard it, no difference shown                 */
	CHANGE_NEW,             /* heard in the second only                           */
	CHANGE_GONE,            /* heard in the first only                            */
	CHANGE_BUSIER, CHANGE_QUIETER,
	CHANGE_KIND, CHANGE_TONE,       /* both know it, and not the same; besides the above */
	CHANGE_OPEN,            /* heard in one, and too little to say of the other   */
	CHANGE_NOT_LOOKED,      /* heard in one; the other did not look there and then */
	CHANGE_COUNT
};

/* "new", "gone", "busier", "quieter", "kind", "tone", "not enough looked", "not looked". */
const char *change_name(enum change c);

struct difference {
	struct freq     centre;
	int             band;           /* of the first census; of the second when only that has it */
	bool            second;         /* it is of the second                        */
	enum change     is;
	struct side     side[2];
	double          p;              /* of the test; 1: none was made              */
	bool            by_occupancy;   /* on most of the time: p is 0 where the intervals are apart, else 1 */
	struct interval times;          /* how much it is on in the second over the first, 95 % */
	char            was[24], now[24];       /* kind or tone                       */
};

struct comparison {
	const struct census *census[2];
	double   between_s[2];          /* from look to look within a bunch (side.h)  */
	bool     of_week;               /* hours of the week; else of the day         */
	bool     counts[WEEK_HOURS];    /* which are counted; of the day: the first 24 */
	int      hours;                 /* so many                                    */
	int      tests;
	struct difference *of;          /* by kind of change, then up in frequency    */
	int      n;                     /* all but CHANGE_NONE                        */
	int      alike;                 /* channels in CHANGE_NONE, which follow      */
};

/* -1: no memory. Both censuses must be there as long as the comparison. */
int compare(const struct census *first, const struct census *second, struct comparison *out);
void comparison_free(struct comparison *c);

#endif
