#include "tests/test.h"

#include "store/bandplan.h"
#include "tools/plan/interests.h"
#include "tools/profile.h"
#include "tools/plan/receiver.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#define CONFIG SOURCE_ROOT "/config/"

static const char *const receivers[] = { "receiver-100.conf", "receiver-400.conf",
					 "receiver-1000.conf" };

#define RECEIVERS (sizeof receivers / sizeof receivers[0])

static void read_file(const char *name, char *out, size_t size)
{
	char path[1000];

	snprintf(path, sizeof path, CONFIG "%s", name);
	FILE *f = fopen(path, "r");
	assert_non_null(f);
	out[fread(out, 1, size - 1, f)] = '\0';
	fclose(f);
}

/* An example that leaves a setting out hides it. */
static void mentions_all(const char *file, const struct field *table)
{
	char text[20000];

	read_file(file, text, sizeof text);
	for (const struct field *f = table; f->type != FIELD_END; f++) {
		if (!strstr(text, f->name))
			fail_msg("%s does not mention %s", file, f->name);
		if (f->type == FIELD_ROWS)
			for (const struct field *r = f->rows_of; r->type != FIELD_END; r++)
				if (!strstr(text, r->name))
					fail_msg("%s does not mention %s of %s", file, r->name,
						 f->name);
	}
}

static void examples_mention_every_field(void **state)
{
	(void)state;
	for (size_t i = 0; i < RECEIVERS; i++)
		mentions_all(receivers[i], receiver_fields);
	mentions_all("interests.conf", interests_fields);
}

static void examples_are_receivers(void **state)
{
	static const int32_t cellular_khz[] = { 824000, 836500, 849000, 869000, 881500, 894000 };

	(void)state;
	for (size_t i = 0; i < RECEIVERS; i++) {
		char path[1000];
		struct receiver r;
		struct fault why;
		snprintf(path, sizeof path, CONFIG "%s", receivers[i]);
		if (receiver_read(path, &r, &why) < 0)
			fail_msg("%s", why.text);
		for (size_t k = 0; k < sizeof cellular_khz / sizeof cellular_khz[0]; k++)
			if (receiver_reach(&r, FREQ_KHZ(cellular_khz[k]), MODE_NFM))
				fail_msg("%s tunes %d kHz", receivers[i], (int)cellular_khz[k]);
		assert_non_null(receiver_reach(&r, FREQ_KHZ(154235), MODE_NFM));
		assert_non_null(receiver_reach(&r, FREQ_KHZ(121500), MODE_AM));
	}
}

/* The example states the presets, so nothing changes when it is used. */
static void interests_example_is_the_presets(void **state)
{
	struct interests a, b;
	struct fault why = { 0 };

	(void)state;
	assert_int_equal(interests_default(&a), 0);
	if (interests_read(CONFIG "interests.conf", &b, &why) < 0)
		fail_msg("%s", why.text);
	assert_int_equal(a.services, b.services);
	for (int i = 0; i < a.services; i++) {
		assert_string_equal(a.service[i].service, b.service[i].service);
		assert_string_equal(a.service[i].title, b.service[i].title);
		assert_string_equal(a.service[i].family, b.service[i].family);
		assert_true(a.service[i].weight == b.service[i].weight);
		assert_int_equal(a.service[i].role, b.service[i].role);
	}
	interests_free(&a);
	interests_free(&b);
}

/* No band of the plans that come along is one of an unknown user. */
static void every_service_is_known(void **state)
{
	static const char *const plans[] = { "bands-harlow-ferry.conf", "bands-north-america.conf",
					     "bands-europe.conf" };
	struct interests i;

	(void)state;
	assert_int_equal(interests_default(&i), 0);
	for (size_t n = 0; n < sizeof plans / sizeof plans[0]; n++) {
		char path[1000];
		struct bandplan plan;
		struct fault why;
		snprintf(path, sizeof path, CONFIG "%s", plans[n]);
		if (bandplan_read(path, &plan, &why) < 0)
			fail_msg("%s", why.text);
		for (int b = 0; b < plan.n_bands; b++)
			if (!interests_of(&i, plan.bands[b].service)->service[0])
				fail_msg("%s: nobody knows the service %s", plans[n],
					 plan.bands[b].service);
		bandplan_free(&plan);
	}
	interests_free(&i);
}

#define COVER(low, high, modes, steps)                                                             \
	"kind = \"receiver\"; name = \"x\";\ncoverage = ({ low = \"" low "\"; high = \"" high      \
	"\"; modes = [" modes "]; steps = [" steps "]; }"
#define GOOD COVER("100 MHz", "200 MHz", "\"NFM\"", "\"5 kHz\"")

static const struct {
	const char *why, *text, *says;  /* says NULL: it is good */
} files[] = {
	{ "the least there can be", GOOD ");", NULL },
	{ "upside down", COVER("200 MHz", "100 MHz", "\"NFM\"", "\"5 kHz\"") ");", ":2: coverage low" },
	{ "overlapping", GOOD ",\n{ low = \"150 MHz\"; high = \"300 MHz\"; modes = [\"AM\"]; steps = [\"5 kHz\"]; });",
	  ":3: coverage must begin above" },
	{ "a mode nobody knows", COVER("100 MHz", "200 MHz", "\"SSB\"", "\"5 kHz\"") ");", "must be AM, NFM or WFM" },
	{ "no step", COVER("100 MHz", "200 MHz", "\"NFM\"", "") ");", "has 0 steps" },
	{ "steps downwards", COVER("100 MHz", "200 MHz", "\"NFM\"", "\"10 kHz\", \"5 kHz\"") ");", "must ascend" },
	{ "no coverage", "kind = \"receiver\"; name = \"x\"; coverage = ();", "has 0 stretches" },
	{ "no name", "kind = \"receiver\"; coverage = ();", "name is missing" },
	{ "another kind", "kind = \"bands\";", "must be \"receiver\"" },
	{ "no bank", GOOD "); banks = 0;", "banks is 0" },
	{ "all left empty", GOOD "); memories_per_bank = 4; empty_per_bank = 4;", "less than memories_per_bank" },
	{ "delays downwards", GOOD "); delays = [\"4 s\", \"2 s\"];", "must be longer" },
	{ "a delay without unit", GOOD "); delays = [\"4\"];", "delay is \"4\"" },
	{ "a word nobody knows", GOOD "); colour = 3;", "colour" },
};

static void bad_receivers(void **state)
{
	char path[] = "/tmp/test-profile-XXXXXX";
	int fd = mkstemp(path);

	(void)state;
	assert_true(fd >= 0);
	close(fd);
	for (size_t i = 0; i < sizeof files / sizeof files[0]; i++) {
		struct receiver r;
		struct fault why = { 0 };
		FILE *f = fopen(path, "w");
		assert_non_null(f);
		fputs(files[i].text, f);
		fclose(f);
		int result = receiver_read(path, &r, &why);
		if ((result == 0) != !files[i].says ||
		    (files[i].says && (!strstr(why.text, files[i].says) ||
				       why.kind != FAULT_INPUT || !strstr(why.text, path))))
			fail_msg("%s: says \"%s\"", files[i].why, why.text);
	}
	unlink(path);
}

static void delays_that_can_be_set(void **state)
{
	struct receiver r = { .delay_us = { 2000000, 4000000 }, .delays = 2 }, none = { 0 };

	(void)state;
	assert_int_equal(receiver_delay(&r, 0), 0);
	assert_int_equal(receiver_delay(&r, 1.2), 2000000);
	assert_int_equal(receiver_delay(&r, 2), 2000000);
	assert_int_equal(receiver_delay(&r, 2.1), 4000000);
	assert_int_equal(receiver_delay(&r, 9), 4000000);
	assert_int_equal(receiver_delay(&none, 2), 0);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(examples_mention_every_field),
		cmocka_unit_test(examples_are_receivers),
		cmocka_unit_test(interests_example_is_the_presets),
		cmocka_unit_test(every_service_is_known),
		cmocka_unit_test(bad_receivers),
		cmocka_unit_test(delays_that_can_be_set),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
