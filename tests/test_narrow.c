#include "tests/test.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>

#include "tests/fault_check.h"
#include "tests/folder.h"
#include "tests/night_world.h"
#include "tools/night.h"
#include "tools/plan/words.h"

/* A part of a survey reads like a survey that was never made of the rest. */

#define HOURS 6

/* Overs begin well inside an hour and stay there, as a survey with the rows of that hour alone has them. */
static void talk(struct survey *s, int32_t band, int hour, bool wanted[HOURS])
{
	struct fault why;

	for (int k = 0; wanted[hour] && k < 5 + band; k++) {
		struct world_over o = { band, 20 + 3 * ((k + hour) % 4), 3600 * hour + 200 + 400 * k, 5 + k, 200 + 10 * k,
					0, 9000, KIND_NFM, 0 };
		struct transmission_row t = world_transmission(&o);
		struct activity_row a = world_activity(&o);
		if (survey_add_transmission(s, &t, &why) < 0 || survey_add_activity(s, &a, &why) < 0)
			fail_msg("%s", why.text);
	}
}

static void make_survey(const char *path, int from, int until, bool wanted_band[WORLD_BANDS])
{
	struct run_row run = night_run(until);
	bool wanted[HOURS] = { false };
	struct fault why = { 0 };

	run.start_us += from * HOUR_US;
	for (int h = from; h < until; h++)
		wanted[h] = true;
	struct survey *s = survey_write(path, &run, world_band, WORLD_BANDS, &why);
	if (!s || survey_begin(s, &why) < 0)
		fail_msg("%s", why.text);
	for (int32_t b = 0; b < WORLD_BANDS; b++)
		for (int h = from; h < until; h++) {
			struct coverage_row c = world_coverage(b, h);
			if (wanted_band[b] && survey_add_coverage(s, &c, &why) < 0)
				fail_msg("%s", why.text);
			if (wanted_band[b])
				talk(s, b, h, wanted);
		}
	if (survey_end_run(s, run.id, run.end_us, &why) < 0 || survey_commit(s, &why) < 0)
		fail_msg("%s", why.text);
	survey_close(s);
}

static void name_file(const struct folder *f, const char *name, char out[200])
{
	snprintf(out, 200, "%s/%s", f->path, name);
	remove(out);
}

static struct census *read_part(const char *path, const struct night_wants *w)
{
	struct fault why = { 0 };
	struct census *c = night_read(path, w, &why);

	if (!c)
		fail_msg("%s", why.text);
	return c;
}

static void same_channel(const char *words, const struct channel *a, const struct channel *b)
{
	if (a->channel != b->channel || a->centre.thirds != b->centre.thirds || a->overs != b->overs ||
	    a->busy_us != b->busy_us || a->looked_us != b->looked_us || a->looks.looks != b->looks.looks ||
	    a->looks.busy != b->looks.busy || a->looks.openings != b->looks.openings ||
	    a->first_us != b->first_us || a->last_us != b->last_us || a->likely.high != b->likely.high)
		fail_msg("%s: channel %d of %d overs, alone %d of %d", words, a->channel, a->overs, b->channel,
			 b->overs);
}

/* part has only the bands that were asked for, alone all, the others of them not looked at. */
static void same_census(const char *words, const struct census *part, const struct census *alone)
{
	int at = 0;

	assert_int_equal(part->wall_us, alone->wall_us);
	assert_int_equal(part->start_us, alone->start_us);
	assert_int_equal(part->end_us, alone->end_us);
	assert_int_equal(part->overs, alone->overs);
	assert_int_equal(part->channels, alone->channels);
	assert_true(part->channels > 0);
	for (int i = 0; i < part->channels; i++)
		same_channel(words, &part->channel[i], &alone->channel[i]);
	for (int b = 0; b < alone->bands; b++) {
		if (alone->looked[b].looks == 0)
			continue;
		assert_string_equal(part->band[at].id, alone->band[b].id);
		assert_int_equal(part->looked[at].looks, alone->looked[b].looks);
		assert_int_equal(part->looked[at].of_day, alone->looked[b].of_day);
		assert_memory_equal(&part->week[at], &alone->week[b], sizeof part->week[at]);
		at++;
	}
	assert_int_equal(at, part->bands);
}

static const struct {
	const char *words;
	const char *since, *until;      /* NULL: not given */
	int         from, to;           /* hours           */
	const char *band, *service;
	bool        wanted[WORLD_BANDS];
} parts[] = {
	{ "all of it", NULL, NULL, 0, HOURS, NULL, NULL, { true, true, true, true } },
	{ "from two", "02:00", NULL, 2, HOURS, NULL, NULL, { true, true, true, true } },
	{ "to four", NULL, "04:00", 0, 4, NULL, NULL, { true, true, true, true } },
	{ "an hour", "2026-01-01 03:00Z", "2026-01-01 04:00Z", 3, 4, NULL, NULL, { true, true, true, true } },
	{ "beyond its ends", "2025-12-31 03:00", "2026-02-01 00:00", 0, HOURS, NULL, NULL, { true, true, true, true } },
	{ "a band", NULL, NULL, 0, HOURS, "air", NULL, { [WORLD_AIR] = true } },
	{ "a service", NULL, NULL, 0, HOURS, NULL, "paging", { [WORLD_PAGING] = true } },
	{ "one of each, for a while", "01:00", "05:00", 1, 5, "air", "business", { [WORLD_AIR] = true, [WORLD_BUSINESS] = true } },
	{ "twice the same", "01:00", "02:00", 1, 2, "fire", "fire", { [WORLD_FIRE] = true } },
};

static void parts_are_as_alone(void **state)
{
	bool all[WORLD_BANDS] = { true, true, true, true };
	char whole[200], alone[200];
	(void)state;

	name_file(*state, "whole.survey", whole);
	make_survey(whole, 0, HOURS, all);
	for (size_t i = 0; i < sizeof parts / sizeof parts[0]; i++) {
		struct night_wants w = { .squelch_db = 6 }, plain = w;
		bool wanted[WORLD_BANDS];
		name_file(*state, "alone.survey", alone);
		memcpy(wanted, parts[i].wanted, sizeof wanted);
		make_survey(alone, parts[i].from, parts[i].to, wanted);
		if (parts[i].since)
			assert_int_equal(moment_parse(parts[i].since, &w.since), 0);
		if (parts[i].until)
			assert_int_equal(moment_parse(parts[i].until, &w.until), 0);
		if (parts[i].band)
			w.band = (struct option_texts){ { parts[i].band }, 1 };
		if (parts[i].service)
			w.service = (struct option_texts){ { parts[i].service }, 1 };
		struct census *p = read_part(whole, &w), *q = read_part(alone, &plain);
		same_census(parts[i].words, p, q);
		census_destroy(p);
		census_destroy(q);
	}
}

static const struct {
	const char *words, *since, *until, *band, *service, *says;
} refused[] = {
	{ "amid an hour", "02:30", NULL, NULL, NULL, "must be at a whole hour of UTC" },
	{ "backwards", "2026-01-01 03:00", "2026-01-01 02:00", NULL, NULL, "--until is not after --since" },
	{ "afterwards", "2026-01-02 03:00", NULL, NULL, NULL, "nothing was looked at from 2026-01-02T03:00:00Z" },
	{ "a band that there is not", NULL, NULL, "sea", NULL, "has no band \"sea\", must be one of fire, air, business, paging" },
	{ "a letter wrong", NULL, NULL, "fires", NULL, "did you mean fire" },
	{ "a service that there is not", NULL, NULL, NULL, "rail", "has no service \"rail\"" },
};

static void refusals(void **state)
{
	char whole[200];
	bool all[WORLD_BANDS] = { true, true, true, true };

	name_file(*state, "refused.survey", whole);
	make_survey(whole, 0, HOURS, all);
	for (size_t i = 0; i < sizeof refused / sizeof refused[0]; i++) {
		struct night_wants w = { .squelch_db = 6 };
		struct fault why = { 0 };
		if (refused[i].since)
			assert_int_equal(moment_parse(refused[i].since, &w.since), 0);
		if (refused[i].until)
			assert_int_equal(moment_parse(refused[i].until, &w.until), 0);
		if (refused[i].band)
			w.band = (struct option_texts){ { refused[i].band }, 1 };
		if (refused[i].service)
			w.service = (struct option_texts){ { refused[i].service }, 1 };
		if (night_read(whole, &w, &why))
			fail_msg("%s: was read", refused[i].words);
		check_fault(refused[i].words, &why, FAULT_INPUT, refused[i].says);
	}
}

/* 2026-03-29T01:00:00Z: where summer time is kept in Europe the clocks go from two to three (the
 * rule of Directive 2000/84/EC, from memory; written in POSIX's way, so that no zone files are
 * needed). */
#define SPRING_US INT64_C(1774746000000000)

/* Six hours around it: three before, three after. */
static void make_spring(const char *path)
{
	struct run_row run = night_run(6);
	struct fault why = { 0 };

	run.start_us = SPRING_US - 3 * HOUR_US;
	run.end_us = SPRING_US + 3 * HOUR_US;
	struct survey *s = survey_write(path, &run, world_band, WORLD_BANDS, &why);
	if (!s || survey_begin(s, &why) < 0)
		fail_msg("%s", why.text);
	for (int h = 0; h < 6; h++) {
		struct coverage_row c = world_coverage(0, h);
		struct world_over o = { 0, 20, 3600 * h + 1800, 5, 200, 0, 9000, KIND_NFM, 0 };
		struct transmission_row t = world_transmission(&o);
		c.hour += run.start_us - NIGHT_US;
		t.first_us += run.start_us - NIGHT_US;
		t.last_us += run.start_us - NIGHT_US;
		if (survey_add_coverage(s, &c, &why) < 0 || survey_add_transmission(s, &t, &why) < 0)
			fail_msg("%s", why.text);
	}
	if (survey_end_run(s, run.id, run.end_us, &why) < 0 || survey_commit(s, &why) < 0)
		fail_msg("%s", why.text);
	survey_close(s);
}

/* Where the clocks change in the survey both names are told, times are right on both sides, and
 * nobody looked in the hour that was not there. */
static void clocks_are_put_on(void **state)
{
	static const struct { const char *zone, *name, *from, *until; uint32_t hours; } places[] = {
		{ "CET-1CEST,M3.5.0,M10.5.0/3", "CET (UTC+01:00), then CEST (UTC+02:00)", "2026-03-28 23:00",
		  "2026-03-29 06:00", 1 << 23 | 1 << 0 | 1 << 1 | 1 << 3 | 1 << 4 | 1 << 5 },
		{ "GMT0BST,M3.5.0/1,M10.5.0", "UTC, then BST (UTC+01:00)", "2026-03-28 22:00",
		  "2026-03-29 05:00", 1 << 22 | 1 << 23 | 1 << 0 | 1 << 2 | 1 << 3 | 1 << 4 },
		{ "UTC0", "UTC", "2026-03-28 22:00", "2026-03-29 04:00",
		  1 << 22 | 1 << 23 | 1 << 0 | 1 << 1 | 1 << 2 | 1 << 3 },
		{ "IST-5:30", "IST (UTC+05:30)", "2026-03-29 03:30", "2026-03-29 09:30",
		  1 << 4 | 1 << 5 | 1 << 6 | 1 << 7 | 1 << 8 | 1 << 9 },
	};
	const struct night_wants all = { .squelch_db = 6 };
	char path[200], from[TIME_TEXT], until[TIME_TEXT];

	name_file(*state, "spring.survey", path);
	make_spring(path);
	for (size_t i = 0; i < sizeof places / sizeof places[0]; i++) {
		setenv("TZ", places[i].zone, 1);
		tzset();
		struct census *c = read_part(path, &all);
		words_local(from, c, c->start_us);
		words_local(until, c, c->end_us);
		if (strcmp(c->zone, places[i].name) != 0 || strcmp(from, places[i].from) != 0 ||
		    strcmp(until, places[i].until) != 0)
			fail_msg("%s: %s from %s until %s", places[i].zone, c->zone, from, until);
		/* Overs begin at half past each hour of UTC. */
		if (c->channels != 1 || c->channel[0].hours != places[i].hours)
			fail_msg("%s: heard in hours %#x, not %#x", places[i].zone, c->channel[0].hours,
				 places[i].hours);
		if (i < 3 && week_hours_in(&c->week[0], -1, WEEK_QUIET) != places[i].hours)
			fail_msg("%s: looked at in other hours", places[i].zone);
		census_destroy(c);
	}
	setenv("TZ", "UTC0", 1);
	tzset();
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(parts_are_as_alone), cmocka_unit_test(refusals),
		cmocka_unit_test(clocks_are_put_on),
	};
	setenv("TZ", "UTC0", 1);
	tzset();
	return cmocka_run_group_tests(tests, make_folder, drop_folder);
}
