#include "tools/plan/beat.h"

#include <math.h>

#include "tools/plan/census.h"
#include "tools/plan/glimpses.h"
#include "tools/plan/list.h"

#define TOLD_LEAST 5            /* overs that must tell                      */
#define RESTED     2.0          /* times the usual, and it was a rest        */
#define EARLY      0.3          /* of what may hide a rest itself the lower part is taken */

/* Between looks that met one over; those of a park are too many to be told apart. */
static double amid_s(const struct over *o, int n, double *work)
{
	int k = 0;

	for (int i = 0; i < n; i++)
		if (o[i].looks > 1 && 2 * o[i].busy_us < o[i].last_us - o[i].first_us)
			work[k++] = 1e-6 * (double)(o[i].last_us - o[i].first_us) /
				    (double)(o[i].looks - 1);
	return k >= TOLD_LEAST ? list_quantile(work, k, 0.5) : 0;
}

/* Quantile of the time before overs that were found by sweeps; least_s: and is longer. */
static double before_s(const struct over *o, int n, double least_s, double q, double *work)
{
	int k = 0;

	for (int i = 0; i < n; i++)
		if (o[i].before_us > SEEN_US && 1e-6 * (double)o[i].before_us > least_s)
			work[k++] = 1e-6 * (double)o[i].before_us;
	return k >= TOLD_LEAST ? list_quantile(work, k, q) : 0;
}

void beat_find(const struct over *o, int n, double revisit_s, double *work, struct beat *out)
{
	double every_s = amid_s(o, n, work);

	*out = (struct beat){ 0 };
	if (every_s <= 0)
		every_s = before_s(o, n, 0, EARLY, work);
	if (every_s <= 0 || every_s > revisit_s)
		every_s = revisit_s;
	double rest_s = before_s(o, n, RESTED * every_s, 0.5, work);
	/* The mean of all is (looks - 1) x every + rest, over looks. */
	double looks = rest_s > 0 && revisit_s > every_s ?
			       (rest_s - every_s) / (revisit_s - every_s) :
			       INFINITY;
	out->every_s = every_s;
	if (rest_s > 0 && isfinite(looks)) {
		out->rest_s = rest_s;
		out->looks = fmax(1, looks);
	} else {
		out->looks = 1;
	}
}
