/* The list of who is licensed where: read from CSV, matched, and put into words. */
#include "tests/test.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "tools/plan/licences.h"

static int read_text(const char *text, size_t n, struct licences *out, struct fault *why)
{
	char path[] = "/tmp/licences-XXXXXX";
	int fd = mkstemp(path);

	assert_true(fd >= 0 && write(fd, text, n) == (ssize_t)n);
	close(fd);
	*why = (struct fault){ 0 };
	int result = licences_read(path, out, why);
	unlink(path);
	return result;
}

#define TEXT(t) t, sizeof t - 1

static const struct {
	const char *why;
	const char *text;
	size_t      n;
	int         count;
	const char *label;              /* of the first */
	int64_t     thirds;             /* likewise     */
} good[] = {
	{ "one line without its end", TEXT("154.235,Engine house"), 1, "Engine house", 462705000 },
	{ "CR LF as RFC 4180 has it", TEXT("154.235,A\r\n155,B\r\n"), 2, "A", 462705000 },
	{ "LF alone", TEXT("154.235,A\n155.0,B\n"), 2, "A", 462705000 },
	{ "a head", TEXT("Frequency (MHz),Who\r\n154.235,A\r\n"), 1, "A", 462705000 },
	{ "a head in quotes", TEXT("\"MHz\",\"label\"\n154.235,A\n"), 1, "A", 462705000 },
	{ "comments and empty lines", TEXT("# mine, \"of May\"\n\n154.235,A\n#x\n\r\n"), 1, "A", 462705000 },
	{ "a byte order mark", TEXT("\xef\xbb\xbf""154.235,A\n"), 1, "A", 462705000 },
	{ "a comma in quotes", TEXT("154.235,\"Harbour, office\"\n"), 1, "Harbour, office", 462705000 },
	{ "a doubled quote", TEXT("154.235,\"the \"\"old\"\" works\"\n"), 1, "the \"old\" works", 462705000 },
	{ "a line within quotes", TEXT("154.235,\"one\r\ntwo\"\n"), 1, "one  two", 462705000 },
	{ "spaces about", TEXT(" 154.235 ,  A b \n"), 1, "A b", 462705000 },
	{ "a rounded third", TEXT("121.308333,A\n"), 1, "A", 363924999 },
	{ "a third rounded further on", TEXT("121.3083333333,A\n"), 1, "A", 363925000 },
	{ "whole megahertz", TEXT("155,A\n"), 1, "A", 465000000 },
	{ "other alphabets", TEXT("155,Ülemiste \xe6\xb8\xaf\n"), 1, "Ülemiste \xe6\xb8\xaf", 465000000 },
	{ "what is no UTF-8", TEXT("155,B\xe4r\n"), 1, "B?r", 465000000 },
	{ "what would colour a terminal", TEXT("155,\x1b[31mred\n"), 1, "?[31mred", 465000000 },
	{ "ascending whatever the order", TEXT("156,C\n155,B\n"), 2, "B", 465000000 },
	{ "nothing", TEXT(""), 0, NULL, 0 },
	{ "a head and nothing", TEXT("MHz,who\n"), 0, NULL, 0 },
};

static void reads(void **state)
{
	(void)state;
	for (size_t i = 0; i < sizeof good / sizeof good[0]; i++) {
		struct licences l;
		struct fault why;
		if (read_text(good[i].text, good[i].n, &l, &why) < 0)
			fail_msg("%s: %s", good[i].why, why.text);
		if (l.n != good[i].count)
			fail_msg("%s: %d labels", good[i].why, l.n);
		if (l.n && (strcmp(l.at[0].label, good[i].label) != 0 ||
			    l.at[0].frequency.thirds != good[i].thirds))
			fail_msg("%s: \"%s\" at %lld", good[i].why, l.at[0].label,
				 (long long)l.at[0].frequency.thirds);
		licences_free(&l);
	}
}

#define LONG "12345678901234567890123456789012345678901234567890123456789012345678901234567890"

static const struct {
	const char *why;
	const char *text;
	size_t      n;
	const char *says;
} bad[] = {
	{ "one field", TEXT("154.235,A\n154.235\n"), ":2: has 1 field" },
	{ "semicolons", TEXT("154.235;A\n"), ":1: has 1 field" },
	{ "three fields", TEXT("154.235,Harbour, office\n"), ":1: has more than 2 fields" },
	{ "a comma as the point", TEXT("\"154,235\",A\n"), ":1: frequency is \"154,235\", must be 0.1 to 6000 MHz" },
	{ "words where a number belongs", TEXT("MHz,label\nthere,A\n"), ":2: frequency is \"there\"" },
	{ "a unit", TEXT("154.235 MHz,A\n"), ":1: frequency is" },
	{ "hertz", TEXT("154235000,A\n"), ":1: frequency is" },
	{ "nothing at all", TEXT("0,A\n"), ":1: frequency is" },
	{ "below nothing", TEXT("-154.235,A\n"), ":1: frequency is" },
	{ "two points", TEXT("154.2.3,A\n"), ":1: frequency is" },
	{ "a point alone", TEXT("1,A\n.,A\n"), ":2: frequency is" },
	{ "no number", TEXT("1,A\nnan,A\n"), ":2: frequency is" },
	{ "an exponent", TEXT("1.5e2,A\n"), ":1: frequency is" },
	{ "no frequency", TEXT(",A\n"), ":1: frequency is" },
	{ "no label", TEXT("154.235,\n"), ":1: label is empty" },
	{ "a label of spaces", TEXT("154.235,\"  \"\n"), ":1: label is empty" },
	{ "a label too long", TEXT("154.235," LONG LONG "\n"), ":1: a field is too long, must be at most 159" },
	{ "a quote that does not end", TEXT("1,A\n154.235,\"A\n155,B\n"), ":2: a quoted field does not end" },
	{ "text after a quote", TEXT("154.235,\"A\" b\n"), ":1: text after a closing quote" },
	{ "a quote in the middle", TEXT("154.235,the \"old\" works\n"), ":1: a quote within a field" },
	{ "old line ends", TEXT("154.235,A\r155,B\r"), ":1: a carriage return without a line feed" },
	{ "a zero byte", TEXT("154.235,A\0B\n"), ":1: holds a zero byte" },
	{ "lines in quotes are counted", TEXT("1,\"a\nb\nc\"\n2\n"), ":4: has 1 field" },
};

static void refuses(void **state)
{
	(void)state;
	for (size_t i = 0; i < sizeof bad / sizeof bad[0]; i++) {
		struct licences l;
		struct fault why;
		if (read_text(bad[i].text, bad[i].n, &l, &why) == 0)
			fail_msg("%s: was read", bad[i].why);
		if (why.kind != FAULT_INPUT || !strstr(why.text, bad[i].says) || strchr(why.text, '\n') ||
		    l.at || l.n)
			fail_msg("%s: says \"%s\"", bad[i].why, why.text);
	}
}

static void refuses_too_many(void **state)
{
	size_t room = (size_t)(LICENCES_MOST + 1) * 6, n = 0;
	char *text = malloc(room);
	struct licences l;
	struct fault why;

	(void)state;
	assert_non_null(text);
	for (int i = 0; i < LICENCES_MOST; i++, n += 6)
		memcpy(text + n, "150,A\n", 6);
	assert_int_equal(read_text(text, n, &l, &why), 0);
	assert_int_equal(l.n, LICENCES_MOST);
	licences_free(&l);
	memcpy(text + n, "150,A\n", 6);
	assert_int_equal(read_text(text, n + 6, &l, &why), -1);
	assert_non_null(strstr(why.text, ":200001: too many labels"));
	free(text);
}

static void refuses_what_is_no_file(void **state)
{
	struct licences l;
	struct fault why = { 0 };

	(void)state;
	assert_int_equal(licences_read("/tmp", &l, &why), -1);
	assert_int_equal(why.kind, FAULT_INPUT);
	assert_int_equal(licences_read("/tmp/there/is/none", &l, &why), -1);
	assert_int_equal(why.kind, FAULT_INPUT);
}

static const char *const listing =
	"154.235,Engine house\n154.2375,Other works\n154.2325,Third works\n"
	"156.8,Calling\n156.8,Harbour\n156.8,Pilots\n156.8,Lock\n156.8,Bridge\n"
	"160.0,A name that is long enough to leave but little room for any other name that may follow it\n"
	"160.0,And a second one of some length that no longer fits\n160.0,Third\n"
	"170.0,\xc3\xa4\xc3\xa4\xc3\xa4\xc3\xa4\xc3\xa4\xc3\xa4\xc3\xa4\xc3\xa4\xc3\xa4\xc3\xa4\xc3\xa4\xc3\xa4"
	"\xc3\xa4\xc3\xa4\xc3\xa4\xc3\xa4\xc3\xa4\xc3\xa4\xc3\xa4\xc3\xa4\xc3\xa4\xc3\xa4\xc3\xa4\xc3\xa4"
	"\xc3\xa4\xc3\xa4\xc3\xa4\xc3\xa4\xc3\xa4\xc3\xa4\xc3\xa4\xc3\xa4\xc3\xa4\xc3\xa4\xc3\xa4\xc3\xa4"
	"\xc3\xa4\xc3\xa4\xc3\xa4\xc3\xa4\xc3\xa4\xc3\xa4\xc3\xa4\xc3\xa4\xc3\xa4\xc3\xa4\xc3\xa4\xc3\xa4"
	"\xc3\xa4\xc3\xa4\xc3\xa4\xc3\xa4\xc3\xa4\xc3\xa4\xc3\xa4\xc3\xa4\n";

static const struct {
	const char *why;
	double      mhz, step_khz;
	const char *words;              /* where it ends with *, so it begins */
} matches[] = {
	{ "the same frequency", 154.235, 2.5, "Engine house" },
	{ "its neighbour's own", 154.2375, 2.5, "Other works" },
	{ "the nearest of three", 154.236, 25, "Engine house" },
	{ "between two as near, the lower", 154.23375, 15, "Third works" },
	{ "half a step above still is its own", 154.23, 5, "Third works" },
	{ "half a step below is the lower channel's", 154.2425, 10, "" },
	{ "a third past half a step", 154.2425, 10.001, "Other works" },
	{ "nobody", 155, 25, "" },
	{ "several, in the order listed", 156.8, 25, "Calling; Harbour; Pilots; Lock; Bridge" },
	{ "as many as fit", 160.0, 12.5, "*A name that is long enough to leave but little room for any other name "
	  "that may follow it and 2 more" },
};

static void matches_within_half_a_step(void **state)
{
	struct licences l;
	struct fault why;
	char out[LISTED_TEXT];

	(void)state;
	if (read_text(listing, strlen(listing), &l, &why) < 0)
		fail_msg("%s", why.text);
	for (size_t i = 0; i < sizeof matches / sizeof matches[0]; i++) {
		const char *want = matches[i].words + (matches[i].words[0] == '*');
		licences_words(&l, freq_from_hz(1e6 * matches[i].mhz), freq_from_hz(1e3 * matches[i].step_khz),
			       out);
		if (strcmp(out, want) != 0)
			fail_msg("%s: \"%s\"", matches[i].why, out);
	}
	/* cut between characters, never within one */
	licences_words(&l, FREQ_KHZ(170000), FREQ_KHZ(25), out);
	assert_true(strlen(out) > 90 && strlen(out) % 2 == 0);
	licences_free(&l);
	assert_string_equal(licences_words(&l, FREQ_KHZ(170000), FREQ_KHZ(25), out), "");
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(reads),
		cmocka_unit_test(refuses),
		cmocka_unit_test(refuses_too_many),
		cmocka_unit_test(refuses_what_is_no_file),
		cmocka_unit_test(matches_within_half_a_step),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
