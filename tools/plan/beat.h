#ifndef BANDCENSUS_TOOLS_PLAN_BEAT_H
#define BANDCENSUS_TOOLS_PLAN_BEAT_H

/* When a band was looked at: look after look, and rests in which nobody looked (the receiver
 * rested, or was parked elsewhere). All 0: not known. */
struct beat {
	double every_s;         /* from look to look                            */
	double rest_s;          /* between two looks with a rest amid them; 0: there are none */
	double looks;           /* between two rests, mean; at least 1          */
};

struct over;                            /* tools/plan/census.h */

/* As the band's overs tell it: those met by several looks, how far these lie apart; those met
 * after a rest, how long that was. revisit_s: mean time from look to look, rests and all. work:
 * room for n. */
void beat_find(const struct over *o, int n, double revisit_s, double *work, struct beat *out);

#endif
