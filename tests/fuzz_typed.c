/* Feeds what it is given to the reader of plan files, plans for a set so typed, and holds both to their
 * promises. As it is built, it takes files and folders of them and serves as a test over
 * tests/corpus/typed. tests/fuzz.sh searches for more. */
#include "tests/fuzz_table.h"

#include <string.h>

#include "store/text.h"
#include "tools/plan/former.h"
#include "tools/plan/propose.h"

static void promise_ranges(const struct typed *t)
{
	promise(t->line > 1, "a memory comes after the head");
	promise(t->bank >= 1 && t->bank <= 9999 && t->slot >= 0 && t->slot <= 9999, "a place");
	promise(t->frequency.thirds >= 300000 && t->frequency.thirds <= INT64_C(18000000000),
		"a frequency in range");
	promise(t->mode >= MODE_NONE && t->mode < MODE_COUNT, "a mode");
	promise(t->delay_s == -1 || (t->delay_s >= 0 && t->delay_s <= 60), "a delay in range");
	promise(t->noted >= NOTED_NOTHING && t->noted < NOTED_COUNT, "a note");
	char tamed[sizeof t->name];
	promise(memchr(t->name, '\0', sizeof t->name) != NULL, "a name ends");
	memcpy(tamed, t->name, sizeof tamed);
	promise(strcmp(text_tame(tamed), t->name) == 0, "a name is fit to be printed");
}

/* The set of so many banks, of four memories each, that some of the lists fit in. */
static struct receiver small_set(void)
{
	return (struct receiver){
		.name = "small", .banks = 3, .memories = 4, .live_per_bank = 2, .empty_per_bank = 1, .scan_rate = 25,
		.priorities = 1, .reaches = 1, .display_digits = 4,
		.delay_us = { 2000000 }, .delays = 1, .filter_hz = { 0, 9000, 15000, 180000 },
		.reach[0] = { FREQ_KHZ(25000), FREQ_KHZ(900000), 1u << MODE_NFM | 1u << MODE_AM,
			      { FREQ_HZ(5000), FREQ_HZ(12500) }, 2 },
	};
}

/* What a plan makes of a set so typed: pinned slots are as they were, and the changes tell of all. */
static void plan_again(const struct former *f, const struct receiver *r)
{
	struct interests i;
	char broken[200];

	promise(interests_default(&i) == 0, "memory for the interests");
	struct plan *p = propose_again(f->census, NULL, r, &i, f);
	promise(p != NULL, "memory for the plan");
	promise(plan_check(p, r, f->census, NULL, broken) == NULL, "the rules of the trade");
	for (int n = 0; n < f->set->memories; n++) {
		const struct memory *m = &f->set->memory[n];
		const struct freq low = { m->frequency.thirds - FREQ_KHZ(15).thirds },
				  high = { m->frequency.thirds + FREQ_KHZ(15).thirds };
		bool stays = m->fixed && !landing_forbidden(low, high);
		int told = 0;
		for (int k = 0; k < p->changes; k++)
			if (p->change[k].bank == m->bank && p->change[k].slot == m->slot)
				told += !stays || p->change[k].is == SLOT_KEEP ? 1 : 100;
		promise(told == 1, "each slot is told once, and a pinned one stays");
	}
	plan_destroy(p);
	interests_free(&i);
}

/* Typed into a small set, with nothing heard. */
static void type_in(const struct typed_list *l)
{
	struct receiver r = small_set();
	struct census c = { 0 };
	struct fault why = { 0 };
	struct former f;

	if (former_create(l, "list", &c, &r, &f, &why) < 0) {
		promise_refusal(&why);
		former_free(&f);
		return;
	}
	promise(f.set->memories == l->n && l->n <= 12, "all are in the set");
	for (int i = 0; i < l->n; i++) {
		const struct memory *m = &f.set->memory[i];
		promise(m->bank >= 1 && m->bank <= 3 && m->slot >= 1 && m->slot <= 4 && m->channel == -1, "a seat");
		promise(m->delay_us == 0 || m->delay_us == 2000000, "a delay that it has");
	}
	plan_again(&f, &r);
	former_free(&f);
}

static int read_list(const char *path, void *out, struct fault *why)
{
	return typed_read(path, out, why);
}

static int rows(const void *out)
{
	const struct typed_list *l = out;

	return l->at ? l->n + 1 : l->n;
}

static void hold(void *out)
{
	const struct typed_list *l = out;

	promise(l->n > 0 && l->n <= TYPED_MOST, "so many");
	for (int i = 0; i < l->n; i++)
		promise_ranges(&l->at[i]);
	type_in(l);
}

static void let_go(void *out)
{
	typed_free(out);
}

const struct fuzz_table fuzz_table = { sizeof(struct typed_list), read_list, rows, hold, let_go };
