#ifndef BANDCENSUS_TESTS_SLOTS_WORLD_H
#define BANDCENSUS_TESTS_SLOTS_WORLD_H

#include "tests/plan_world.h"

/* A set in use in the invented world (plan_world.h). */

struct freq slot_centre(int32_t band, int32_t channel);

/* What is to be done there; fails when nothing is told of the slot. */
const struct slot_change *slot_change_at(const struct scene *s, int bank, int slot);

/* That is it, and the reason has these words. */
void slot_expect(const struct scene *s, int bank, int slot, enum slot_step is, const char *says);

/* Each slot that was or is in use is told once, as it is; and no rule is broken. */
void slots_hold_together(const struct scene *s);

/* The listener wants that service so much. */
void slots_want(struct scene *s, const char *service, double weight);

#endif
