#ifndef BANDCENSUS_TOOLS_PLAN_LANDING_H
#define BANDCENSUS_TOOLS_PLAN_LANDING_H

#include "tools/plan/receiver.h"

/* Where a receiver that only knows whole steps ends up. */
struct landing {
	struct freq step, landed;
	struct freq error;              /* landed less true                  */
};

/* The nearest frequency the receiver can be set to for f, a channel of that
 * raster, with the step that errs least; on a tie the step that suits the whole
 * raster (landing_step), so that its channels are typed with one step. raster
 * NULL: f stands alone. -1: f is outside its coverage. */
int landing_find(const struct receiver *r, struct freq f, enum mode mode,
		 const struct raster *raster, struct landing *out);

/* With that step, the lower one on a tie. */
struct freq landing_nearest(struct freq base, struct freq f, struct freq step);

/* The step of the stretch whose worst error over the raster is smallest, the
 * coarser one on a tie: the step to search that raster with, and to type it. */
struct freq landing_step(const struct receiver *r, const struct reach *reach,
			 const struct raster *raster);

/* Whether such an error leaves the signal in the filter; why says how it fails. */
bool landing_fits(const struct receiver *r, enum mode mode, double width_hz, struct freq error,
		  const char **why);

/* The three digits of kilohertz people call an 8.33 kHz channel by: 118008333
 * 1/3 Hz is "118.010". ("ICAO Annex 10 Vol. V table 4-1 bis", from memory.)
 * false when f is not a third of 25 kHz. */
bool landing_designator(struct freq f, char out[16]);

/* Cellular telephones, 824-849 and 869-894 MHz (47 CFR 22.905, from memory):
 * never proposed, whatever the band plan or the receiver says. */
bool landing_forbidden(struct freq low, struct freq high);

#endif
