#ifndef BANDCENSUS_TOOLS_PLAN_JUDGE_H
#define BANDCENSUS_TOOLS_PLAN_JUDGE_H

#include "tools/plan/former.h"

/* What becomes of one channel of the census. */
enum fate { FATE_LEAVE = 0, FATE_LOCK, FATE_SCAN };

struct judgement {
	enum fate       fate;
	bool            light;          /* left for want of evidence: worth a search */
	bool            held;           /* in the set already                        */
	struct memory   memory;         /* when not left; bank and slot still open   */
	char            reason[220];
};

/* What the rules look at. */
struct matter {
	const struct census    *census;
	const struct suspect   *suspect;
	const struct receiver  *receiver;
	const struct interests *interests;
	const struct former    *former;         /* NULL: the set is empty             */
};

/* The mode a channel is to be heard in: the band's, unless enough overs say
 * otherwise. */
enum mode judge_mode(const struct census *c, const struct channel *ch);

void judge(const struct matter *m, int channel, struct judgement *out);

/* As pairs_find found it. */
struct pair judge_pair(const struct census *c, int channel);

/* "input 465.1375 heard too", "ship side of 161.900"; "" for an input and for
 * what has no pair. */
void judge_pair_words(const struct census *c, const struct pair *p, char *out, size_t size);

/* A memory that was in the set and on which nothing was heard, in its place. -1: it can't stay. */
int judge_silent(const struct matter *m, const struct memory *was, struct memory *out);

/* A memory for a pinned frequency that was not heard. -1: it can't be tuned. */
int judge_unheard(const struct matter *m, struct freq f, struct memory *out);

#endif
