#ifndef BANDCENSUS_TESTS_PLAN_WORLD_H
#define BANDCENSUS_TESTS_PLAN_WORLD_H

#include "tests/night_world.h"
#include "tools/plan/former.h"

#define SCENE_BANDS 16

/* One invented night from its overs to its plan. */
struct scene {
	int               bands;
	int32_t           channels[SCENE_BANDS];
	struct tally     *tally;
	struct census    *census;
	struct suspect   *suspect;
	struct receiver   receiver;     /* the shelf receiver      */
	struct interests  interests;    /* the presets             */
	struct typed_list typed;        /* what is in the set, if it is in use */
	struct former     former;
	struct plan      *plan;
};

/* Four hours, every channel looked at each second; overs come next. */
void scene_begin(struct scene *s, const struct band *bands, int n);
void scene_add(struct scene *s, struct world_over o);

/* The same in a place whose time is so many seconds ahead of UTC. */
void scene_begin_at(struct scene *s, const struct band *bands, int n, int32_t (*ahead_s)(int64_t us),
		    const char *zone);

/* Exchanges of three overs, two seconds apart, over four hours. */
void scene_talk(struct scene *s, int32_t band, int32_t channel, int exchanges, int32_t level_ddb,
		enum kind kind);

/* The same hours of the next day, looked at as often, and nothing heard. */
void scene_quiet_night(struct scene *s);

/* All hours of the first day, looked at as often. */
void scene_whole_day(struct scene *s);

/* The set is in use: one memory more, in NFM with a delay of 2 s. It may be changed until the next. */
struct typed *scene_type(struct scene *s, int bank, int slot, struct freq f);

/* All that a plan proposed, as its plan.csv says it. */
void scene_type_plan(struct scene *s, const struct plan *p);

/* Census, suspects and plan. */
void scene_propose(struct scene *s);
void scene_end(struct scene *s);

/* Its first seat. */
const struct memory *scene_memory(const struct scene *s, int32_t band, int32_t channel); /* or NULL */
const char *scene_left(const struct scene *s, int32_t band, int32_t channel);   /* why, or NULL */

#endif
