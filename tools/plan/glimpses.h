#ifndef BANDCENSUS_TOOLS_PLAN_GLIMPSES_H
#define BANDCENSUS_TOOLS_PLAN_GLIMPSES_H

#include "tools/plan/renewal.h"

#include <stdbool.h>
#include <stdint.h>

struct over;                            /* tools/plan/census.h */

/* An end that may lie no further out than this was seen: the post was parked there. */
#define SEEN_US 100000
bool edge_seen(int64_t slack_us);

/* What a channel's overs tell of when it was looked at, glimpse by glimpse. */
struct glimpses {
	struct glimpse *g;
	int             n;
};

/* Of overs, ascending. An over that was watched for most of the time it lasted was watched
 * throughout; else for its busy time at the end that was seen, and looked at every every_s in
 * the rest. Silence is looked at as often. hang_s: silence that ends an over. Chains that are alike
 * are there once. -1: no memory. */
int glimpses_make(const struct over *o, int n, double every_s, double hang_s, struct glimpses *out);
void glimpses_free(struct glimpses *g);

#endif
