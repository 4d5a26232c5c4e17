#include "tests/test.h"

#include <string.h>

#include "tests/shelf_receiver.h"
#include "tools/plan/hazard.h"
#include "tools/plan/keys.h"

/* A strong broadcaster and a weak one. */
static struct channel heard[] = {
	{ .centre = FREQ_KHZ(98300), .peak_db = 71 },
	{ .centre = FREQ_KHZ(101100), .peak_db = 44 },
};
static const struct census census = { .channel = heard, .channels = 2 };

static void what_the_set_adds(void **state)
{
	static const struct {
		const char *why;
		int64_t     khz;
		const char *said;       /* "": nothing */
	} cases[] = {
		/* 98.3 + 2 x 10.7: an FM station in the aircraft band (common practice). */
		{ "an image above", 119700, "98.3" },
		{ "an image below", 76900, "98.3" },
		{ "an image that would be of a weak one", 122500, "" },
		{ "not twice the IF away", 109000, "" },
		{ "its own birdie", 160000, "160" },
		{ "a birdie in the filter's edge", 160006, "160" },
		{ "a birdie outside the filter", 160010, "" },
	};
	struct receiver r = shelf_receiver();
	char out[HAZARD_TEXT];

	(void)state;
	r.birdie[r.birdies++] = FREQ_KHZ(160000);
	r.first_if[r.ifs++] = FREQ_KHZ(10700);
	for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
		bool any = hazard_at(&r, &census, FREQ_KHZ(cases[i].khz), MODE_NFM, out);
		if (any != (cases[i].said[0] != '\0') || !strstr(out, cases[i].said))
			fail_msg("%s: \"%s\"", cases[i].why, out);
	}
}

static void keys_are_counted(void **state)
{
	const struct keypad k = { .enter = 1, .mode = 2, .step = 3, .delay = 4, .lockout = 5, .priority = 6 };
	struct memory a = { .mode = MODE_NFM, .landing = { .step = FREQ_KHZ(5), .landed = FREQ_KHZ(154235) } };
	struct memory b = a, c = a;

	(void)state;
	b.landing.landed = FREQ_KHZ(155000);
	c.delay_us = 2000000;
	c.locked = c.priority = true;
	/* "154.235" is seven keys with its point; "155" three. */
	assert_int_equal(keys_entry(&k, &a, NULL), 7 + 1 + 2 + 3 + 4);
	assert_int_equal(keys_entry(&k, &b, &a), 3 + 1);
	assert_int_equal(keys_entry(&k, &c, &b), 7 + 1 + 4 + 5 + 6);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(what_the_set_adds),
		cmocka_unit_test(keys_are_counted),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
