#ifndef BANDCENSUS_TOOLS_PLAN_STINTS_H
#define BANDCENSUS_TOOLS_PLAN_STINTS_H

#include <stdbool.h>
#include <stdint.h>

/* When receivers were at work: run by run, and together. All 0 to begin with. */
struct stint {
	int64_t run, from_us, to_us;
	bool    ended;                  /* as the run itself says, not by the hours it looked in */
};

struct stints {
	struct stint *at;
	int           n;
};

/* The run says when it ended; to_us 0: it does not. -1: no memory. */
int stints_run(struct stints *s, int64_t run, int64_t from_us, int64_t to_us);

/* The run looked then, which tells something while it does not tell itself. -1: no memory. */
int stints_looked(struct stints *s, int64_t run, int64_t from_us, int64_t to_us);

/* How long the run lasted between these: all the time where it does not say when it began. */
int64_t stints_within(const struct stints *s, int64_t run, int64_t from_us, int64_t to_us);

/* How long at least one was at work, and from when to when; 0 each when none was. Orders them
 * by their beginning. */
int64_t stints_wall(struct stints *s, int64_t *from_us, int64_t *to_us);

/* Spells of work: what follows within SPELL_BREAK_US is one, and what lasts longer than most_us is
 * cut. How many there are; the k-th, where there is one. After stints_wall. */
#define SPELL_BREAK_US INT64_C(3600000000)
int stints_spells(const struct stints *s, int64_t most_us, int k, int64_t *from_us, int64_t *to_us);

void stints_free(struct stints *s);

#endif
