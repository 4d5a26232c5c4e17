#include "tests/test.h"

#include "tests/plan_world.h"
#include "tools/plan/words.h"

#include <stdio.h>
#include <string.h>

/* One band of 400 channels of 12.5 kHz from 450 MHz, 16 s to sweep at 25 a second;
 * emissions are 11 kHz wide, so a search keeps 30.5 kHz off: five channels are lost
 * around a signal on the raster. */
enum heard { NOTHING = 0, LITTLE, WELL, ALWAYS };

static const struct {
	const char *why, *service;
	struct { int32_t channel; enum heard how; } at[4];
	const char *want;
} rows[] = {
	{ "wanted, and nothing heard: as much as 15 s sweep", "police", { { 0 } }, "450-454.675" },
	{ "weight 5 is searched on the chance", "rail", { { 0 } }, "450-454.675" },
	{ "weight 4 is not", "works", { { 0 } }, "" },
	{ "nor weight 3", "business", { { 0 } }, "" },
	{ "but what was heard a little is", "business", { { 50, LITTLE } }, "450-454.675" },
	{ "data services never", "paging", { { 50, LITTLE } }, "" },
	{ "the longer side of what never ends", "police", { { 100, ALWAYS } }, "451.2875-454.9875" },
	{ "the longer side of a memory", "police", { { 300, WELL } }, "450-453.7125" },
	{ "the longest between three", "police", { { 100, WELL }, { 250, WELL }, { 300, ALWAYS } },
	  "451.2875-453.0875" },
	{ "something on both sides of what never ends", "business",
	  { { 50, LITTLE }, { 200, ALWAYS }, { 350, LITTLE } }, "450-452.4625 452.5375-454.9875" },
	{ "something on one side only", "business", { { 200, ALWAYS }, { 350, LITTLE } },
	  "452.5375-454.9875" },
	{ "at the band's edge", "police", { { 0, ALWAYS } }, "450.0375-454.7125" },
};

static void tell(struct scene *s, size_t row)
{
	for (int i = 0; i < 4; i++) {
		int32_t channel = rows[row].at[i].channel;
		if (rows[row].at[i].how == LITTLE)
			scene_talk(s, 0, channel, 1, 250, KIND_UNKNOWN);
		else if (rows[row].at[i].how == WELL)
			scene_talk(s, 0, channel, 10, 250, KIND_NFM);
		else if (rows[row].at[i].how == ALWAYS)
			scene_add(s, (struct world_over){ 0, channel, 0, 14399, 250, 0, 9000,
				KIND_NFM, 0 });
	}
}

static void ranges_by_rule(void **state)
{
	(void)state;
	for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
		struct band band = world_band[WORLD_BUSINESS];
		struct scene s;
		char got[200] = "", broken[200];
		strcpy(band.service, rows[i].service);
		scene_begin(&s, &band, 1);
		tell(&s, i);
		scene_propose(&s);
		size_t n = 0;
		for (int k = 0; k < s.plan->searches; k++) {
			char low[FREQ_TEXT], high[FREQ_TEXT];
			n += (size_t)snprintf(got + n, sizeof got - n, "%s%s-%s", n ? " " : "",
					      words_typed(s.plan->search[k].low, low),
					      words_typed(s.plan->search[k].high, high));
		}
		if (strcmp(got, rows[i].want) != 0)
			fail_msg("%s: %s", rows[i].why, got);
		if (plan_check(s.plan, &s.receiver, s.census, s.suspect, broken))
			fail_msg("%s: %s", rows[i].why, broken);
		scene_end(&s);
	}
}

/* A band that begins and ends between two steps is not left at either end. */
static void inside_the_band(void **state)
{
	struct band band = { .id = "b", .name = "B", .service = "fire", .mode = MODE_NFM,
			     .width_hz = 11000,
			     .raster = { FREQ_HZ(154002500), FREQ_HZ(12500), 20 } };
	struct scene s;

	(void)state;
	for (int32_t off = 0; off < 12500; off += 1250) {
		band.raster.first = FREQ_HZ(154000000 + off);
		scene_begin(&s, &band, 1);
		scene_propose(&s);
		assert_int_equal(s.plan->searches, 1);
		if (s.plan->search[0].low.thirds < band.raster.first.thirds ||
		    s.plan->search[0].high.thirds > raster_last(&band.raster).thirds)
			fail_msg("%d Hz off the step: the range leaves the band", (int)off);
		scene_end(&s);
	}
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(ranges_by_rule),
		cmocka_unit_test(inside_the_band),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
