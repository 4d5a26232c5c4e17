#ifndef BANDCENSUS_DSP_ATTRIBUTE_H
#define BANDCENSUS_DSP_ATTRIBUTE_H

#include "dsp/floor.h"
#include "dsp/look.h"

/* One emission on a look's bins (positions as of look_edge). */
struct extent {
	double from, to;        /* where it ends: 26 dB down, or in the noise   */
	double centroid;
	double width;           /* holds 99 % of its power                      */
	double power;           /* between from and to, noise taken off         */
};

/* Follows the emission that peaks between two positions, the measured part of a
 * channel, outwards to its ends. freedom: degrees of three neighbouring bins. */
struct extent attribute_measure(const struct look *l, const struct floor *f, double freedom,
				double from, double to);

/* What is heard in a look so far, strongest first. */
struct hearing {
	const struct look   *look;
	const struct floor  *floor;
	const struct extent *extent;
	int                  n;
	double               strained_db;       /* > 0: nothing further below the strongest */
						/* than this is believed                    */
};

enum explained {
	EXPLAINED_NOT = 0,      /* something of its own                         */
	EXPLAINED_SKIRT,        /* what a stronger one spills                   */
	EXPLAINED_IMAGE         /* a stronger one, mirrored about the centre    */
};

#define STRAINED_DB 30.0        /* under overload                                        */
#define SPLASH_DB   20.0        /* while the strongest switches on or off within the look */

/* Whether power found between two positions is more than the stronger emissions
 * would put there. */
enum explained attribute_explain(const struct hearing *h, double from, double to, double power);

#endif
