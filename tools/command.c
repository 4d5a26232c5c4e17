#include "tools/command.h"

#include "tools/band_picture.h"

#include <errno.h>
#include <stdlib.h>
#include <string.h>


#define AT(member) offsetof(struct choice, member)

/* Every option there is. A name means one thing wherever it is taken. */
static const struct option_row table[] = {
	{ .name = "receiver",
	  .value = "FILE",
	  .ends = ".conf",
	  .type = OPTION_TEXT,
	  .at = AT(receiver),
	  .help = "profile of the set to type into" },
	{ .name = "interests",
	  .value = "FILE",
	  .ends = ".conf",
	  .type = OPTION_TEXT,
	  .at = AT(interests),
	  .help = "which services you want to hear, and how much" },
	{ .name = "plan",
	  .value = "FILE",
	  .ends = ".csv",
	  .type = OPTION_TEXT,
	  .at = AT(plan),
	  .help = "CSV with a head: plan.csv, or memories of your own. Columns by name: bank, and type_mhz or "
		  "frequency_hz; if there slot, mode (AM, NFM, WFM), delay_s, locked and priority (yes, no), "
		  "heard (yes, noise, locked); others are passed over" },
	{ .name = "memories",
	  .value = "FILE",
	  .ends = ".csv",
	  .type = OPTION_TEXT,
	  .at = AT(memories),
	  .help = "CSV of what is in the set now, such as your own list or the plan.csv you ticked: columns as for "
		  "rehearse --plan, and pinned (yes, no) and name. Keeps slots, and tells the changes" },
	{ .name = "banks",
	  .value = "LIST",
	  .type = OPTION_BITS,
	  .at = AT(banks),
	  .help = "these together, such as 1,2,5; each alone and all when not given" },
	{ .name = "licences",
	  .value = "FILE",
	  .ends = ".csv",
	  .type = OPTION_TEXT,
	  .at = AT(licences),
	  .help = "CSV of frequencies in MHz and who is licensed there, to print beside" },
	{ .name = "site",
	  .value = "NAME",
	  .type = OPTION_TEXT,
	  .at = AT(night.site),
	  .help = "of a merged survey that has several" },
	{ .name = "squelch",
	  .value = "DB",
	  .type = OPTION_REAL,
	  .at = AT(night.squelch_db),
	  .low = 0,
	  .high = 60,
	  .help = "dB over the noise from which a channel counts as busy, 0 to 60; 6 when not given" },
	{ .name = "since",
	  .value = "TIME",
	  .type = OPTION_MOMENT,
	  .at = AT(night.since),
	  .help = "only from then on: \"2026-02-17 21:00\", or 21:00 for the first after the survey began, in "
		  "this computer's time zone; with Z behind it, UTC. Accounts are kept by the hour" },
	{ .name = "until",
	  .value = "TIME",
	  .type = OPTION_MOMENT,
	  .at = AT(night.until),
	  .help = "only up to then, written likewise; 05:00 is the first after the beginning" },
	{ .name = "band",
	  .value = "ID",
	  .type = OPTION_TEXTS,
	  .at = AT(night.band),
	  .help = "only this band, as status lists them; may be repeated" },
	{ .name = "service",
	  .value = "NAME",
	  .type = OPTION_TEXTS,
	  .at = AT(night.service),
	  .help = "only the bands of this service, such as fire, air or marine; may be repeated" },
	{ .name = "min-overs",
	  .value = "N",
	  .type = OPTION_WHOLE,
	  .at = AT(min_overs),
	  .low = 0,
	  .high = 1e6,
	  .help = "only channels with so many overs; 1 when not given" },
	{ .name = "json", .type = OPTION_FLAG, .at = AT(json), .help = "for a program" },
	{ .name = "csv",
	  .type = OPTION_FLAG,
	  .at = AT(csv),
	  .help = "for a spreadsheet (RFC 4180)" },
	{ .name = "fields",
	  .type = OPTION_FLAG,
	  .at = AT(fields),
	  .help = "what --json and --csv tell instead: name, type and meaning of each field" },
	{ .name = "output",
	  .value = "DIR",
	  .type = OPTION_TEXT,
	  .at = AT(output),
	  .help = "write files there instead" },
	{ .name = "width",
	  .value = "DOTS",
	  .type = OPTION_WHOLE,
	  .at = AT(width),
	  .low = BAND_PICTURE_LOW,
	  .high = BAND_PICTURE_HIGH,
	  .help = "1600 when not given" },
	{ .name = "height",
	  .value = "DOTS",
	  .type = OPTION_WHOLE,
	  .at = AT(height),
	  .low = BAND_PICTURE_LOW,
	  .high = BAND_PICTURE_HIGH,
	  .help = "1000 when not given" },
	{ .name = "follow",
	  .type = OPTION_FLAG,
	  .at = AT(follow),
	  .help = "how a survey goes that is being written, again and again, until it ends or Ctrl-C" },
	{ .name = "every",
	  .value = "DURATION",
	  .type = OPTION_DURATION,
	  .at = AT(every_us),
	  .help = "with --follow, from one look at it to the next; 5 s when not given" },
	{ .name = "station",
	  .value = "NAME",
	  .type = OPTION_TEXT,
	  .at = AT(station),
	  .help = "what you call the place; home when not given" },
	{ .name = "region",
	  .value = "NAME",
	  .type = OPTION_TEXT,
	  .at = AT(region),
	  .help = "which band plan: europe, north-america, or a file of your own" },
	{ .name = "antenna",
	  .value = "RANGE",
	  .type = OPTION_TEXT,
	  .at = AT(antenna),
	  .help = "what it is good for, such as \"118-470 MHz\", several with commas; all when not given" },
	{ .name = "keep-minutes",
	  .value = "DURATION",
	  .type = OPTION_DURATION,
	  .at = AT(keep.minutes_us),
	  .help = "strips minute by minute, such as \"30 d\"; then hour by hour" },
	{ .name = "keep-strips",
	  .value = "DURATION",
	  .type = OPTION_DURATION,
	  .at = AT(keep.strips_us),
	  .help = "strips at all" },
	{ .name = "keep-overs",
	  .value = "DURATION",
	  .type = OPTION_DURATION,
	  .at = AT(keep.overs_us),
	  .help = "single overs; what they add up to stays" },
	{ .name = "keep-hours",
	  .value = "DURATION",
	  .type = OPTION_DURATION,
	  .at = AT(keep.hours_us),
	  .help = "accounts hour by hour; then day by day, for good" },
	{ .name = "yes",
	  .type = OPTION_FLAG,
	  .at = AT(yes),
	  .help = "ask nothing: what is not given is as usual, and the files are written" },
	{ .name = "overwrite",
	  .type = OPTION_FLAG,
	  .at = AT(overwrite),
	  .help = "also over files that are there" },
	{ .name = "help", .type = OPTION_FLAG, .at = AT(help), .help = "these lines" },
};

#define TABLE ((int)(sizeof table / sizeof table[0]))

const struct option_row *command_table(int *n)
{
	*n = TABLE;
	return table;
}

int command_fail(const struct fault *why)
{
	fprintf(stderr, "bandcensus: %s\n", why->text);
	return fault_exit(why);
}

int command_end(void)
{
	if (fflush(stdout) == 0 && !ferror(stdout))
		return 0;
	fprintf(stderr, "bandcensus: can't write the result: %s\n", strerror(errno));
	return 1;
}

static const struct option_row *row_of(const char *name)
{
	for (int i = 0; i < TABLE; i++)
		if (strcmp(table[i].name, name) == 0)
			return &table[i];
	abort();                /* a verb takes an option that there is not */
}

int command_options(const struct command *c, struct option_row row[TAKES_MOST + 1])
{
	int n = 0;

	for (; n < TAKES_MOST && c->takes[n].option; n++) {
		row[n] = *row_of(c->takes[n].option);
		if (c->takes[n].help)
			row[n].help = c->takes[n].help;
	}
	row[n++] = *row_of("help");
	return n;
}

int command_help(const struct command *c)
{
	struct option_row row[TAKES_MOST + 1];
	int rows = command_options(c, row);

	printf("bandcensus %s%s%s\n%s\n\n", c->name, c->words[0] ? " " : "", c->words, c->help);
	options_print(stdout, row, rows);
	if (c->more)
		printf("\n%s", c->more);
	printf("\nexit code: %s\n\nfor example: bandcensus %s\n",
	       c->exits ? c->exits : COMMAND_EXITS, c->example);
	return command_end();
}

/* Whether the option was given. */
static bool given(const struct option_row *r, const struct choice *o)
{
	return r->type != OPTION_TEXT || *(const char *const *)((const char *)o + r->at);
}

/* What the table alone can't see. */
static int complete(const struct command *c, const struct option_row *row, const struct choice *o,
		    struct fault *why)
{
	if (o->files < c->least)
		return fault_set(why, FAULT_INPUT, "%s needs %s, see bandcensus %s --help", c->name,
				 c->words, c->name);
	for (int i = 0; i < TAKES_MOST && c->takes[i].option; i++)
		if (c->takes[i].needed && !given(&row[i], o))
			return fault_set(why, FAULT_INPUT, "%s needs --%s %s, %.60s", c->name,
					 row[i].name, row[i].value, row[i].help);
	if (o->json + o->csv + o->fields > 1)
		return fault_set(why, FAULT_INPUT, "--json, --csv and --fields exclude each other");
	return 0;
}

int command_run(const struct command *c, int (*run)(const struct choice *o), int argc, char **argv)
{
	struct choice o = { .night.squelch_db = SQUELCH_PRESET_DB, .min_overs = 1 };
	struct option_row row[TAKES_MOST + 1];
	struct fault why = { 0 };
	char program[40];
	int rows = command_options(c, row), code;

	snprintf(program, sizeof program, "bandcensus %s", c->name);
	int taken = options_take(row, rows, argc, argv, program, &o, argv, c->most, &o.files, &why);
	o.file = argv;
	if (o.help && taken == 0)
		code = command_help(c);
	else if (taken < 0 || complete(c, row, &o, &why) < 0)
		code = command_fail(&why);
	else
		code = run(&o);
	return code;
}
