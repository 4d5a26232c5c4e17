#ifndef BANDCENSUS_TOOLS_PLAN_ATTENUATOR_H
#define BANDCENSUS_TOOLS_PLAN_ATTENUATOR_H

#include "tools/plan/census.h"
#include "tools/plan/receiver.h"
#include "tools/plan/suspect.h"

struct plan;

/* Whether to switch the receiver's attenuator on.
 *
 * It is for a receiver that strong stations drive too far: what they mix in it falls by three
 * times the attenuation (third order), they and all others once (any textbook). So ON is
 * advised only where that was measured, by the surveying dongle, and no scanned memory loses
 * too much by it. The dongle is not the set: this says what may be, and the ear decides. */
enum advice {
	ADVICE_NO_SUCH = 0,     /* the receiver has none                                      */
	ADVICE_OFF,             /* nothing measured that it would help against                */
	ADVICE_OFF_LOSES,       /* measured, but wanted ones would be lost                    */
	ADVICE_ON,
	ADVICES
};

/* "none", "off", "off: would lose some", "on" */
const char *advice_name(enum advice a);

#define KEEPS_DB       10.0     /* a median over the noise that a listener enjoys (common practice) */
#define RISE_DB        3.0      /* the noise is so much higher in hours with overload               */

struct attenuator {
	enum advice is;
	int         ghosts;             /* channels that strong ones mixed                    */
	int         ghost;              /* one of them, of the census; -1: none               */
	int         overloaded;         /* bands with looks that overload spoilt              */
	int         rising;             /* bands whose noise rises by RISE_DB in hours of     */
					/* overload (tools/plan/rise.h)                       */
	double      rise_db;            /* the most                                           */
	int         scanned;            /* memories it is about, each once                    */
	int        *lost;               /* of these, below KEEPS_DB with it on: of the plan   */
	int         losts;
	char        text[400];          /* the advice and its reason                          */
};

/* The memories are in place. -1: no memory. */
int attenuator_advise(const struct census *c, const struct suspect *s, const struct receiver *r,
		      const struct plan *p, struct attenuator *out);
void attenuator_free(struct attenuator *a);

#endif
