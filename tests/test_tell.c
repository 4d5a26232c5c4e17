#include "tests/test.h"

#include <ctype.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <jansson.h>

#include "tools/export.h"
#include "tools/teller.h"

/* One noun of every type, with what is known of none, of one and of two rows. */
struct thing {
	int  rows;
	bool known;
};

static void tell_thing(struct teller *t, const void *what)
{
	const struct thing *of = what;
	static const int64_t numbers[] = { 3, -4 };

	tell_open(t, NULL, true, "");
	tell_text(t, "outside", "x", "is not of the table");
	tell_list(t, "rows", "the table");
	for (int i = 0; tell_more(t, i, of->rows); i++) {
		tell_text(t, "name", i ? "a \"b\", c" : "=1+1", "text");
		tell_whole(t, "count", i - 1, "whole");
		tell_open(t, "length_m", of->known, "a group");
		tell_real(t, "mean", -0.0001, 2, "rounds to nothing");
		tell_figure(t, "odds", 123456, "three digits");
		tell_list(t, "inner", "never in CSV");
		for (int k = 0; tell_more(t, k, 2); k++)
			tell_whole(t, "k", k, "k");
		tell_close(t);
		tell_yes(t, "good", i == 0, "truth");
		tell_freq(t, "at_hz", (struct freq){ 363925000 }, "thirds");
		tell_time(t, "when", i ? INT64_C(1771358400000000) : 0, "UTC");
		tell_real(t, "unknown", NAN, 1, "is not known");
		tell_wholes(t, "numbers", numbers, i ? 2 : 0, "several");
		tell_bits(t, "bits", i ? UINT64_C(0x8000000000000005) : 0, "bits from 1");
	}
	tell_close(t);
}

static char *told(const struct thing *of, bool json)
{
	char *text = NULL;
	size_t n = 0;
	FILE *to = open_memstream(&text, &n);

	assert_non_null(to);
	assert_int_equal(json ? tell_json(to, tell_thing, of) : tell_csv(to, "rows", tell_thing, of), 0);
	fclose(to);
	return text;
}

#define HEAD "name,count,length_m_mean,length_m_odds,good,at_hz,when,unknown,numbers,bits\r\n"

static void csv_as_rfc_4180(void **state)
{
	static const struct {
		struct thing of;
		const char  *text;
	} cases[] = {
		{ { 0, true }, HEAD },
		{ { 1, true }, HEAD "'=1+1,-1,0.00,1.23e+05,yes,121308333.333,,,,\r\n" },
		{ { 2, false }, HEAD "'=1+1,-1,,,yes,121308333.333,,,,\r\n"
		  "\"a \"\"b\"\", c\",0,,,no,121308333.333,2026-02-17T20:00:00Z,,3 -4,1 3 64\r\n" },
	};
	(void)state;

	for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
		char *text = told(&cases[i].of, false);
		assert_string_equal(text, cases[i].text);
		free(text);
	}
}

/* Read back by jansson (RFC 8259). */
static void json_is_read_back(void **state)
{
	char *text = told(&(struct thing){ 2, true }, true);
	json_t *all = json_loads(text, 0, NULL), *row, *group;
	(void)state;

	assert_string_equal(json_string_value(json_object_get(all, "outside")), "x");
	assert_int_equal(json_array_size(json_object_get(all, "rows")), 2);
	row = json_array_get(json_object_get(all, "rows"), 1);
	group = json_object_get(row, "length_m");
	assert_string_equal(json_string_value(json_object_get(row, "name")), "a \"b\", c");
	assert_true(json_integer_value(json_object_get(row, "count")) == 0);
	assert_true(json_real_value(json_object_get(group, "mean")) == 0);
	assert_true(json_real_value(json_object_get(group, "odds")) == 123000);
	assert_int_equal(json_array_size(json_object_get(group, "inner")), 2);
	assert_true(json_is_false(json_object_get(row, "good")));
	assert_true(json_is_null(json_object_get(row, "unknown")));
	assert_true(json_integer_value(json_array_get(json_object_get(row, "bits"), 2)) == 64);
	json_decref(all);
	free(text);

	text = told(&(struct thing){ 1, false }, true);
	all = json_loads(text, 0, NULL);
	row = json_array_get(json_object_get(all, "rows"), 0);
	assert_true(json_is_null(json_object_get(row, "length_m")));
	assert_true(json_is_true(json_object_get(row, "good")));        /* what follows is told again */
	assert_true(json_is_null(json_object_get(row, "when")));
	json_decref(all);
	free(text);
}

/* ---- the tellings of the project, told of nothing ---- */

#define NAMES 400

struct register_of {
	char path[200];
	char name[NAMES][200];          /* each with the path to it */
	int  names;
};

static void enter(struct register_of *r, const char *name, const char *meaning)
{
	char full[200];

	if (!name[strspn(name, "abcdefghijklmnopqrstuvwxyz0123456789_")] && islower(name[0]) && *meaning)
		snprintf(full, sizeof full, "%.100s/%.60s", r->path, name);
	else
		fail_msg("%s/%s: a name in lower case and a meaning are wanted", r->path, name);
	for (int i = 0; i < r->names; i++)
		if (strcmp(r->name[i], full) == 0)
			fail_msg("%s is told twice", full);
	assert_true(r->names < NAMES);
	strcpy(r->name[r->names++], full);
}

static void go_in(struct register_of *r, const char *name, const char *meaning)
{
	if (name)
		enter(r, name, meaning);
	strcat(strcat(r->path, "/"), name ? name : "");
}

static void go_out(struct register_of *r)
{
	*strrchr(r->path, '/') = '\0';
}

static void see_field(struct teller *t, const struct told_field *f)
{
	enter(t->self, f->name, f->meaning);
}

static void see_open(struct teller *t, const char *name, bool known, const char *meaning)
{
	(void)known;
	go_in(t->self, name, meaning);
}

static void see_close(struct teller *t)
{
	go_out(t->self);
}

static void see_list(struct teller *t, const char *name, const char *meaning)
{
	go_in(t->self, name, meaning);
}

static bool see_more(struct teller *t, int i, int n)
{
	(void)n;
	if (i > 0)
		go_out(t->self);
	return i == 0;
}

static void fields_are_named_and_explained(void **state)
{
	static const struct teller_ops ops = { see_field, see_open, see_close, see_list, see_more };
	static const struct census nowhere;
	static const struct plan nothing;
	static const struct licences none;
	static const struct typed_list empty;
	static const struct comparison same = { .census = { &nowhere, &nowhere } };
	static const struct told told_nothing = { .census = &nowhere, .licences = &none };
	static const struct planned planned = { &nothing, &nowhere };
	static const struct rastered rastered = { &nowhere, NULL };
	static const struct rehearsed rehearsed = { .typed = &empty, .plan = &nothing, .census = &nowhere };
	static const struct {
		const char *name;
		void (*tell)(struct teller *t, const void *what);
		const void *what;
		int least;
	} tellings[] = {
		{ "channels", tell_channels, &told_nothing, 60 }, { "plan", tell_plan, &planned, 50 },
		{ "comparison", tell_comparison, &same, 20 }, { "rasters", tell_rasters, &rastered, 10 },
		{ "rehearsal", tell_rehearsal, &rehearsed, 50 },
	};
	(void)state;

	for (size_t i = 0; i < sizeof tellings / sizeof tellings[0]; i++) {
		struct register_of r = { .names = 0 };
		struct teller t = { &ops, &r };
		tellings[i].tell(&t, tellings[i].what);
		if (r.names < tellings[i].least || r.path[0])
			fail_msg("%s tells %d fields and ends in \"%s\"", tellings[i].name, r.names, r.path);
	}
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(csv_as_rfc_4180),
		cmocka_unit_test(json_is_read_back),
		cmocka_unit_test(fields_are_named_and_explained),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
