#include "tests/test.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#include "daemon/guard.h"
#include "tests/folder.h"

/* Who is let in to the page that the daemon serves. */

#define TOKEN "correct-horse-battery"

static void addresses(void **state)
{
	static const struct {
		const char *address;
		bool        token;
		const char *says;       /* NULL: it is one */
	} cases[] = {
		{ "127.0.0.1:8080", false, NULL },
		{ "127.9.9.9:1", false, NULL },
		{ "[::1]:0", false, NULL },
		{ "0.0.0.0:8080", true, NULL },
		{ "[::]:8080", true, NULL },
		{ "0.0.0.0:8080", false, "can be reached from other computers" },
		{ "[::]:8080", false, "can be reached from other computers" },
		{ "192.168.1.2:80", false, "can be reached from other computers" },
		{ "[::ffff:127.0.0.1]:80", false, "can be reached from other computers" },
		{ "localhost:8080", false, "must be an address" },
		{ "127.0.0.1", false, "must be an address" },
		{ "127.0.0.1:", false, "must be an address" },
		{ "127.0.0.1:65536", false, "must be an address" },
		{ "127.0.0.1:8080x", false, "must be an address" },
		{ "127.0.0.1:999999", false, "must be an address" },
		{ "127.1:80", false, "must be an address" },
		{ "::1:80", false, "must be an address" },
		{ "[::1:80", false, "must be an address" },
		{ "[127.0.0.1]:80", false, "must be an address" },
		{ ":80", false, "must be an address" },
		{ "8080", false, "must be an address" },
	};
	char path[100];
	struct guard g;
	struct fault why;

	write_file(*state, "token", TOKEN "\n", sizeof TOKEN);
	snprintf(path, sizeof path, "%s/token", ((const struct folder *)*state)->path);
	assert_int_equal(chmod(path, 0600), 0);
	for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
		why.text[0] = '\0';
		int got = guard_set(&g, cases[i].address, cases[i].token ? path : NULL, &why);
		if (got != (cases[i].says ? -1 : 0) ||
		    (cases[i].says && !strstr(why.text, cases[i].says)))
			fail_msg("%s: %d %s", cases[i].address, got, why.text);
	}
}

static void hosts(void **state)
{
	static const struct {
		const char *host;
		bool        in;
	} cases[] = {
	    {"127.0.0.1:8080", true},
	    {"127.0.0.1", true},
	    {"localhost:9", true},
	    {"LocalHost", true},
	    {"[::1]:8080", true},
	    {"[::1]", true},
	    {"192.168.1.2:80", true},
	    {NULL, false},
	    {"", false},
	    {"evil.example", false},
	    {"evil.example:8080", false},
	    {"localhost.evil.example", false},
	    {"127.0.0.1.evil.example", false},
	    {"127.0.0.1:8080.evil.example", false},
	    {"localhost:80 evil", false},
	    {"[localhost]", false},
	    {"[::1]evil", false},
	    {"::1", false},
	    {"127.0.0.1@evil.example", false},
	    {"evil.example#127.0.0.1", false},
	    {"2130706433", false},
	};
	(void)state;

	for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++)
		if (guard_host(cases[i].host) != cases[i].in)
			fail_msg("%s", cases[i].host ? cases[i].host : "no host");
}

/* Basic as base64 of coreutils has it, for all three ends that it may have. */
static void tokens(void **state)
{
	static const struct {
		const char *token, *basic;
	} good[] = {
		{ "correct-horse-battery", "Basic YmFuZGNlbnN1czpjb3JyZWN0LWhvcnNlLWJhdHRlcnk=" },
		{ "correct-horse-batter", "Basic YmFuZGNlbnN1czpjb3JyZWN0LWhvcnNlLWJhdHRlcg==" },
		{ "correct-horse-batte", "Basic YmFuZGNlbnN1czpjb3JyZWN0LWhvcnNlLWJhdHRl" },
	};
	static const struct {
		const char *text;
		mode_t      mode;
		const char *says;
	} bad[] = {
	    {TOKEN "\n", 0640, "chmod 600"},
	    {TOKEN "\n", 0604, "chmod 600"},
	    {"short", 0600, "16 to 100"},
	    {"", 0600, "16 to 100"},
	    {"a word and another one", 0600, "16 to 100"},
	    {"0123456789012345678901234567890123456789012345678901234567890123456789012345678901234"
	     "567890123456789x",
	     0600, "16 to 100"},
	};
	char path[100], bearer[140];
	struct guard g;
	struct fault why;

	snprintf(path, sizeof path, "%s/token", ((const struct folder *)*state)->path);
	for (size_t i = 0; i < sizeof good / sizeof good[0]; i++) {
		write_file(*state, "token", good[i].token, strlen(good[i].token));
		assert_int_equal(chmod(path, 0600), 0);
		assert_int_equal(guard_set(&g, "0.0.0.0:1", path, &why), 0);
		snprintf(bearer, sizeof bearer, "Bearer %s", good[i].token);
		assert_true(guard_unlocks(&g, good[i].basic));
		assert_true(guard_unlocks(&g, bearer));
		assert_false(guard_unlocks(&g, NULL));
		assert_false(guard_unlocks(&g, ""));
		assert_false(guard_unlocks(&g, good[i].token));
		for (size_t k = 0; k < strlen(bearer); k++) {
			bearer[k] ^= 1;         /* any letter wrong */
			assert_false(guard_unlocks(&g, bearer));
			bearer[k] ^= 1;
		}
		strcat(bearer, "x");
		assert_false(guard_unlocks(&g, bearer));
	}
	for (size_t i = 0; i < sizeof bad / sizeof bad[0]; i++) {
		write_file(*state, "token", bad[i].text, strlen(bad[i].text));
		assert_int_equal(chmod(path, bad[i].mode), 0);
		assert_int_equal(guard_set(&g, "0.0.0.0:1", path, &why), -1);
		assert_int_equal(why.kind, FAULT_INPUT);
		assert_non_null(strstr(why.text, bad[i].says));
	}
	assert_int_equal(guard_set(&g, "127.0.0.1:1", "/nowhere/token", &why), -1);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(addresses),
		cmocka_unit_test(hosts),
		cmocka_unit_test(tokens),
	};

	return cmocka_run_group_tests(tests, make_folder, drop_folder);
}
