#include "daemon/options.h"

#define AT(member) offsetof(struct options, member)

static const struct option_row rows[] = {
	{ .name = "config",
	  .value = "FILE",
	  .ends = ".conf",
	  .type = OPTION_TEXT,
	  .at = AT(config),
	  .help = "settings; a recording does without" },
	{ .name = "survey",
	  .value = "FILE",
	  .ends = ".survey",
	  .type = OPTION_TEXT,
	  .at = AT(survey),
	  .help = "survey to write, or to go on with" },
	{ .name = "folder",
	  .value = "DIR",
	  .type = OPTION_TEXT,
	  .at = AT(folder),
	  .help = "instead of --survey: a survey for each week there, such as 2026-W48.survey" },
	{ .name = "source",
	  .value = "WHAT",
	  .type = OPTION_TEXTS,
	  .at = AT(source),
	  .help = "what to listen with: dongle[:SERIAL] (the default), recording:FILE, town[:FILE]; may be repeated" },
	{ .name = "rate",
	  .value = "HZ",
	  .type = OPTION_HZ,
	  .at = AT(rate_hz),
	  .help = "samples a second; needed by raw recordings" },
	{ .name = "centre",
	  .value = "FREQ",
	  .type = OPTION_FREQ,
	  .at = AT(centre),
	  .help = "centre of a recording that lacks one" },
	{ .name = "step",
	  .value = "FREQ",
	  .type = OPTION_FREQ,
	  .at = AT(step),
	  .help = "raster for a recording without settings; default 12.5 kHz" },
	{ .name = "for",
	  .value = "DURATION",
	  .type = OPTION_DURATION,
	  .at = AT(for_us),
	  .help = "how long to survey: 90 s, 10 min, 12 h; without: until it ends or is stopped" },
	{ .name = "limit-mb",
	  .value = "N",
	  .type = OPTION_WHOLE,
	  .at = AT(limit_bytes),
	  .low = 1,
	  .high = 1e6,
	  .scale = 1e6,
	  .help = "end the survey when its file is so large" },
	{ .name = "seed",
	  .value = "N",
	  .type = OPTION_SEED,
	  .at = AT(seed),
	  .help = "chance of the town" },
	{ .name = "start",
	  .value = "TIME",
	  .type = OPTION_TEXT,
	  .at = AT(start),
	  .help = "when the town's run begins, 2026-02-22T20:00:00Z; without: as its file says" },
	{ .name = "truth",
	  .value = "FILE",
	  .type = OPTION_TEXT,
	  .at = AT(truth),
	  .help = "where the town writes what it sent" },
	{ .name = "page",
	  .value = "ADDRESS",
	  .type = OPTION_TEXT,
	  .at = AT(page),
	  .help = "serve a page of how it goes, and /status.json, such as 127.0.0.1:8080; elsewhere than on this "
		  "computer only with a token" },
	{ .name = "page-token",
	  .value = "FILE",
	  .type = OPTION_TEXT,
	  .at = AT(page_token),
	  .help = "one line of 16 to 100 letters, asked for as the password of the user bandcensus" },
	{ .name = "check",
	  .type = OPTION_FLAG,
	  .at = AT(check),
	  .help = "read settings, print the itinerary, stop" },
	{ .name = "calibrate",
	  .type = OPTION_FLAG,
	  .at = AT(calibrate),
	  .help = "tell the crystal's error and the right gain, print both, stop" },
	{ .name = "baseline",
	  .type = OPTION_FLAG,
	  .at = AT(baseline),
	  .help = "with the antenna off: add the receiver's own lines to the survey, stop" },
	{ .name = "antenna-off",
	  .type = OPTION_FLAG,
	  .at = AT(antenna_off),
	  .help = "takes the town's antenna off" },
	{ .name = "help", .type = OPTION_FLAG, .at = AT(help), .help = "this" },
	{ .name = "version", .type = OPTION_FLAG, .at = AT(version), .help = "the version" },
};

#define ROWS ((int)(sizeof rows / sizeof rows[0]))

const struct option_row *options_table(int *n)
{
	*n = ROWS;
	return rows;
}

void options_help(void)
{
	puts("Usage: bandcensusd [OPTION ...]\n"
	     "Surveys the air into a survey file, for `bandcensus` to plan from.\n");
	options_print(stdout, rows, ROWS);
	puts("\nFrequencies are in hertz, or carry a unit: 154235000, \"154.235 MHz\", \"25/3 kHz\".\n"
	     "Receive only what your law allows. No audio is kept.\n"
	     "\nexit code: 0 it ended as it was told to, 1 it failed, 2 something in your input is to be mended\n"
	     "\nfor example: bandcensusd --config my.conf --survey night.survey --for 11h");
}

int options_read(int argc, char **argv, struct options *out, struct fault *why)
{
	int words;

	*out = (struct options){ .seed = 1 };
	if (options_take(rows, ROWS, argc, argv, "bandcensusd", out, NULL, 0, &words, why) < 0)
		return -1;
	if (out->source.n == 0)
		out->source.at[out->source.n++] = "dongle";
	return 0;
}
