#ifndef BANDCENSUS_TOOLS_PLAN_STRETCHES_H
#define BANDCENSUS_TOOLS_PLAN_STRETCHES_H

#include <stdbool.h>
#include <stdint.h>

/* Which stretches of a row are worth most together. What a place is and what worth is
 * counted in is the caller's; whole numbers, so that equal is equal. */
struct place {
	int64_t worth;          /* what a stretch gains by holding it; may be less than nothing */
	int32_t least;          /* places a stretch that ends here has at least; the same for */
				/* all places between two stops                               */
	bool    stop;           /* no stretch holds it                                        */
	bool    limit;          /* one may begin and end here                                 */
};

struct stretch {
	int32_t from, to;       /* places, both included */
	int64_t worth;          /* of its places, less each */
};

/* At most so many stretches of at most `longest` places that do not overlap, such that the
 * worth of all their places less `each` for every stretch is as much as can be. Exact, by
 * dynamic programming over the row, in n x most steps of work. Where two choices are worth
 * the same: fewer, shorter, lower stretches. Returns how many, in the row's order; out has
 * room for most. -1: no memory. */
int stretches_best(const struct place *p, int32_t n, int32_t longest, int64_t each, int most,
		   struct stretch *out);

#endif
