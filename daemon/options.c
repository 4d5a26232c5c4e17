#include "daemon/options.h"

#include <errno.h>
#include <stddef.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "store/settings.h"

enum option_type { OPTION_TEXT, OPTION_SOURCE, OPTION_HZ, OPTION_FREQ, OPTION_DURATION, OPTION_SEED, OPTION_MB,
		   OPTION_FLAG };

#define AT(member) offsetof(struct options, member)

static const struct option_row {
	const char      *name;
	const char      *value;         /* NULL: a flag */
	enum option_type type;
	size_t           at;
	const char      *help;
} rows[] = {
	{ "config",  "FILE",     OPTION_TEXT,     AT(config),  "settings; without: presets" },
	{ "survey",  "FILE",     OPTION_TEXT,     AT(survey),  "survey to write, or to go on with" },
	{ "source",  "WHAT",     OPTION_SOURCE,   AT(sources),
	  "dongle[:SERIAL] (the default), recording:FILE, town[:FILE]; may be repeated" },
	{ "rate",    "HZ",       OPTION_HZ,       AT(rate_hz), "samples a second; needed by raw recordings" },
	{ "centre",  "FREQ",     OPTION_FREQ,     AT(centre),  "centre of a recording that lacks one" },
	{ "step",    "FREQ",     OPTION_FREQ,     AT(step),
	  "raster for a recording without settings; default 12.5 kHz" },
	{ "for",     "DURATION", OPTION_DURATION, AT(for_us),  "how long to survey: 90 s, 10 min, 12 h" },
	{ "limit-mb", "N",       OPTION_MB,       AT(limit_bytes), "end the survey when its file is so large" },
	{ "seed",    "N",        OPTION_SEED,     AT(seed),    "chance of the town" },
	{ "truth",   "FILE",     OPTION_TEXT,     AT(truth),   "where the town writes what it sent" },
	{ "check",   NULL,       OPTION_FLAG,     AT(check),   "read settings, print the itinerary, stop" },
	{ "calibrate", NULL,     OPTION_FLAG,     AT(calibrate),
	  "tell the crystal's error and the right gain, print both, stop" },
	{ "baseline", NULL,      OPTION_FLAG,     AT(baseline),
	  "with the antenna off: add the receiver's own lines to the survey, stop" },
	{ "antenna-off", NULL,   OPTION_FLAG,     AT(antenna_off), "takes the town's antenna off" },
	{ "help",    NULL,       OPTION_FLAG,     AT(help),    "this" },
	{ "version", NULL,       OPTION_FLAG,     AT(version), "the version" },
};

#define ROWS (sizeof rows / sizeof rows[0])

void options_help(void)
{
	puts("Usage: bandcensusd [OPTION ...]\n"
	     "Surveys the air into a survey file, for `bandcensus` to plan from.\n");
	for (size_t i = 0; i < ROWS; i++) {
		char left[40];
		snprintf(left, sizeof left, "--%s %s", rows[i].name, rows[i].value ? rows[i].value : "");
		printf("  %-20s %s\n", left, rows[i].help);
	}
	puts("\nFrequencies are in hertz, or carry a unit: 154235000, \"154.235 MHz\", \"25/3 kHz\".\n"
	     "Receive only what your law allows. No audio is kept.");
}

static int take_seed(const char *text, uint64_t *out)
{
	char *end;
	errno = 0;
	*out = strtoull(text, &end, 10);
	return errno || end == text || *end || text[0] == '-' ? -1 : 0;
}

static int take_megabytes(const char *text, int64_t *out)
{
	char *end;
	errno = 0;
	long n = strtol(text, &end, 10);
	bool bad = errno || end == text || *end || n < 1 || n > 1000000;
	*out = bad ? 0 : n * INT64_C(1000000);
	return bad ? -1 : 0;
}

static int take_source(const char *text, struct options *out)
{
	if (out->n_sources == OPTION_SOURCES)
		return -1;
	out->sources[out->n_sources++] = text;
	return 0;
}

/* What a value must be, by its type. */
static const char *allowed(enum option_type type)
{
	switch (type) {
	case OPTION_DURATION:
		return "a duration such as 90 s, 10 min or 12 h";
	case OPTION_SEED:
		return "a whole number";
	case OPTION_MB:
		return "a whole number of megabytes, 1 to 1000000";
	case OPTION_TEXT:
	case OPTION_SOURCE:
		return "not empty";
	default:
		return "a frequency such as 154235000 or \"154.235 MHz\"";
	}
}

static int take(const struct option_row *row, const char *value, struct options *out,
		struct fault *why)
{
	void *at = (char *)out + row->at;
	struct freq f;
	int bad = 0;

	switch (row->type) {
	case OPTION_FLAG:
		*(bool *)at = true;
		break;
	case OPTION_TEXT:
		*(const char **)at = value;
		bad = !*value;
		break;
	case OPTION_SOURCE:
		if (take_source(value, out) < 0)
			return fault_set(why, FAULT_INPUT, "--%s is given more than %d times", row->name,
					 OPTION_SOURCES);
		bad = !*value;
		break;
	case OPTION_HZ:
		bad = freq_parse(value, &f) < 0 || f.thirds <= 0 || f.thirds % 3 ||
		      f.thirds / 3 > INT32_MAX;
		*(int32_t *)at = bad ? 0 : (int32_t)(f.thirds / 3);
		break;
	case OPTION_FREQ:
		bad = freq_parse(value, &f) < 0 || f.thirds <= 0;
		*(struct freq *)at = f;
		break;
	case OPTION_DURATION:
		bad = duration_parse(value, at) < 0 || *(int64_t *)at <= 0;
		break;
	case OPTION_MB:
		bad = take_megabytes(value, at) < 0;
		break;
	case OPTION_SEED:
		bad = take_seed(value, at) < 0;
		break;
	}
	if (bad)
		return fault_set(why, FAULT_INPUT, "--%s is \"%s\", must be %s", row->name, value,
				 allowed(row->type));
	return 0;
}

static const struct option_row *row_named(const char *name, size_t n)
{
	for (size_t i = 0; i < ROWS; i++)
		if (strlen(rows[i].name) == n && memcmp(rows[i].name, name, n) == 0)
			return &rows[i];
	return NULL;
}

int options_read(int argc, char **argv, struct options *out, struct fault *why)
{
	*out = (struct options){ .seed = 1 };
	for (int i = 1; i < argc; i++) {
		if (strncmp(argv[i], "--", 2) != 0)
			return fault_set(why, FAULT_INPUT, "\"%s\" is not an option, see --help", argv[i]);
		const char *name = argv[i] + 2, *value = strchr(name, '=');
		const struct option_row *row = row_named(name, value ? (size_t)(value - name) : strlen(name));
		if (!row)
			return fault_set(why, FAULT_INPUT, "%s is unknown, see --help", argv[i]);
		if (row->type == OPTION_FLAG && value)
			return fault_set(why, FAULT_INPUT, "--%s takes no value", row->name);
		if (row->type != OPTION_FLAG && !value && ++i == argc)
			return fault_set(why, FAULT_INPUT, "--%s needs a %s", row->name, row->value);
		if (take(row, value ? value + 1 : argv[i], out, why) < 0)
			return -1;
	}
	if (out->n_sources == 0)
		out->sources[out->n_sources++] = "dongle";
	return 0;
}
