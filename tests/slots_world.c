#include "tests/slots_world.h"

#include <stdio.h>
#include <string.h>

#include "tests/test.h"
#include "tools/plan/words.h"

struct freq slot_centre(int32_t band, int32_t channel)
{
	return raster_centre(&world_band[band].raster, channel);
}

const struct slot_change *slot_change_at(const struct scene *s, int bank, int slot)
{
	for (int i = 0; i < s->plan->changes; i++)
		if (s->plan->change[i].bank == bank && s->plan->change[i].slot == slot)
			return &s->plan->change[i];
	fail_msg("bank %d slot %d is not told", bank, slot);
	return NULL;
}

void slot_expect(const struct scene *s, int bank, int slot, enum slot_step is, const char *says)
{
	const struct slot_change *c = slot_change_at(s, bank, slot);

	if (c->is != is || !strstr(c->reason, says))
		fail_msg("bank %d slot %d: %s, \"%s\", not %s with \"%s\"", bank, slot, slot_step_name(c->is), c->reason,
			 slot_step_name(is), says);
}

void slots_hold_together(const struct scene *s)
{
	char broken[200];
	const char *rule = plan_check(s->plan, &s->receiver, s->census, s->suspect, broken);
	int told = 0;

	if (rule)
		fail_msg("%s", rule);
	/* A second seat names the first one of its channel, where that is now. */
	for (int i = 0; i < s->plan->memories; i++) {
		const struct memory *second = &s->plan->memory[i], *first = NULL;
		for (int k = 0; k < s->plan->memories; k++)
			if (s->plan->memory[k].bank == second->same_as.bank && s->plan->memory[k].slot == second->same_as.slot)
				first = &s->plan->memory[k];
		assert_true(!second->same_as.bank || (first && !first->same_as.bank && first->channel == second->channel));
	}
	for (int bank = 1; bank <= s->receiver.banks; bank++)
		for (int slot = 1; slot <= s->receiver.memories; slot++) {
			const struct memory *was = former_at(&s->former, bank, slot), *now = NULL;
			for (int i = 0; i < s->plan->memories; i++)
				if (s->plan->memory[i].bank == bank && s->plan->memory[i].slot == slot)
					now = &s->plan->memory[i];
			if (!was && !now)
				continue;
			const struct slot_change *c = slot_change_at(s, bank, slot);
			told++;
			bool same = was && now && was->landing.landed.thirds == now->landing.landed.thirds &&
				    was->mode == now->mode;
			assert_true(!was == (c->is == SLOT_NEW) && !now == (c->is == SLOT_CLEAR));
			assert_true(same == (c->is == SLOT_KEEP || c->is == SLOT_ADJUST));
			assert_true((c->keys > 0) == (c->is != SLOT_KEEP));
			assert_true(c->reason[0] && c->was_landed.thirds == (was ? was->landing.landed.thirds : 0));
			assert_true(!was || !was->fixed || c->is == SLOT_KEEP);
		}
	assert_int_equal(told, s->plan->changes);
}

void slots_want(struct scene *s, const char *service, double weight)
{
	for (int i = 0; i < s->interests.services; i++)
		if (strcmp(s->interests.service[i].service, service) == 0)
			s->interests.service[i].weight = weight;
}
