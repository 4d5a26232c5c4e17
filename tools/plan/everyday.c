#include "tools/plan/everyday.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "tools/plan/layout.h"
#include "tools/plan/list.h"
#include "tools/plan/slots.h"
#include "tools/plan/together.h"

/* The search for what is worth a second seat. */
struct casting {
	const struct matter *m;
	struct plan         *p;
	struct candidate    *candidate;
	int                 *memory_of; /* place in the plan of each candidate       */
	bool                *in;
	int                  n;
};

bool everyday_kept(const struct receiver *r)
{
	return r->banks >= EVERYDAY_FROM;
}

/* Nobody busy enough to keep a scan for itself is scanned with fire, whatever is gained; who has
 * a pinned slot sits where his listener wants him. */
static bool fit(const struct casting *k, const struct memory *m)
{
	return !m->locked && m->channel >= 0 &&
	       (m->bank == 1 || (!m->fixed && !layout_chatty(k->m->census, m)));
}

/* Whether the set has it in bank 1 already. */
static bool sits(const struct former *f, const struct memory *m)
{
	for (int i = 0; f && i < f->set->memories; i++)
		if (f->set->memory[i].bank == 1 && former_same(&f->set->memory[i], m))
			return true;
	return false;
}

static int audition(struct casting *k)
{
	size_t room = (size_t)k->p->memories + 1;

	k->candidate = calloc(room, sizeof *k->candidate);
	k->memory_of = calloc(room, sizeof *k->memory_of);
	k->in = calloc(room, sizeof *k->in);
	if (!k->candidate || !k->memory_of || !k->in)
		return -1;
	for (int i = 0; i < k->p->memories; i++) {
		const struct memory *m = &k->p->memory[i];
		if (!fit(k, m))
			continue;
		k->memory_of[k->n] = i;
		k->candidate[k->n++] = (struct candidate){
			.line = m->channel,
			.weight = m->weight,
			.delay_s = 1e-6 * (double)m->delay_us,
			.must = m->bank == 1,
			.held = sits(k->m->former, m),
			.passed =
				former_of(k->m->former, m->channel).held && !sits(k->m->former, m),
		};
	}
	return 0;
}

/* What is wanted most first, who sits there already by SLOTS_MOVE_COST more, then as the other
 * banks have it. */
struct applicant {
	struct memory m;
	double        want;
};

static int by_want(const void *a, const void *b)
{
	const struct memory *x = &((const struct applicant *)a)->m,
			    *y = &((const struct applicant *)b)->m;
	double wants = ((const struct applicant *)a)->want,
	       wanted = ((const struct applicant *)b)->want;

	if (wants != wanted)
		return wants > wanted ? -1 : 1;
	if (x->same_as.bank != y->same_as.bank)
		return x->same_as.bank - y->same_as.bank;
	return x->same_as.slot - y->same_as.slot;
}

static struct memory second_seat(const struct memory *m)
{
	struct memory d = *m;

	d.same_as = (struct memory_place){ m->bank, m->slot };
	d.bank = 1;
	d.priority = false;
	snprintf(d.reason, sizeof d.reason, "second seat of bank %d slot %d", m->bank, m->slot);
	return d;
}

/* As many of those chosen as bank 1 has room for. */
static int seat(struct casting *k, int *seated)
{
	struct plan *p = k->p;
	const struct receiver *r = k->m->receiver;
	struct applicant *second = calloc((size_t)k->n + 1, sizeof *second);
	int live = 0, used = 0, n = 0, first = 0, result = -1;

	if (!second)
		return -1;
	for (; first < p->memories && p->memory[first].bank == 1; first++) {
		live += !p->memory[first].locked;
		used++;
	}
	for (int i = 0; i < k->n; i++)
		if (k->in[i] && !k->candidate[i].must)
			second[n++] = (struct applicant){
				second_seat(&p->memory[k->memory_of[i]]),
				k->candidate[i].weight + k->candidate[i].held * SLOTS_MOVE_COST,
			};
	qsort(second, (size_t)n, sizeof *second, by_want);
	*seated = 0;
	for (int i = 0; i < n && live < r->live_per_bank && used < r->memories - r->empty_per_bank;
	     i++) {
		if (list_room((void **)&p->memory, p->memories, sizeof *p->memory) < 0)
			goto out;
		memmove(&p->memory[used + 1], &p->memory[used],
			(size_t)(p->memories - used) * sizeof *p->memory);
		p->memory[used] = second[i].m;
		p->memory[used].slot = used > 0 ? p->memory[used - 1].slot + 1 : 1;
		p->memories++;
		live++;
		used++;
		(*seated)++;
	}
	result = 0;
out:
	free(second);
	return result;
}

static void tell(struct casting *k, const struct together *worth, int seated)
{
	snprintf(
		k->p->everyday, sizeof k->p->everyday,
		"bank 1 has what must not wait and second seats for %d more, the best of %d choices rehearsed: "
		"of what is wanted %.0f %% would be heard, by weight (all %d of them together %.0f %%, and no "
		"choice passes %.0f %%)",
		seated, worth->tried, 100 * worth->chosen, k->n, 100 * worth->all,
		100 * worth->bound);
}

int everyday_fill(const struct matter *m, const struct repertoire *on, struct plan *p)
{
	struct casting k = { .m = m, .p = p };
	const struct tryout t = { on->draw, on->draws, 1 / m->receiver->scan_rate };
	struct together worth;
	int seated = 0, result = -1, cues = 0;

	for (int d = 0; d < on->draws; d++)
		cues += on->draw[d].cues;
	if (!everyday_kept(m->receiver) || cues == 0)
		return 0;               /* nothing to rehearse with */
	if (audition(&k) < 0)
		goto out;
	result = 0;
	if (k.n == 0)
		goto out;
	if (together_choose(&t, k.candidate, k.n, EVERYDAY_GAIN, k.in, &worth) < 0 ||
	    seat(&k, &seated) < 0)
		result = -1;
	else if (seated > 0)
		tell(&k, &worth, seated);
out:
	free(k.candidate);
	free(k.memory_of);
	free(k.in);
	return result;
}
