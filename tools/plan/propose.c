#include "tools/plan/propose.h"

#include "tools/plan/delay.h"
#include "tools/plan/doubles.h"
#include "tools/plan/everyday.h"
#include "tools/plan/layout.h"
#include "tools/plan/list.h"
#include "tools/plan/priority.h"
#include "tools/plan/ranges.h"
#include "tools/plan/rasters.h"
#include "tools/plan/slots.h"

#include <stdio.h>
#include <stdlib.h>

/* Pinned frequencies the survey has no channel for follow the channels. */
static int judge_pinned(const struct matter *m, struct judgement *j, int n)
{
	const struct interests *i = m->interests;

	for (int p = 0; p < i->n_pinned; p++) {
		bool done = false;
		for (int c = 0; c < m->census->channels && !done; c++)
			done = m->census->channel[c].centre.thirds == i->pinned[p].thirds;
		for (int q = 0; q < p && !done; q++)
			done = i->pinned[q].thirds == i->pinned[p].thirds;
		for (int k = 0; m->former && k < m->former->set->memories && !done; k++)
			done = m->former->set->memory[k].fixed &&
			       m->former->set->memory[k].frequency.thirds == i->pinned[p].thirds;
		if (done || interests_never(i, i->pinned[p]))
			continue;
		j[n] = (struct judgement){ 0 };
		if (judge_unheard(m, i->pinned[p], &j[n].memory) == 0)
			j[n++].fate = FATE_SCAN;
	}
	return n;
}

/* Pinned slots on which nothing was heard, and those on a channel that another one has, follow. */
static int judge_slots(const struct matter *m, struct judgement *j, int n)
{
	for (int i = 0; m->former && i < m->former->set->memories; i++) {
		const struct memory *was = &m->former->set->memory[i];
		const struct memory *first = former_of(m->former, was->channel).fixed;
		if (!was->fixed || (was->channel >= 0 && first == was))
			continue;
		j[n] = (struct judgement){ .fate = was->locked ? FATE_LOCK : FATE_SCAN,
					   .held = true };
		if (judge_silent(m, was, &j[n].memory) < 0)
			continue;
		j[n].memory.channel = was->channel;
		if (was->channel >= 0) {
			j[n].memory.same_as = (struct memory_place){ first->bank, first->slot };
			snprintf(j[n].memory.evidence, sizeof j[n].memory.evidence,
				 "as bank %d slot %d", first->bank, first->slot);
		}
		n++;
	}
	return n;
}

static int by_slot(const void *a, const void *b)
{
	const struct memory *x = a, *y = b;
	return x->bank != y->bank ? x->bank - y->bank : x->slot - y->slot;
}

static int gather(const struct matter *m, const struct judgement *j, int n, struct plan *p)
{
	for (int i = 0; i < n; i++) {
		if (j[i].fate != FATE_LEAVE) {
			if (list_room((void **)&p->memory, p->memories, sizeof *p->memory) < 0)
				return -1;
			p->memory[p->memories++] = j[i].memory;
		} else if (i < m->census->channels) {
			if (list_room((void **)&p->left, p->lefts, sizeof *p->left) < 0)
				return -1;
			p->left[p->lefts] = (struct left){ .channel = i };
			snprintf(p->left[p->lefts].reason, sizeof p->left[0].reason, "%s",
				 j[i].reason);
			p->lefts++;
		}
	}
	if (p->memories > 1)
		qsort(p->memory, (size_t)p->memories, sizeof *p->memory, by_slot);
	return 0;
}

/* Tells the reader where the left-out light ones can still be met. */
static void point_to_ranges(const struct matter *m, const struct judgement *j, struct plan *p)
{
	for (int i = 0; i < p->lefts; i++) {
		const struct channel *ch = &m->census->channel[p->left[i].channel];
		if (!j[p->left[i].channel].light)
			continue;
		for (int s = 0; s < p->searches; s++) {
			if (ch->centre.thirds < p->search[s].low.thirds ||
			    ch->centre.thirds > p->search[s].high.thirds)
				continue;
			snprintf(p->left[i].reason, sizeof p->left[i].reason,
				 "%.180s; search range %d covers it", j[p->left[i].channel].reason,
				 s + 1);
			break;
		}
	}
}

/* Frequencies of a band surveyed on a wrong raster are wrong in the plan too. */
static int note_rasters(const struct matter *m, struct plan *p)
{
	struct raster_told *told = rasters_all(m->census, m->suspect);
	char words[200];
	int result = told ? 0 : -1;

	for (int b = 0; b < m->census->bands && result == 0; b++) {
		if (told[b].word != RASTER_WRONG)
			continue;
		result = list_room((void **)&p->note, p->notes, sizeof *p->note);
		if (result < 0)
			break;
		p->note[p->notes] = (struct note){ .band = b };
		snprintf(p->note[p->notes].text, sizeof p->note[0].text,
			 "%s; its frequencies here are not exact",
			 rasters_words(&told[b], words, sizeof words));
		p->notes++;
	}
	free(told);
	return result;
}

struct plan *propose(const struct census *c, const struct suspect *s, const struct receiver *r,
		     const struct interests *i)
{
	return propose_again(c, s, r, i, NULL);
}

struct plan *propose_again(const struct census *c, const struct suspect *s,
			   const struct receiver *r, const struct interests *i,
			   const struct former *f)
{
	const struct matter m = { c, s, r, i, f };
	struct repertoire on = { 0 };
	struct plan *p = calloc(1, sizeof *p);
	size_t pinned = (size_t)i->n_pinned + (f ? (size_t)f->set->memories : 0);
	struct judgement *j = calloc((size_t)c->channels + pinned + 1, sizeof *j);

	if (!p || !j)
		goto fail;
	snprintf(p->receiver, sizeof p->receiver, "%s", r->name);
	for (int n = 0; n < c->channels; n++)
		judge(&m, n, &j[n]);
	int n = judge_slots(&m, j, judge_pinned(&m, j, c->channels));
	if (repertoire_create(&on, c) < 0 || layout_banks(&m, j, n) < 0 ||
	    gather(&m, j, n, p) < 0 || everyday_fill(&m, &on, p) < 0 || slots_settle(&m, p) < 0 ||
	    ranges_find(&m, j, p) < 0 || note_rasters(&m, p) < 0)
		goto fail;
	point_to_ranges(&m, j, p);
	layout_sets(&m, p);
	if (delays_choose(&m, &on, p) < 0 || priority_choose(&m, &on, p) < 0 ||
	    doubles_add(&m, &on, p) < 0 || forecast_sets(p, c, r, &on) < 0 ||
	    slots_changes(&m, p) < 0 || attenuator_advise(c, s, r, p, &p->attenuator) < 0 ||
	    unknown_find(c, s, i, &p->unknown) < 0)
		goto fail;
	repertoire_free(&on);
	free(j);
	return p;
fail:
	repertoire_free(&on);
	free(j);
	plan_destroy(p);
	return NULL;
}
