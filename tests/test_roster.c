/* Who has which hops. */
#include "tests/test.h"

#include <string.h>

#include "daemon/roster.h"

#define HOPS 27

struct seen {
	int moves, wrong;
	const struct roster *r;
};

static void moved(void *self, int hop, int from, int to)
{
	struct seen *s = self;

	s->moves++;
	s->wrong += hop < 0 || hop >= s->r->hops || from == to || s->r->post[hop] != to;
}

static int count(const struct roster *r, int post)
{
	int n = 0;

	for (int i = 0; i < r->hops; i++)
		n += r->post[i] == post;
	return n;
}

/* What happens one after the other, and how many hops each post then has. */
static const struct event {
	const char     *why;
	enum attendance is[3];
	double          cost_us[3];     /* 0: as before */
	int             have[3];
	int             moves;
} events[] = {
	{ "all come: everyone keeps a third", { POST_COMING, POST_COMING, POST_COMING }, { 0 }, { 9, 9, 9 }, 0 },
	{ "one is ready before the others", { POST_READY, POST_COMING, POST_COMING }, { 0 }, { 9, 9, 9 }, 0 },
	{ "all ready", { POST_READY, POST_READY, POST_READY }, { 0 }, { 9, 9, 9 }, 0 },
	{ "one goes: shared by the two", { POST_READY, POST_AWAY, POST_READY }, { 0 }, { 14, 0, 13 }, 9 },
	{ "still away", { POST_READY, POST_AWAY, POST_READY }, { 0 }, { 14, 0, 13 }, 0 },
	{ "another goes too", { POST_READY, POST_AWAY, POST_AWAY }, { 0 }, { 27, 0, 0 }, 13 },
	{ "the last goes: nobody to take over", { POST_AWAY, POST_AWAY, POST_AWAY }, { 0 }, { 27, 0, 0 }, 0 },
	{ "one is back", { POST_AWAY, POST_READY, POST_AWAY }, { 0 }, { 0, 27, 0 }, 27 },
	{ "all are", { POST_READY, POST_READY, POST_READY }, { 0 }, { 9, 9, 9 }, 18 },
	{ "a little slower is no reason", { POST_READY, POST_READY, POST_READY }, { 35000, 44000, 35000 },
	  { 9, 9, 9 }, 0 },
	{ "half as fast: half as many", { POST_READY, POST_READY, POST_READY }, { 35000, 70000, 35000 },
	  { 11, 5, 11 }, 4 },
	{ "as fast again", { POST_READY, POST_READY, POST_READY }, { 35000, 35000, 35000 }, { 9, 9, 9 }, 4 },
	{ "one that comes late has had nothing to give up yet", { POST_READY, POST_COMING, POST_READY }, { 0 },
	  { 9, 9, 9 }, 0 },
};

static void hops_are_shared(void **state)
{
	struct roster r;

	(void)state;
	assert_int_equal(roster_create(&r, 3, HOPS, 35000), 0);
	for (size_t i = 0; i < sizeof events / sizeof events[0]; i++) {
		const struct event *e = &events[i];
		struct seen seen = { .r = &r };
		for (int p = 0; p < 3; p++) {
			r.is[p] = e->is[p];
			if (e->cost_us[p] > 0)
				roster_cost(&r, p, e->cost_us[p]);
		}
		roster_share(&r, moved, &seen);
		for (int p = 0; p < 3; p++)
			if (count(&r, p) != e->have[p])
				fail_msg("%s: post %d has %d hops, want %d", e->why, p, count(&r, p), e->have[p]);
		if (seen.moves != e->moves || seen.wrong)
			fail_msg("%s: %d moves, want %d; %d of them wrong", e->why, seen.moves, e->moves,
				 seen.wrong);
	}
	roster_free(&r);
}

/* Neighbouring hops stay together at the start, and come home again. */
static void a_run_of_neighbours_each(void **state)
{
	struct roster r;
	struct seen seen = { .r = &r };
	int before[HOPS];

	(void)state;
	assert_int_equal(roster_create(&r, 3, HOPS, 35000), 0);
	for (int i = 1; i < HOPS; i++)
		assert_in_range(r.post[i] - r.post[i - 1], 0, 1);
	memcpy(before, r.post, sizeof before);
	r.is[0] = r.is[1] = r.is[2] = POST_READY;
	r.is[1] = POST_AWAY;
	roster_share(&r, moved, &seen);
	r.is[1] = POST_READY;
	roster_share(&r, moved, &seen);
	assert_memory_equal(before, r.post, sizeof before);
	roster_free(&r);
}

/* More posts than hops, or one alone: nobody moves anything for nothing. */
static void odd_numbers(void **state)
{
	static const struct { int posts, hops; } odd[] = { { 1, 5 }, { 1, 1 }, { 8, 3 }, { 2, 1 }, { 8, 8 } };

	(void)state;
	for (size_t i = 0; i < sizeof odd / sizeof odd[0]; i++) {
		struct roster r;
		struct seen seen = { .r = &r };
		assert_int_equal(roster_create(&r, odd[i].posts, odd[i].hops, 35000), 0);
		for (int p = 0; p < odd[i].posts; p++)
			r.is[p] = POST_READY;
		roster_share(&r, moved, &seen);
		if (seen.moves)
			fail_msg("%d posts, %d hops: %d moves", odd[i].posts, odd[i].hops, seen.moves);
		roster_free(&r);
	}
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(hops_are_shared),
		cmocka_unit_test(a_run_of_neighbours_each),
		cmocka_unit_test(odd_numbers),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
