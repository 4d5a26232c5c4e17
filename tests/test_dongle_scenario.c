/* An emulated dongle's scenario as text. */
#include "tests/test.h"

#include <stdio.h>
#include <string.h>

#include "tests/dongle/scene.h"

/* What every field holds after it was written and read again. */
static void what_is_written_is_read(void **state)
{
	struct scenario s = scenario_usual(), again;
	struct fault why = { 0 };
	struct scene scene;

	(void)state;
	snprintf(s.town, sizeof s.town, "%s/tests/data/dongle-air.conf", SOURCE_ROOT);
	s.seed = 20260217;
	s.start_us = 1771358400000000;
	s.town_events = true;
	s.control_us = 150.25;
	s.speed = 3;
	s.leaps = false;
	*scenario_dongle(&s, "roof") = (struct scenario_dongle){ "roof", 31, 9, 2, 1200 };
	*scenario_mischief(&s, MISCHIEF_UNLOCKED) = (struct mischief){
		MISCHIEF_UNLOCKED, 1, WHEN_RETUNES, 7, 0.1, 3, -40, 149.5, 160.25,
	};
	scenario_mischief(&s, MISCHIEF_VANISH)->when = WHEN_BYTES;
	scene_begin(&scene, &s);
	if (scenario_read(scene.path, &again, &why) < 0)
		fail_msg("%s", why.text);
	scene_end(&scene);
	/* Both were made of zeros, so the gaps between fields are the same. */
	assert_memory_equal(&again, &s, sizeof s);
}

static const struct {
	const char *why, *text, *says;
} bad[] = {
	{ "no such word", "dongle 1\nantenna 3\n", ":2: \"antenna\"" },
	{ "no number", "speed fast\n", ":1: \"speed\"" },
	{ "no such mischief", "mischief theft\n", ":1: \"mischief\"" },
	{ "no such trigger", "mischief drop\nwhen ever\n", ":2: \"when\"" },
	{ "nothing yet that it could be about", "ppm 30\n", ":1: \"ppm\"" },
	{ "no value", "# a remark\n\nleaps\n", ":3: \"leaps\"" },
	{ "more dongles than there may be", "dongle 1\ndongle 2\ndongle 3\ndongle 4\ndongle 5\n",
	  ":5: \"dongle\"" },
};

static void nonsense_is_refused_by_line(void **state)
{
	struct scenario usual = scenario_usual(), s;
	struct scene scene;

	(void)state;
	scene_begin(&scene, &usual);
	for (size_t i = 0; i < sizeof bad / sizeof bad[0]; i++) {
		struct fault why = { 0 };
		FILE *f = fopen(scene.path, "w");
		assert_non_null(f);
		fputs(bad[i].text, f);
		fclose(f);
		int r = scenario_read(scene.path, &s, &why);
		if (r != -1 || why.kind != FAULT_INPUT || !strstr(why.text, bad[i].says))
			fail_msg("%s: returns %d, \"%s\"", bad[i].why, r, why.text);
	}
	scene_end(&scene);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(what_is_written_is_read),
		cmocka_unit_test(nonsense_is_refused_by_line),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
