#ifndef BANDCENSUS_TOOLS_PLAN_DEAL_H
#define BANDCENSUS_TOOLS_PLAN_DEAL_H

#include "tools/plan/judge.h"

/* Which family of services has which banks. Families come in the order of their most wanted
 * service and take banks while there are any; the rest share the last one. Bank 1 is the first
 * family's, or for every day (everyday.h), the locked ones' is the last. In a set in use a family
 * has the banks in which most of its channels are already, the rest the lowest free ones. */

#define FAMILIES_MAX 64
#define DEAL_BANKS   64         /* receivers have no more            */

struct family {
	const char *name;       /* of a judgement's memory; borrowed */
	double      weight;     /* the most that any of its services has, heard or not,  */
	int         rank;       /* and the first such service among the interests        */
	int         members;
	int         banks;      /* of its own; 0: it shares          */
};

struct deal {
	struct family family[FAMILIES_MAX];
	int  families;
	int  owner[DEAL_BANKS + 1];     /* family of each bank, from 1; -1: nobody's */
	int  shared, locked;            /* bank                                      */
};

/* Of the judgements that are kept. */
void deal_banks(const struct matter *m, struct judgement *const *at, int n, struct deal *out);

/* Whether its family has that bank. */
bool deal_home(const struct deal *d, const struct memory *m, int bank);

/* Whether the bank is of a family in which something must not wait. */
bool deal_urgent(const struct deal *d, struct judgement *const *at, int n, int bank);

#endif
