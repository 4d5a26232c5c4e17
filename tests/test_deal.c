/* Which family has which banks, by hand: a letter is a family, as in "s3 r2"; '.' is nobody's bank. */
#include "tests/test.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "tests/shelf_receiver.h"
#include "tools/plan/deal.h"

#define MOST   128
#define LOCKED '!'              /* "!2": two that are to be locked, of no matter which family */

/* Family s must not wait; x and y are in nobody's interests. */
static struct interest wanted[] = {
	{ .service = "police", .family = "s", .weight = 8 },
	{ .service = "fire", .family = "s", .weight = 10 },
	{ .service = "rail", .family = "r", .weight = 5 },
	{ .service = "air", .family = "a", .weight = 5 },
	{ .service = "works", .family = "w", .weight = 4 },
	{ .service = "trade", .family = "t", .weight = 3 },
	{ .service = "fair", .family = "f", .weight = 1 },
	{ .service = "ferry", .family = "f", .weight = 6 },    /* was not heard, but is wanted more */
	{ .service = "lift", .family = "l", .weight = 0 },
};

struct world {
	struct receiver   receiver;
	struct interests  interests;
	struct judgement  made[MOST];
	struct judgement *at[MOST];
	int               n;
	struct memory     was[MOST];
	struct plan       set;
	struct former     former;
	struct matter     matter;
};

static const char *service_of(char family)
{
	for (size_t i = 0; i < sizeof wanted / sizeof wanted[0]; i++)
		if (wanted[i].family[0] == family && wanted[i].weight != 8)
			return wanted[i].service;
	return "other";
}

static void heard(struct world *w, char family, const char *service, enum fate fate)
{
	struct judgement *j = &w->made[w->n];

	assert_true(w->n < MOST);
	j->fate = fate;
	j->memory.channel = w->n;
	snprintf(j->memory.family, sizeof j->memory.family, "%c", family);
	snprintf(j->memory.service, sizeof j->memory.service, "%.23s", service);
	w->at[w->n++] = j;
}

static void begin(struct world *w, int banks, const char *who)
{
	int used = 0, n;
	char family;

	memset(w, 0, sizeof *w);
	w->receiver = shelf_receiver();         /* 40 memories, 25 scanned, 4 left empty */
	w->receiver.banks = banks;
	w->interests = (struct interests){ .service = wanted, .services = sizeof wanted / sizeof wanted[0] };
	for (; sscanf(who, " %c%d%n", &family, &n, &used) == 2; who += used)
		for (int i = 0; i < n; i++)
			heard(w, family, service_of(family), family == LOCKED ? FATE_LOCK : FATE_SCAN);
	w->matter = (struct matter){ .receiver = &w->receiver, .interests = &w->interests };
}

/* In the set in use, the family's next so many channels sit in that bank: "s3@2 r1@4". */
static void sit(struct world *w, const char *where)
{
	bool seated[MOST] = { false };
	int used = 0, n, bank;
	char family;

	for (; sscanf(where, " %c%d@%d%n", &family, &n, &bank, &used) == 3; where += used)
		for (int i = 0; i < w->n && n > 0; i++) {
			if (seated[i] || w->made[i].memory.family[0] != family)
				continue;
			w->was[w->set.memories++] = (struct memory){ .bank = bank, .channel = i };
			seated[i] = true;
			n--;
		}
	w->set.memory = w->was;
	w->former.set = &w->set;
	w->matter.former = &w->former;
}

static void owners(const struct deal *d, int banks, char out[DEAL_BANKS + 1])
{
	for (int b = 1; b <= banks; b++)
		out[b - 1] = d->owner[b] < 0 ? '.' : d->family[d->owner[b]].name[0];
	out[banks] = '\0';
}

static const struct {
	const char *why;
	int         banks;
	const char *who, *sit, *want;
	int         shared, locked;     /* shared 0: nobody is there to share */
} rows[] = {
	{ "the most wanted first, and bank 1 is its", 10, "r2 s3", "", "sr........", 2, 10 },
	{ "bank 1 is for every day where nothing must not wait", 10, "t1 r2", "", ".rt.......", 3, 10 },
	{ "from four banks on", 4, "r2 t1", "", ".rt.", 3, 4 },
	{ "but not of three", 3, "r2 t1", "", "rt.", 2, 3 },
	{ "nothing heard: nobody's banks", 4, "", "", "....", 0, 4 },
	{ "wanted as much: as the interests list them", 3, "a1 r1", "", "ra.", 2, 3 },
	{ "not among them: last, by name", 6, "y1 x1 t1 l1", "", ".tlxy.", 5, 6 },
	{ "by what is wanted, not by what was heard of it", 3, "r1 f1", "", "fr.", 2, 3 },
	{ "25 are scanned in a bank", 3, "r25 t1", "", "rt.", 2, 3 },
	{ "one more takes a second", 3, "r26", "", "rr.", 2, 3 },
	{ "while each of the others gets one", 4, "s60 r1 a1", "", "ssra", 4, 4 },
	{ "as many as it needs and are to spare", 4, "s50 r1 a1", "", "ssra", 4, 4 },
	{ "fewer than families: the last owner shares his", 3, "s1 r1 a1 w1 t1", "", "sra", 3, 3 },
	{ "who shares shares the last of several", 2, "s60 r1 a1", "", "sr", 2, 2 },
	{ "of eight banks one is for finds", 8, "s1 r1 a1 w1 t1 f1 x1 y1", "", "sfrawtx.", 7, 8 },
	{ "of seven none is", 7, "s1 r1 a1 w1 t1 f1 x1 y1", "", "sfrawtx", 7, 7 },
	{ "one is for the locked ones", 5, "s1 r1 a1 w1 t1 !1", "", "sraw.", 4, 5 },
	{ "where there is one to spare", 1, "s1 r1 !1", "", "s", 1, 1 },
	{ "of two it is the second", 2, "s1 r1 !1", "", "s.", 1, 2 },
	{ "where the set has it already", 5, "r2 t1", "r2@4", ".t.r.", 2, 5 },
	{ "where it has most of it", 6, "r3 t1", "r1@3 r2@5", ".t..r.", 2, 6 },
	{ "the greatest habit first, though less wanted", 6, "r2 t3", "r2@5 t3@5", ".r..t.", 5, 6 },
	{ "and then its second best", 6, "r3 t3", "r2@5 r1@6 t3@5", "....tr", 5, 6 },
	{ "as great: the more wanted", 6, "r2 t2", "r2@5 t2@5", ".t..r.", 2, 6 },
	{ "as many banks as it needs, where it is", 6, "r26 t1", "r10@5 r12@3", ".tr.r.", 2, 6 },
	{ "and no more, though it sits in three", 6, "r26 t1", "r5@5 r6@3 r4@6", ".tr.r.", 2, 6 },
	{ "not into bank 1, which is for every day", 6, "r2 t1", "r2@1", ".rt...", 3, 6 },
	{ "where no bank is for every day", 3, "r1 t2", "t2@1", "tr.", 1, 3 },
	{ "but what must not wait, wherever it is", 6, "s3 r1", "s3@4", "sr....", 2, 6 },
	{ "which of three may stay where it is", 3, "s3 r1", "s3@3", "r.s", 1, 3 },
	{ "locked where the set has most of them", 6, "r1 !3", "!2@3 !1@4", ".r....", 2, 3 },
	{ "and least else", 6, "r3 !3", "!2@3 r2@3 !1@4", "..r...", 3, 4 },
	{ "never in bank 1", 6, "r1 !3", "!3@1", ".r....", 2, 6 },
	{ "nobody has their bank", 4, "r1 t1 a1 !2", "!2@2 r1@2", "..ra", 4, 2 },
};

static void owners_by_hand(void **state)
{
	(void)state;
	for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
		static struct world w;
		char got[DEAL_BANKS + 1];
		struct deal d;
		begin(&w, rows[i].banks, rows[i].who);
		if (rows[i].sit[0])
			sit(&w, rows[i].sit);
		deal_banks(&w.matter, w.at, w.n, &d);
		owners(&d, rows[i].banks, got);
		if (strcmp(got, rows[i].want) != 0 || (rows[i].shared > 0 && d.shared != rows[i].shared) ||
		    d.locked != rows[i].locked)
			fail_msg("%s: %s, shared %d, locked %d", rows[i].why, got, d.shared, d.locked);
	}
}

/* Who has a bank is at home there and nowhere else, the others where they share. */
static void at_home(void **state)
{
	static struct world w;
	struct deal d;

	(void)state;
	begin(&w, 3, "s1 r1 a1 w1");
	deal_banks(&w.matter, w.at, w.n, &d);
	for (int i = 0; i < w.n; i++)
		for (int bank = 1; bank <= 3; bank++)
			assert_int_equal(deal_home(&d, &w.made[i].memory, bank), bank == (i < 3 ? i + 1 : 3));
}

/* A bank in which something that is scanned must not wait; what is locked may. */
static void urgent_banks(void **state)
{
	static const struct {
		const char *service;
		enum fate   fate;
		bool        urgent;
	} by[] = { { "fire", FATE_SCAN, true }, { "ems", FATE_SCAN, true }, { "fire", FATE_LOCK, false },
		   { "fire", FATE_LEAVE, false }, { "police", FATE_SCAN, false } };

	(void)state;
	for (size_t k = 0; k < sizeof by / sizeof by[0]; k++) {
		static struct world w;
		struct deal d;
		begin(&w, 6, "r1");
		heard(&w, 's', by[k].service, by[k].fate);
		heard(&w, 's', "police", FATE_SCAN);
		deal_banks(&w.matter, w.at, w.n, &d);
		for (int bank = 1; bank <= 6; bank++)
			assert_int_equal(deal_urgent(&d, w.at, w.n, bank), by[k].urgent && bank == 1);
		assert_int_equal(d.owner[1], by[k].urgent ? 0 : -1);    /* else it is for every day */
	}
}

/* As many are scanned as the slots allow that are not left for the listener. */
static void room_of_a_bank(void **state)
{
	static struct world w;
	struct deal d;

	(void)state;
	begin(&w, 3, "r17");
	w.receiver.memories = 20;
	for (int empty = 3; empty <= 4; empty++) {
		w.receiver.empty_per_bank = empty;
		deal_banks(&w.matter, w.at, w.n, &d);
		assert_int_equal(d.family[0].banks, empty - 2);
	}
}

/* Families beyond all bounds are one, and nothing is written past the last. */
static void too_many_families(void **state)
{
	static struct world w;
	struct deal d;

	(void)state;
	begin(&w, DEAL_BANKS, "s1");
	for (int i = 1; i < FAMILIES_MAX + 3; i++) {
		heard(&w, 'q', "other", FATE_SCAN);
		snprintf(w.made[i].memory.family, sizeof w.made[i].memory.family, "q%02d", i);
	}
	deal_banks(&w.matter, w.at, w.n, &d);
	assert_int_equal(d.families, FAMILIES_MAX);
	assert_int_equal(d.family[FAMILIES_MAX - 1].members, 4);
	for (int i = FAMILIES_MAX; i < w.n; i++)
		assert_true(deal_home(&d, &w.made[i].memory, d.shared));
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(owners_by_hand),
		cmocka_unit_test(at_home),
		cmocka_unit_test(urgent_banks),
		cmocka_unit_test(room_of_a_bank),
		cmocka_unit_test(too_many_families),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
