#include "tests/test.h"

#include "tests/plan_world.h"
#include "tools/export.h"
#include "tools/plan/words.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

/* The sheet of a scene, to be freed. Not inlined: gcc at -O3 would take the stream's
 * text for a local of its own. */
static __attribute__((noinline)) char *print(const struct scene *s)
{
	char *text = NULL;
	size_t size;
	FILE *to = open_memstream(&text, &size);

	assert_non_null(to);
	assert_int_equal(sheet_plan(to, s->plan, s->census, &s->receiver), 0);
	assert_int_equal(fclose(to), 0);
	return text;
}

/* The scene with something of all kinds: exact thirds of 25 kHz under TYPE, a pair, an
 * endless one, several left out for one reason, one faint, a long name. */
static void rich_scene(struct scene *s)
{
	static const struct known name = { .frequency = { INT64_C(3) * 154235000 }, .service = "fire",
					   .name = "the fire brigade of the next county, N" };

	scene_begin(s, world_band, WORLD_BANDS);
	for (int i = 0; i < s->receiver.reaches; i++) {
		struct reach *r = &s->receiver.reach[i];
		r->step[0] = FREQ_HZ(5000);
		r->step[1] = (struct freq){ 25000 };
		r->step[2] = FREQ_HZ(12500);
		r->steps = 3;
	}
	s->receiver.display_digits = 6;
	s->interests.known = malloc(sizeof name);
	s->interests.known[0] = name;
	s->interests.knowns = 1;
	scene_talk(s, WORLD_FIRE, 186, 20, 300, KIND_NFM);
	for (int i = 0; i < 40; i++)
		scene_add(s, (struct world_over){ WORLD_FIRE, 20, 200 + 90 * i, 5,
			i % 3 ? 72 : 95, 0, 9000, KIND_NFM, 0 });
	scene_talk(s, WORLD_AIR, 397, 30, 250, KIND_AM);
	for (int32_t channel = 10; channel < 200; channel += 20)
		scene_talk(s, WORLD_BUSINESS, channel, 5, 250, KIND_NFM);
	for (int32_t channel = 205; channel < 240; channel += 5)
		scene_talk(s, WORLD_BUSINESS, channel, 9, 250, KIND_DATA);
	scene_talk(s, WORLD_BUSINESS, 300, 1, 250, KIND_NFM);
	scene_talk(s, WORLD_PAGING, 100, 9, 300, KIND_NFM);
	scene_add(s, (struct world_over){ WORLD_AIR, 1005, 0, 14399, 250, 0, 6000, KIND_AM, 0 });
	scene_propose(s);
}

/* Where the word stands in the line, in columns; -1: nowhere. */
static int column_of(const char *line, const char *word)
{
	const char *end = strchr(line, '\n'), *at = strstr(line, word);

	return at && at < end ? (int)(at - line) : -1;
}

static void columns_stand_in_line(void **state)
{
	struct scene s;
	int mode = -1, memories = 0;

	(void)state;
	rich_scene(&s);
	char *text = print(&s);
	for (const char *line = text; *line; line = strchr(line, '\n') + 1) {
		if (strcspn(line, "\n") > 100)
			fail_msg("too wide: %.120s", line);
		if (strncmp(line, "     SLOT", 9) == 0)
			mode = column_of(line, "MODE");
		if (strncmp(line, "\n", 1) == 0)
			mode = -1;
		if (mode < 0 || strncmp(line, "  [ ]", 5) != 0)
			continue;
		memories++;
		if (strncmp(line + mode, "NFM ", 4) != 0 && strncmp(line + mode, "AM  ", 4) != 0)
			fail_msg("out of line: %.80s", line);
	}
	assert_int_equal(memories, s.plan->memories);
	assert_non_null(strstr(text, " 121.308333  121.308333  AM   8.3333 "));
	free(text);
	scene_end(&s);
}

static int count(const char *text, const char *word)
{
	int n = 0;

	for (; (text = strstr(text, word)); text += strlen(word))
		n++;
	return n;
}

/* Numbers that follow the words, added up. */
static int total(const char *text, const char *words)
{
	int sum = 0;

	for (; (text = strstr(text, words)); text += strlen(words))
		sum += atoi(text + strlen(words));
	return sum;
}

static void told_once(void **state)
{
	struct scene s;

	(void)state;
	rich_scene(&s);
	char *text = print(&s);
	/* The head's keys are those of the banks. */
	int keys = total(text, "keys   about ");
	assert_true(keys > 50);
	assert_int_equal(total(text, "empty, about "), keys);
assert_int_equal(count(text, "sure is at least"), 1);
	assert_int_equal(count(text, "single exchange, or hardly"), 1);
	assert_int_equal(count(text, "likely lies"), 1);
	assert_int_equal(count(text, "sound quiet"), 1);
	assert_int_equal(count(text, "digital voice: only noise"), 1);
	assert_int_equal(count(text, "BANKS 4 5 6 7 8 9 empty: for what you find yourself"), 1);
	assert_int_equal(count(text, "median 7 dB: faint"), 1);
	assert_int_equal(count(text, "the fire brigade of the next county, N; 60 overs"), 1);
	assert_int_equal(count(text, "always on: 14400 looks over 4 h"), 1);
	/* All that was left out stands there, whatever it shares its reason with. */
	const char *left = strstr(text, "LEFT OUT");
	assert_non_null(left);
	for (int i = 0; i < s.plan->lefts; i++) {
		char mhz[FREQ_TEXT];
		freq_format_mhz(mhz, s.census->channel[s.plan->left[i].channel].centre);
		if (!strstr(left, mhz))
			fail_msg("%s is left out of the left-out ones", mhz);
	}
	assert_in_range(s.plan->lefts, 8, 20);
	free(text);
	scene_end(&s);
}

static void one_empty_bank(void **state)
{
	struct scene s;

	(void)state;
	scene_begin(&s, world_band, WORLD_BANDS);
	s.receiver.banks = 2;
	scene_talk(&s, WORLD_FIRE, 186, 20, 300, KIND_NFM);
	scene_propose(&s);
	char *text = print(&s);
	assert_non_null(strstr(text, "\nBANK 2 empty: for what you find yourself\n"));
	free(text);
	scene_end(&s);
}

/* As many banks as there can be, one memory in each. */
static void many_banks(void **state)
{
	struct scene s;

	(void)state;
	scene_begin(&s, world_band, WORLD_BANDS);
	s.receiver.banks = 64;
	s.receiver.live_per_bank = 1;
	for (int32_t channel = 0; channel < 60; channel++)
		scene_talk(&s, WORLD_BUSINESS, 6 * channel, 5, 250, KIND_NFM);
	scene_talk(&s, WORLD_AIR, 9, 200, 250, KIND_AM);        /* busy: parts the quiet banks */
	scene_propose(&s);
	char *text = print(&s);
	for (const char *line = text; *line; line = strchr(line, '\n') + 1)
		if (strcspn(line, "\n") > 100)
			fail_msg("too wide: %.120s", line);
	assert_non_null(strstr(text, "once round in  2.44 s: bank 1 3-62\n"));
	assert_non_null(strstr(text, "\nBANKS 63 64 empty"));
	free(text);
	scene_end(&s);
}

/* ---- what was not looked at ---- */

#define HOURS(from, count) ((((UINT32_C(1) << (count)) - 1) << (from)) & 0xffffff)

static const struct {
	const char *why;
	uint32_t    of_day[3];          /* looked at, band a, b and c           */
	int64_t     looks[3];
	const char *want;               /* between the title and what is said of the week */
} looked[] = {
	{ "all alike", { HOURS(0, 8), HOURS(0, 8), HOURS(0, 8) }, { 400, 400, 400 },
	  "  Each channel was looked at 400 times, every 36 s on the average, from 00:00 to 04:00: 0.1 % of the\n"
	  "  time. An over between two looks is missed.\n"
	  "  all bands       08-00 h\n" },
	{ "one less than the others", { HOURS(0, 8), HOURS(0, 6), HOURS(0, 8) }, { 400, 300, 400 },
	  "  Each channel was looked at 300 to 400 times, every 36 to 48 s on the average, from 00:00 to 04:00:\n"
	  "  0.075 % of the time. An over between two looks is missed.\n"
	  "  all bands       08-00 h\n"
	  "  also 06-08 h    b\n" },
	{ "one not at all", { HOURS(0, 8), 0, HOURS(0, 8) }, { 400, 0, 400 },
	  "  Each channel was looked at 400 times, every 36 s on the average, from 00:00 to 04:00: 0.1 % of the\n"
	  "  time. An over between two looks is missed.\n"
	  "  all bands       08-00 h\n"
	  "  never           b\n" },
	{ "no hour that all missed", { HOURS(0, 12), HOURS(12, 12), HOURS(12, 12) }, { 400, 400, 400 },
	  "  Each channel was looked at 400 times, every 36 s on the average, from 00:00 to 04:00: 0.1 % of the\n"
	  "  time. An over between two looks is missed.\n"
	  "  12-00 h         a\n"
	  "  00-12 h         b, c\n" },
	{ "nothing missed", { HOURS(0, 24), HOURS(0, 24), HOURS(0, 24) }, { 400, 400, 400 },
	  "  Each channel was looked at 400 times, every 36 s on the average, from 00:00 to 04:00: 0.1 % of the\n"
	  "  time. An over between two looks is missed.\n" },
	{ "nothing at all", { 0, 0, 0 }, { 0, 0, 0 },
	  "  No channel was looked at.\n"
	  "  never           a, b, c\n" },
};

/* After the census was changed by hand. */
static void know_again(struct scene *s)
{
	unknown_free(&s->plan->unknown);
	assert_int_equal(unknown_find(s->census, s->suspect, &s->interests, &s->plan->unknown), 0);
}

static void what_was_not_looked_at(void **state)
{
	(void)state;
	for (size_t i = 0; i < sizeof looked / sizeof looked[0]; i++) {
		struct band bands[3];
		struct scene s;
		for (int b = 0; b < 3; b++) {
			bands[b] = world_band[WORLD_BUSINESS];
			snprintf(bands[b].id, sizeof bands[b].id, "%c", 'a' + b);
			strcpy(bands[b].service, "fire");
		}
		scene_begin(&s, bands, 3);
		scene_propose(&s);
		for (int b = 0; b < 3; b++) {
			int64_t n = looked[i].looks[b];
			free(s.census->looked[b].of_channel);
			s.census->looked[b] = (struct looked){
				.looks = n, .looked_us = n * 36000, .revisit_s = n ? 14400.0 / (double)n : 0 };
			s.census->week[b] = (struct week){ 0 };
			for (int h = 0; h < DAY_HOURS; h++)
				s.census->week[b].cell[h].looked_us = looked[i].of_day[b] >> h & 1;
		}
		know_again(&s);
		char *text = print(&s), *from = strstr(text, "WHAT WAS NOT LOOKED AT\n");
		assert_non_null(from);
		from += strlen("WHAT WAS NOT LOOKED AT\n");
		char *end = strstr(from, "  of the week"), *last = strstr(from, "  Not looked at is not quiet.");
		assert_non_null(last);
		end = end ? end : strstr(from, "  survey next");
		assert_non_null(end);
		*end = '\0';
		if (strcmp(from, looked[i].want) != 0)
			fail_msg("%s:\n%s", looked[i].why, from);
		free(text);
		scene_end(&s);
	}
}

/* Where the antenna brings nothing, nothing heard is no bound. */
static void deaf_is_told(void **state)
{
	struct artefact_row off = { .run = 1, .at_us = NIGHT_US, .channel = 20, .cause = "floor off",
				    .text = "-70.20 dBFS of noise in 120 looks at 29.7 dB of gain" };
	struct scene s;

	(void)state;
	scene_begin(&s, world_band, WORLD_BANDS);
	assert_int_equal(tally_artefact(s.tally, &off), 0);
	scene_propose(&s);
	char *text = print(&s);
	assert_non_null(strstr(text, "  deaf here       fire: no station, and no more noise than with the antenna off"));
	assert_non_null(strstr(text, "  none heard      air < 0.75/h, paging < 0.75/h: fewer overs of 5 s"));
	assert_non_null(strstr(text, "Fire: not known, for the survey was deaf there"));
	free(text);
	scene_end(&s);
}

/* After a night, services of the day are unknown, not quiet; one look at ten on a Tuesday and
 * they are not. */
static void day_services_are_unknown_after_a_night(void **state)
{
	static const struct { const char *why, *service; int hour; bool unknown; } cases[] = {
		{ "works by night", "works", 24 + 22, true },
		{ "works on a Sunday", "works", 6 * 24 + 10, true },
		{ "works on a Tuesday", "works", 24 + 10, false },
		{ "the fire brigade does not sleep", "fire", 24 + 22, false },
	};

	(void)state;
	for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
		struct band band = world_band[WORLD_BUSINESS];
		struct scene s;
		strcpy(band.service, cases[i].service);
		scene_begin(&s, &band, 1);
		scene_propose(&s);
		s.census->week[0] = (struct week){ 0 };
		s.census->week[0].cell[cases[i].hour].looked_us = 1;
		know_again(&s);
		char *text = print(&s);
		if (!strstr(text, "  unknown by day  business: services of the day") == cases[i].unknown)
			fail_msg("%s:\n%s", cases[i].why, text);
		free(text);
		scene_end(&s);
	}
}

/* Ahead of UTC by an hour, and from 01:00 on by two, as where the clocks are put on. */
static int32_t spring(int64_t us)
{
	return us < NIGHT_US + HOUR_US ? 3600 : 7200;
}

/* Times are those of the place on both sides of the change: overs at 00:30 and 01:30 UTC were
 * at half past one and half past three, and no hour from two to three was there to look at. */
static void times_are_the_places(void **state)
{
	struct scene s;

	(void)state;
	scene_begin_at(&s, world_band, WORLD_BANDS, spring, "WET (UTC+01:00), then WEST (UTC+02:00)");
	for (int i = 0; i < 6; i++)
		scene_add(&s, (struct world_over){ WORLD_FIRE, 186, 1800 + 1080 * (i / 3 * 10 / 3) + 7 * (i % 3), 5, 300,
			0, 9000, KIND_NFM, 0 });
	scene_propose(&s);
	assert_int_equal(s.census->channel[0].hours, 1 << 1 | 1 << 3);
	char *text = print(&s);
	assert_non_null(strstr(text, "heard  2026-01-01 01:00 to 2026-01-01 06:00; all times are WET (UTC+01:00), then "
				     "WEST (UTC+02:00)\n"));
	assert_non_null(strstr(text, "6 overs, 01:30-03:"));
	assert_non_null(strstr(text, "from 01:00 to 06:00"));
	assert_non_null(strstr(text, "all bands       02-03 h, 06-01 h\n"));
	assert_null(strstr(text, "T00:"));
	free(text);
	scene_end(&s);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(columns_stand_in_line),
		cmocka_unit_test(told_once),
		cmocka_unit_test(one_empty_bank),
		cmocka_unit_test(many_banks),
		cmocka_unit_test(what_was_not_looked_at),
		cmocka_unit_test(day_services_are_unknown_after_a_night),
		cmocka_unit_test(times_are_the_places),
		cmocka_unit_test(deaf_is_told),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
