#include "tests/test.h"

#include <stdbool.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "daemon/options.h"
#include "store/station.h"
#include "tests/fault_check.h"

#define WORDS 20
#define ROOM  20000
#define HELP_AT 23              /* where words of help begin in a line of --help */

/* ---- the command line ---- */

#define USUAL .source = { .at = { "dongle" }, .n = 1 }, .seed = 1

#define TWO_TOWNS   "--source", "town", "--source", "town"
#define EIGHT_TOWNS TWO_TOWNS, TWO_TOWNS, TWO_TOWNS, TWO_TOWNS

static const struct {
	const char    *why;
	const char    *word[WORDS];     /* after the program's own name */
	struct options want;
} good[] = {
	{ "nothing", { NULL }, { USUAL } },
	{ "a file of settings", { "--config", "a.conf" }, { USUAL, .config = "a.conf" } },
	{ "the same in one word", { "--config=a.conf" }, { USUAL, .config = "a.conf" } },
	{ "a value with = in it", { "--survey=a=b.survey" }, { USUAL, .survey = "a=b.survey" } },
	{ "a value that looks like an option", { "--survey", "--check" }, { USUAL, .survey = "--check" } },
	{ "the last one counts", { "--survey", "a", "--survey", "b" }, { USUAL, .survey = "b" } },
	{ "a folder for weeks", { "--folder", "a" }, { USUAL, .folder = "a" } },
	{ "a source with colons", { "--source", "recording:/a:b.cu8" },
	  { .source = { .at = { "recording:/a:b.cu8" }, .n = 1 }, .seed = 1 } },
	{ "bare hertz", { "--rate", "2400000" }, { USUAL, .rate_hz = 2400000 } },
	{ "a rate with a unit", { "--rate", "240 kHz" }, { USUAL, .rate_hz = 240000 } },
	{ "the highest rate that has room", { "--rate", "2147483647" }, { USUAL, .rate_hz = INT32_MAX } },
	{ "thirds of a hertz", { "--centre", "363925000/3 Hz" }, { USUAL, .centre = { 363925000 } } },
	{ "megahertz", { "--centre=154.235 MHz" }, { USUAL, .centre = FREQ_HZ(154235000) } },
	{ "an odd step", { "--step", "25/3 kHz" }, { USUAL, .step = { 25000 } } },
	{ "seconds", { "--for", "90 s" }, { USUAL, .for_us = 90000000 } },
	{ "hours, without a space", { "--for", "11h" }, { USUAL, .for_us = INT64_C(39600000000) } },
	{ "the highest seed", { "--seed", "18446744073709551615" },
	  { .source = { .at = { "dongle" }, .n = 1 }, .seed = UINT64_MAX } },
	{ "seed 0", { "--seed", "0" }, { .source = { .at = { "dongle" }, .n = 1 }, .seed = 0 } },
	{ "the least that a file may be", { "--limit-mb", "1" }, { USUAL, .limit_bytes = 1000000 } },
	{ "the most", { "--limit-mb=1000000" }, { USUAL, .limit_bytes = INT64_C(1000000000000) } },
	{ "a page, locked", { "--page", "0.0.0.0:80", "--page-token=t" },
	  { USUAL, .page = "0.0.0.0:80", .page_token = "t" } },
	{ "where the truth goes", { "--truth", "t.csv" }, { USUAL, .truth = "t.csv" } },
	{ "another day in the town", { "--start=2026-02-22T20:00:00Z" },
	  { USUAL, .start = "2026-02-22T20:00:00Z" } },
	{ "flags", { "--check", "--help", "--version" },
	  { USUAL, .check = true, .help = true, .version = true } },
	{ "calibration", { "--calibrate" }, { USUAL, .calibrate = true } },
	{ "a baseline", { "--baseline", "--antenna-off" },
	  { USUAL, .baseline = true, .antenna_off = true } },
	{ "several", { "--source", "town", "--seed", "7", "--for=10 min", "--check" },
	  { .source = { .at = { "town" }, .n = 1 }, .seed = 7, .for_us = 600000000, .check = true } },
	{ "two receivers", { "--source", "dongle:1", "--source=dongle:2" },
	  { .source = { .at = { "dongle:1", "dongle:2" }, .n = 2 }, .seed = 1 } },
	{ "as many as there may be", { EIGHT_TOWNS },
	  { .source = { .at = { "town", "town", "town", "town", "town", "town", "town", "town" }, .n = 8 },
	    .seed = 1 } },
};

static const struct {
	const char *why;
	const char *word[WORDS];
	const char *says;
} bad[] = {
	{ "a ninth receiver", { EIGHT_TOWNS, "--source", "town" }, "--source is \"town\", must be not empty, and given at most 8 times" },
	{ "an unknown one", { "--gain", "3" }, "--gain is unknown, see bandcensusd --help" },
	{ "part of a name", { "--con", "a" }, "--con is unknown (--config?)" },
	{ "a name and more", { "--configs", "a" }, "--configs is unknown (--config?)" },
	{ "letters swapped", { "--serach" }, "--serach is unknown, see" },
	{ "a letter too few", { "--suvey", "a" }, "--suvey is unknown (--survey?)" },
	{ "no options any more", { "--", "--check" }, "\"--check\" is a word too many" },
	{ "no name, but a value", { "--=a" }, "--=a is unknown" },
	{ "other case", { "--Check" }, "--Check is unknown" },
	{ "one dash", { "-h" }, "\"-h\" is not an option, see bandcensusd --help" },
	{ "a word too many", { "--check", "a.survey" }, "\"a.survey\" is a word too many, see bandcensusd --help" },
	{ "an empty word", { "" }, "\"\" is a word too many" },
	{ "a value missing", { "--survey" }, "--survey needs a FILE" },
	{ "a value missing, at the end", { "--check", "--for" }, "--for needs a DURATION" },
	{ "a flag with a value", { "--check=yes" }, "--check takes no value" },
	{ "empty", { "--survey", "" }, "--survey is \"\", must be not empty" },
	{ "empty, in one word", { "--config=" }, "--config is \"\", must be not empty" },
	{ "no rate at all", { "--rate", "fast" }, "--rate is \"fast\", must be a frequency" },
	{ "rate 0", { "--rate", "0" }, "--rate is \"0\"" },
	{ "a rate below 0", { "--rate", "-2400000" }, "--rate is \"-2400000\"" },
	{ "a third of a sample", { "--rate", "25/3 kHz" }, "--rate is \"25/3 kHz\"" },
	{ "a rate without room", { "--rate", "2147483648" }, "--rate is \"2147483648\"" },
	{ "a unit of another thing", { "--centre", "121 m" },
	  "--centre is \"121 m\", must be a frequency" },
	{ "centre 0", { "--centre", "0 MHz" }, "--centre is \"0 MHz\"" },
	{ "step below 0", { "--step=-12.5 kHz" }, "--step is \"-12.5 kHz\"" },
	{ "a duration without a unit", { "--for", "90" }, "--for is \"90\", must be a duration" },
	{ "no time at all", { "--for", "0 s" }, "--for is \"0 s\"" },
	{ "time going back", { "--for", "-5 s" }, "--for is \"-5 s\"" },
	{ "half a seed", { "--seed", "1.5" }, "--seed is \"1.5\", must be a whole number" },
	{ "a seed below 0", { "--seed", "-1" }, "--seed is \"-1\"" },
	{ "a seed of 65 bits", { "--seed", "18446744073709551616" }, "must be a whole number" },
	{ "no seed", { "--seed=" }, "--seed is \"\"" },
	{ "no room at all", { "--limit-mb", "0" },
	  "--limit-mb is \"0\", must be a whole number, 1 to 1000000" },
	{ "less than that", { "--limit-mb", "-3" }, "--limit-mb is \"-3\"" },
	{ "half a megabyte", { "--limit-mb", "2.5" }, "--limit-mb is \"2.5\"" },
	{ "more than there are", { "--limit-mb", "1000001" }, "must be a whole number, 1 to 1000000" },
	{ "no limit", { "--limit-mb=" }, "--limit-mb is \"\"" },
	{ "good ones before it do not help", { "--check", "--seed", "1", "--rate", "x" },
	  "--rate is \"x\"" },
};

static int read_words(const char *const *word, struct options *out, struct fault *why)
{
	char *argv[WORDS + 2] = { "bandcensusd" };
	int n = 1;

	for (; word[n - 1]; n++)
		argv[n] = (char *)word[n - 1];
	memset(out, 0x5a, sizeof *out);
	*why = (struct fault){ 0 };
	return options_read(n, argv, out, why);
}

static bool same_text(const char *a, const char *b)
{
	return a && b ? strcmp(a, b) == 0 : a == b;
}

static bool same_options(const struct options *a, const struct options *b)
{
	for (int i = 0; i < OPTION_AGAIN; i++)
		if (!same_text(a->source.at[i], b->source.at[i]))
			return false;
	return a->source.n == b->source.n && same_text(a->config, b->config) &&
	       same_text(a->survey, b->survey) && same_text(a->folder, b->folder) && same_text(a->truth, b->truth) &&
	       same_text(a->start, b->start) && same_text(a->page, b->page) &&
	       same_text(a->page_token, b->page_token) &&
	       a->rate_hz == b->rate_hz && a->centre.thirds == b->centre.thirds &&
	       a->step.thirds == b->step.thirds && a->for_us == b->for_us && a->seed == b->seed &&
	       a->limit_bytes == b->limit_bytes &&
	       a->check == b->check && a->calibrate == b->calibrate &&
	       a->baseline == b->baseline && a->antenna_off == b->antenna_off &&
	       a->help == b->help && a->version == b->version;
}

static void good_lines(void **state)
{
	(void)state;
	for (size_t i = 0; i < sizeof good / sizeof good[0]; i++) {
		struct options got;
		struct fault why;
		if (read_words(good[i].word, &got, &why) < 0)
			fail_msg("%s: %s", good[i].why, why.text);
		if (!same_options(&got, &good[i].want))
			fail_msg("%s: something else was read", good[i].why);
	}
}

static void bad_lines(void **state)
{
	(void)state;
	for (size_t i = 0; i < sizeof bad / sizeof bad[0]; i++) {
		struct options got;
		struct fault why;
		if (read_words(bad[i].word, &got, &why) == 0)
			fail_msg("%s: was taken", bad[i].why);
		check_fault(bad[i].why, &why, FAULT_INPUT, bad[i].says);
	}
}

/* ---- what was meant ---- */

static void nearest_words(void **state)
{
	static const char *const names[] = { "survey", "seed", "step", "source", "for" };
	static const struct {
		const char *word, *meant;       /* NULL: nobody knows */
	} of[] = {
		{ "survey", "survey" }, { "surveys", "survey" }, { "urvey", "survey" }, { "suvrey", "survey" },
		{ "syrvex", "survey" }, { "sxxvxy", NULL }, { "sur", "survey" }, { "su", NULL }, { "sed", "seed" },
		{ "ste", "step" }, { "stop", "step" }, { "stoop", NULL }, { "fro", "for" }, { "", NULL },
		{ "a word that is longer than any name can be", NULL },
	};
	(void)state;

	for (size_t i = 0; i < sizeof of / sizeof of[0]; i++) {
		const char *got = word_nearest(of[i].word, names, 5);
		if (!same_text(got, of[i].meant))
			fail_msg("\"%s\" is taken for %s", of[i].word, got ? got : "nothing");
	}
}

/* ---- what is told of it ---- */

/* Whatever options_help puts on stdout. */
static void read_help(char text[ROOM])
{
	FILE *file = tmpfile();
	int old = dup(STDOUT_FILENO);

	assert_non_null(file);
	assert_true(old >= 0);
	fflush(stdout);
	assert_true(dup2(fileno(file), STDOUT_FILENO) >= 0);
	options_help();
	fflush(stdout);
	dup2(old, STDOUT_FILENO);
	close(old);
	rewind(file);
	text[fread(text, 1, ROOM - 1, file)] = '\0';
	fclose(file);
}

static void read_file(const char *path, char text[ROOM])
{
	FILE *file = fopen(path, "r");

	assert_non_null(file);
	size_t n = fread(text, 1, ROOM - 1, file);
	assert_in_range(n, 1, ROOM - 2);        /* all of it */
	text[n] = '\0';
	fclose(file);
}

/* Whether a good line above uses the option. */
static bool is_tried(const char *name, size_t n)
{
	for (size_t i = 0; i < sizeof good / sizeof good[0]; i++)
		for (int k = 0; good[i].word[k]; k++) {
			const char *w = good[i].word[k];
			if (strncmp(w, name, n) == 0 && (w[n] == '\0' || w[n] == '='))
				return true;
		}
	return false;
}

/* The help is drawn from the table of options: a line for each of its rows. So what
 * is listed is tried above, and what is tried above is listed, with words of help. */
static void help_lists_every_option(void **state)
{
	char text[ROOM];
	int listed = 0;
	(void)state;

	read_help(text);
	for (const char *at = strstr(text, "\n  --"); at; at = strstr(at + 1, "\n  --")) {
		size_t n = strcspn(at + 3, " \n"), length = strcspn(at + 1, "\n");
		listed++;
		if (!is_tried(at + 3, n))
			fail_msg("no good line tries %.*s", (int)n, at + 3);
		if (length <= HELP_AT || length > 100)
			fail_msg("without help, or too long: %.*s", (int)length, at + 1);
	}
	assert_int_equal(listed, 20);
	for (size_t i = 0; i < sizeof good / sizeof good[0]; i++)
		for (int k = 0; good[i].word[k]; k++) {
			char line[80];
			const char *w = good[i].word[k];
			snprintf(line, sizeof line, "\n  %.*s ", (int)strcspn(w, "="), w);
			if (w[0] == '-' && !strstr(text, line))
				fail_msg("--help does not list %s", w);
		}
}

/* Words apart by blanks, or in double quotes; the line is cut up. */
static int split(char *line, char *word[WORDS])
{
	int n = 0;

	for (char *at = line; *at && n < WORDS - 1;) {
		const char *ends = *at == '"' ? "\"" : " ";
		at += *at == '"';
		word[n++] = at;
		at += strcspn(at, ends);
		if (*at)
			*at++ = '\0';
		at += strspn(at, " ");
	}
	word[n] = NULL;
	return n;
}

static void examples_are_taken(void **state)
{
	static const char start[] = "\n    bandcensusd ";
	char text[ROOM], line[300], *word[WORDS];
	int seen = 0;
	(void)state;

	read_file(SOURCE_ROOT "/README.md", text);
	for (const char *at = strstr(text, start); at; at = strstr(at + 1, start)) {
		struct options got;
		struct fault why;
		const char *from = at + sizeof start - 1;
		snprintf(line, sizeof line, "%.*s", (int)strcspn(from, "\n"), from);
		split(line, word);
		if (read_words((const char *const *)word, &got, &why) < 0)
			fail_msg("README.md: %.*s: %s", (int)strcspn(from, "\n"), from, why.text);
		seen++;
	}
	assert_in_range(seen, 3, 20);
}

/* ---- the settings that come along ---- */

#define CONFIG SOURCE_ROOT "/config/bandcensus.conf"

/* They depend on where one is. */
static const char *const chosen[] = { "band_plan", "survey" };

static bool is_chosen(const struct field *f)
{
	for (size_t i = 0; i < sizeof chosen / sizeof chosen[0]; i++)
		if (strcmp(f->name, chosen[i]) == 0)
			return true;
	return false;
}

static void config_sets_every_field(void **state)
{
	char text[ROOM], line[80];
	(void)state;

	read_file(CONFIG, text);
	for (const struct field *f = station_fields; f->type != FIELD_END; f++) {
		snprintf(line, sizeof line, "\n%s = ", f->name);
		if (!strstr(text, line))
			fail_msg("config/bandcensus.conf does not set %s", f->name);
	}
}

static bool same_value(const struct field *f, const struct station *a, const struct station *b)
{
	const void *x = (const char *)a + f->at, *y = (const char *)b + f->at;

	switch (f->type) {
	case FIELD_TEXT:
		return strcmp(x, y) == 0;
	case FIELD_BOOL:
		return *(const bool *)x == *(const bool *)y;
	case FIELD_FREQS: {
		const struct freqs *p = x, *q = y;
		return p->n == q->n && (p->n == 0 || memcmp(p->at, q->at, (size_t)p->n * sizeof *p->at) == 0);
	}
	case FIELD_TEXTS: {
		const struct texts *p = x, *q = y;
		return p->n == q->n && (p->n == 0 || memcmp(p->at, q->at, (size_t)p->n * sizeof *p->at) == 0);
	}
	case FIELD_INT:
		return *(const int32_t *)x == *(const int32_t *)y;
	case FIELD_NUMBER:
		return *(const double *)x == *(const double *)y;
	case FIELD_DURATION:
		return *(const int64_t *)x == *(const int64_t *)y;
	default:
		fail_msg("%s is of a type that this test does not compare", f->name);
		return false;
	}
}

static void config_tells_the_presets(void **state)
{
	struct station told, preset;
	struct fault why = { 0 };
	(void)state;

	if (station_read(CONFIG, &told, &why) < 0 || station_read(NULL, &preset, &why) < 0)
		fail_msg("%s", why.text);
	for (const struct field *f = station_fields; f->type != FIELD_END; f++)
		if (!is_chosen(f) && !same_value(f, &told, &preset))
			fail_msg("config/bandcensus.conf: %s is not its preset, %s", f->name, f->preset);
	assert_int_equal(preset.survey.n, 0);
	assert_string_equal(preset.band_plan, "");
	station_free(&told);
	station_free(&preset);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(good_lines),
		cmocka_unit_test(bad_lines), cmocka_unit_test(nearest_words),
		cmocka_unit_test(help_lists_every_option),
		cmocka_unit_test(examples_are_taken),
		cmocka_unit_test(config_sets_every_field),
		cmocka_unit_test(config_tells_the_presets),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
