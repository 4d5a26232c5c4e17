/* Which banks are switched on together, by hand: plans of a few memories, and the sets as text. */
#include "tests/test.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

#include "tests/shelf_receiver.h"
#include "tools/plan/layout.h"

#define MOST 128

enum { QUIET = 0, CHATTY };     /* channels of the census below */

/* Memories put in order by bank; '+' before a family: second seats of it, '#': locked, '*': chatty. */
static void fill(struct plan *p, struct memory *room, const char *who)
{
	int bank, n, used;
	char mark, family[24];

	p->memory = room;
	for (; sscanf(who, " %d:%c%d%23[a-z]%n", &bank, &mark, &n, family, &used) == 4; who += used)
		for (int i = 0; i < n; i++) {
			struct memory *m = &p->memory[p->memories++];
			assert_true(p->memories <= MOST);
			*m = (struct memory){ .bank = bank, .slot = i + 1, .channel = mark == '*' ? CHATTY : QUIET,
					      .locked = mark == '#', .same_as = { .bank = mark == '+' ? 9 : 0 } };
			snprintf(m->family, sizeof m->family, "%s", family);
			snprintf(m->service, sizeof m->service, "%s", family);
		}
}

static void tell(const struct plan *p, char *out, size_t size)
{
	size_t n = 0;

	out[0] = '\0';
	for (int s = 0; s < p->sets; s++) {
		n += (size_t)snprintf(out + n, size - n, "%s%s", s ? ", " : "", p->set[s].name);
		for (int bank = 1; bank <= 64; bank++)
			if (p->set[s].banks >> (bank - 1) & 1)
				n += (size_t)snprintf(out + n, size - n, " %d", bank);
	}
}

static const struct {
	const char *why, *who, *reason, *want;  /* reason: of bank 1, when it is filled for every day */
} rows[] = {
	{ "nothing", "", "", "" },
	{ "one bank, of one name", "1:-3fire", "", "everyday 1" },
	{ "banks while a round is short", "1:-3fire 2:-4rail 3:-5air", "", "everyday 1 2 3, fire 1, rail 2, air 3" },
	{ "40 looks are 1.6 s at 25 a second", "1:-3fire 2:-25rail 3:-12air", "",
	  "everyday 1 2 3, fire 1, rail 2, air 3" },
	{ "one more is too many, at night too", "1:-3fire 2:-25rail 3:-13air", "",
	  "everyday 1 2, quiet night 1 2 3, fire 1, rail 2, air 3" },
	{ "a later one may still fit in", "1:-3fire 2:-25rail 3:-25air 4:-2taxi", "",
	  "everyday 1 2 4, quiet night 1 2 3 4, fire 1, rail 2, air 3, taxi 4" },
	{ "who chats is scanned by himself", "1:-3fire 2:*1rail 3:-2air", "", "everyday 1 3, fire 1, rail 2, air 3" },
	{ "unless he is the first", "1:*1rail 3:-2air", "", "everyday 1 3, rail 1, air 3" },
	{ "bank 1 filled for every day is enough", "1:-3fire 1:+4rail 2:-4rail 3:-5air", "chosen",
	  "everyday 1, quiet night 1 2 3, rail 2, air 3" },
	{ "second seats are not less of the same", "1:-3fire 1:+4rail 2:-4rail", "chosen",
	  "everyday 1, rail 2" },
	{ "a family's banks together, from its first", "1:-3fire 2:-25rail 3:-25air 4:-9rail", "",
	  "everyday 1 2 4, quiet night 1 2 3 4, fire 1, rail 2 4, air 3" },
	{ "with others in one of them", "1:-3fire 2:-25rail 3:-25air 4:-9rail 4:-2taxi", "",
	  "everyday 1 2 4, quiet night 1 2 3 4, fire 1, rail and more 2 4, air 3" },
	{ "what is locked is not scanned", "1:-3fire 2:#9rail 3:-2air", "", "everyday 1 3, fire 1, air 3" },
};

static void sets_by_hand(void **state)
{
	struct channel ch[2] = { [CHATTY] = { .hold_share = CHATTY_SHARE + 0.01 }, [QUIET] = { .hold_share = CHATTY_SHARE } };
	const struct census c = { .channel = ch, .channels = 2 };
	const struct receiver r = shelf_receiver();
	const struct matter m = { .census = &c, .receiver = &r };

	(void)state;
	for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
		static struct memory room[MOST];
		struct plan p = { 0 };
		char got[400];
		fill(&p, room, rows[i].who);
		snprintf(p.everyday, sizeof p.everyday, "%s", rows[i].reason);
		layout_sets(&m, &p);
		tell(&p, got, sizeof got);
		if (strcmp(got, rows[i].want) != 0)
			fail_msg("%s: %s", rows[i].why, got);
	}
}

/* A round is of what is scanned, at the receiver's rate. */
static void rounds_are_counted(void **state)
{
	static struct memory room[MOST];
	struct channel ch[2] = { { 0 } };
	const struct census c = { .channel = ch, .channels = 2 };
	const struct receiver r = shelf_receiver();
	const struct matter m = { .census = &c, .receiver = &r };
	struct plan p = { 0 };

	(void)state;
	fill(&p, room, "1:-3fire 1:#2fire 2:-4rail 3:-25air 3:+9air");
	layout_sets(&m, &p);
	assert_int_equal(p.set[0].scanned, 7);
	assert_true(fabs(p.set[0].cycle_s - 7 / 25.0) < 1e-9);
	assert_int_equal(p.set[p.sets - 1].scanned, 34);
}

/* No more sets than there is room for, and none of a bank beyond the 64th. */
static void no_more_than_room(void **state)
{
	static struct memory room[MOST];
	struct channel ch[2] = { { 0 } };
	const struct census c = { .channel = ch, .channels = 2 };
	struct receiver r = shelf_receiver();
	const struct matter m = { .census = &c, .receiver = &r };
	struct plan p = { 0 };

	(void)state;
	r.banks = 70;
	for (int b = 0; b < 70; b++) {
		room[b] = (struct memory){ .bank = b + 1, .slot = 1, .channel = QUIET };
		snprintf(room[b].family, sizeof room[b].family, "f%d", b);
	}
	p.memory = room;
	p.memories = 64;
	layout_sets(&m, &p);
	assert_int_equal(p.sets, BANKSETS_MAX);
	assert_true(p.set[0].scanned == 40 && p.set[1].scanned == 64);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(sets_by_hand),
		cmocka_unit_test(rounds_are_counted),
		cmocka_unit_test(no_more_than_room),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
