#ifndef BANDCENSUS_STORE_BANDPLAN_H
#define BANDCENSUS_STORE_BANDPLAN_H

#include "dsp/band.h"
#include "store/settings.h"

/* A band plan file (kind = "bands"): which service uses which stretch, on
 * which raster, in which mode; and what is never surveyed or proposed. */
extern const struct field bandplan_fields[];

struct stretch {
	struct freq low, high;
	char        why[64];
};

struct bandplan {
	char            name[64];
	struct band    *bands;          /* ascending, never overlapping        */
	int             n_bands;
	struct stretch *never;          /* cellular, always; no band touches it */
	int             n_never;
};

/* -1 with FILE:LINE in why: unknown names, low above high, no channel inside,
 * two bands that overlap, an id given twice, a band that touches a "never". */
int bandplan_read(const char *path, struct bandplan *out, struct fault *why);
void bandplan_free(struct bandplan *p);

#endif
