#include "tools/verbs.h"
#include "tools/export.h"
#include "tools/night.h"
#include "tools/telling.h"

#include <stdio.h>
#include <stdlib.h>

#define REVIEWS_MOST 65         /* each bank, and all together */

/* All that a rehearsal needs, and what came of it. */
struct theatre {
	struct receiver   receiver;
	struct typed_list typed;
	struct interests  interests;
	struct census    *census;
	struct plan      *plan;
	struct repertoire on;
	struct review     review[REVIEWS_MOST];
	int               reviews;
};

static int play(struct theatre *t, uint64_t banks)
{
	if (review_create(t->plan, t->census, &t->receiver, &t->on, banks, &t->review[t->reviews]) <
	    0)
		return -1;
	t->reviews++;
	return 0;
}

/* The banks asked for, or each alone and then all. */
static int play_all(struct theatre *t, uint64_t asked)
{
	uint64_t all = review_banks(t->plan);

	if (asked)
		return play(t, asked);
	for (int b = 0; b < 64; b++)
		if (all >> b & 1 && play(t, UINT64_C(1) << b) < 0)
			return -1;
	return (all & (all - 1)) == 0 ? 0 : play(t, all);
}

/* Who is probably on each memory. */
static int name_all(struct theatre *t)
{
	struct suspect *s = census_traffic(t->census) == 0 ? suspect_all(t->census) : NULL;

	if (s)
		typed_who(t->plan, t->census, s, &t->interests);
	free(s);
	return s ? 0 : -1;
}

static int work(const struct choice *o, struct theatre *t, struct fault *why)
{
	if (receiver_read(o->receiver, &t->receiver, why) < 0 ||
	    typed_read(o->plan, &t->typed, why) < 0)
		return -1;
	if (o->interests && interests_read(o->interests, &t->interests, why) < 0)
		return -1;
	if (!o->interests && interests_default(&t->interests) < 0)
		return fault_set(why, FAULT_FATAL, "no memory for the rehearsal");
	t->census = night_read(o->file[0], &o->night, why);
	if (!t->census)
		return -1;
	t->plan = typed_plan(&t->typed, o->plan, t->census, &t->receiver, why);
	if (!t->plan)
		return -1;
	if (o->banks & ~review_banks(t->plan))
		return fault_set(why, FAULT_INPUT,
				 "--banks has a bank without memories, must be banks of %s",
				 o->plan);
	if (name_all(t) < 0 || repertoire_create(&t->on, t->census) < 0 ||
	    play_all(t, o->banks) < 0)
		return fault_set(why, FAULT_FATAL, "no memory for the rehearsal");
	return 0;
}

static void strike(struct theatre *t)
{
	for (int i = 0; i < t->reviews; i++)
		review_free(&t->review[i]);
	repertoire_free(&t->on);
	plan_destroy(t->plan);
	census_destroy(t->census);
	typed_free(&t->typed);
	interests_free(&t->interests);
}

int verb_rehearse(const struct choice *o)
{
	struct theatre t = { 0 };
	struct fault why = { 0 };
	int code;

	if (work(o, &t, &why) < 0) {
		code = command_fail(&why);
	} else {
		struct rehearsed r = { o->plan,	    &t.typed, t.plan,	t.census,
				       &t.receiver, t.review, t.reviews };
		int done = telling(o, "sets", tell_rehearsal, &r);
		if (done > 0)
			done = sheet_rehearsal(stdout, &r);
		code = done < 0 ? 1 : command_end();
	}
	strike(&t);
	return code;
}
