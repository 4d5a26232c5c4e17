/* Who is seen to make whom: what one look after another tells of a line and of those
 * that it might be mixed from. */
#include "tests/test.h"

#include <math.h>
#include <string.h>

#include "daemon/suspicion.h"

#define FIRST_HZ 154000000
#define STEP_HZ  25000
#define LOOK_US  2000000        /* from one look at the hop to the next */

/* One hop. The child stands at 2 a - b; c is as strong as they, and mixes to nothing near. */
enum { A = 20, B = 10, CHILD = 30, C = 47 };

static const struct band band = {
	.id = "b", .mode = MODE_NFM, .width_hz = 11000,
	.raster = { FREQ_HZ(FIRST_HZ), FREQ_HZ(STEP_HZ), 60 } };
static const struct span span = { 0, 0, 60 };
static const struct hop hop = {
	.centre = FREQ_HZ(FIRST_HZ + 59 * STEP_HZ / 2), .rate_hz = 2400000, .bins = 1920,
	.spans = &span, .n_spans = 1 };

/* One look: '-' not on, 'a' on, '?' not to be judged. */
static void look(struct lines_heard *h, int64_t *now_us, const char state[4])
{
	static const int channels[] = { A, B, CHILD, C };
	static const double power_db[] = { -20, -21, -60, -20 };
	enum verdict verdict[60];
	struct finding finding[4];
	struct judged j = { .verdict = verdict, .seats = 60, .finding = finding };
	struct look l = { .mono_us = *now_us += LOOK_US };

	for (int i = 0; i < 60; i++)
		verdict[i] = VERDICT_IDLE;
	for (int i = 0; i < 4; i++) {
		verdict[channels[i]] = state[i] == '?' ? VERDICT_BLIND :
				       state[i] == '-' ? VERDICT_IDLE : VERDICT_BUSY;
		if (state[i] != '-' && state[i] != '?')
			finding[j.findings++] = (struct finding){ .channel = channels[i],
				.seat = channels[i], .power = pow(10, power_db[i] / 10) };
	}
	lines_heard_look(h, &hop, 0, &band, &l, &j);
}

static const struct line_heard *child_of(const struct lines_heard *h)
{
	for (int i = 0; i < h->n; i++)
		if (h->line[i].channel == CHILD)
			return &h->line[i];
	return NULL;
}

/* So that they are known, with the child's likely parents: that these were on then is
 * why they are thought to be, and counts for nothing. */
static void meet_all(struct lines_heard *h, int64_t *now_us)
{
	look(h, now_us, "ab--");
	look(h, now_us, "aba-");
	look(h, now_us, "----");
}

/* Looks after that, as "abxc" in order: parents a and b, the child, the other one. */
static const struct {
	const char *why;
	const char *looks[12];
	int         with, without, both, all;
} rows[] = {
	{ "an over counts once, however long", { "aba-", "aba-", "aba-", "aba-" }, 1, 0, 4, 4 },
	{ "three overs, each with its parents",
	  { "aba-", "----", "aba-", "----", "aba-", "----" }, 3, 0, 6, 3 },
	{ "parents alone are no over of it", { "aba-", "ab--", "ab--", "----" }, 1, 0, 4, 3 },
	{ "heard without one of them", { "aba-", "----", "a-a-", "a-a-" }, 1, 2, 4, 1 },
	{ "heard without both", { "aba-", "----", "--a-" }, 1, 1, 3, 1 },
	{ "a parent that is not judged tells nothing", { "aba-", "----", "?ba-", "a?a-" }, 1, 0, 2, 1 },
	{ "unless the other is surely off", { "aba-", "----", "?-a-", "-?a-" }, 1, 2, 4, 1 },
	{ "a child that is not judged tells nothing", { "aba-", "----", "ab?-", "ab?-" }, 1, 0, 2, 1 },
	{ "somebody else as strong is no parent", { "abac", "---c", "aba-", "---c" }, 2, 0, 4, 2 },
};

static void parents_are_watched(void **state)
{
	(void)state;
	for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
		struct lines_heard h = { 0 };
		int64_t now_us = 1000000000;
		meet_all(&h, &now_us);
		for (int k = 0; k < 12 && rows[i].looks[k]; k++)
			look(&h, &now_us, rows[i].looks[k]);
		const struct line_heard *x = child_of(&h);
		assert_non_null(x);
		const struct evidence *e = &x->proof;
		if (e->parents != 2 || e->with != rows[i].with || e->without != rows[i].without ||
		    x->both != 1 + rows[i].both || x->all != rows[i].all ||
		    fabs(e->parents_share - (x->all + 1.0) / (x->both + 2.0)) > 1e-9)
			fail_msg("%s: %d parents, came %d times with them, was %d times without, in %d "
				 "looks of %d", rows[i].why, e->parents, e->with, e->without, x->all,
				 x->both);
	}
}

/* Others are found to be likelier parents: what was known is forgotten. */
static void new_parents_begin_anew(void **state)
{
	struct lines_heard h = { 0 };
	int64_t now_us = 1000000000;
	(void)state;

	meet_all(&h, &now_us);
	for (int k = 0; k < 3; k++) {
		look(&h, &now_us, "aba-");
		look(&h, &now_us, "----");
	}
	struct line_heard x = *child_of(&h);
	assert_int_equal(x.proof.with, 3);
	now_us += 60000000;                     /* a and b are long gone ... */
	look(&h, &now_us, "----");
	suspicion_parents(&h, &x, 2400000, now_us);
	assert_int_equal(x.proof.parents, 2);   /* ... and still those that were found */
	assert_int_equal(x.proof.with, 3);
	x.proof.parent_hz[0] += 25000;          /* had it been another one */
	look(&h, &now_us, "ab--");
	suspicion_parents(&h, &x, 2400000, now_us);
	assert_int_equal(x.proof.with, 0);
	assert_int_equal(x.both, 0);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(parents_are_watched),
		cmocka_unit_test(new_parents_begin_anew),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
