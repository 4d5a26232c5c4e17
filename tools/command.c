#include "tools/command.h"

#include <errno.h>
#include <getopt.h>
#include <limits.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#define SQUELCH_PRESET_DDB 60           /* what a shelf receiver opens on */
#define BANKS_MOST         64           /* a bit each                     */

enum { OPTION_HELP = 1, OPTION_JSON, OPTION_CSV, OPTION_SQUELCH, OPTION_MIN_OVERS, OPTION_RECEIVER,
       OPTION_INTERESTS, OPTION_OUTPUT, OPTION_SITE, OPTION_LICENCES, OPTION_PLAN, OPTION_BANKS };

static const struct {
	struct option option;
	unsigned      takes;            /* allowed when the verb takes this; 0: always */
} options[] = {
	{ { "help", no_argument, NULL, OPTION_HELP }, 0 },
	{ { "json", no_argument, NULL, OPTION_JSON }, TAKES_JSON },
	{ { "csv", no_argument, NULL, OPTION_CSV }, TAKES_CSV },
	{ { "squelch", required_argument, NULL, OPTION_SQUELCH }, TAKES_SQUELCH },
	{ { "site", required_argument, NULL, OPTION_SITE }, TAKES_SITE },
	{ { "min-overs", required_argument, NULL, OPTION_MIN_OVERS }, TAKES_MIN_OVERS },
	{ { "receiver", required_argument, NULL, OPTION_RECEIVER }, TAKES_RECEIVER },
	{ { "interests", required_argument, NULL, OPTION_INTERESTS }, TAKES_OUTPUT },
	{ { "output", required_argument, NULL, OPTION_OUTPUT }, TAKES_OUTPUT },
	{ { "licences", required_argument, NULL, OPTION_LICENCES }, TAKES_LICENCES },
	{ { "plan", required_argument, NULL, OPTION_PLAN }, TAKES_PLAN },
	{ { "banks", required_argument, NULL, OPTION_BANKS }, TAKES_PLAN },
};

#define OPTIONS (sizeof options / sizeof options[0])

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

static void print_help(const struct command *c)
{
	printf("bandcensus %s %s\n%s\n\n%s  --help               these lines\n", c->name, c->words,
	       c->help, c->options);
}

/* The whole of text as a number within bounds. */
static int number(const char *name, const char *text, double low, double high, double *out,
		  struct fault *why)
{
	char *end;
	double v = strtod(text, &end);

	if (end == text || *end || !(v >= low && v <= high))
		return fault_set(why, FAULT_INPUT, "--%s is \"%.40s\", must be %g to %g", name,
				 text, low, high);
	*out = v;
	return 0;
}

/* "1,2,5": a bit each. */
static int bank_list(const char *text, uint64_t *out, struct fault *why)
{
	const char *p = text;

	for (*out = 0;; p++) {
		size_t digits = strspn(p, "0123456789");
		int bank = digits > 0 && digits < 3 ? atoi(p) : 0;
		if (bank < 1 || bank > BANKS_MOST || (p[digits] && p[digits] != ','))
			return fault_set(why, FAULT_INPUT,
					 "--banks is \"%.40s\", must be banks from 1 to %d such as 1,2,5", text,
					 BANKS_MOST);
		*out |= UINT64_C(1) << (bank - 1);
		p += digits;
		if (!*p)
			return 0;
	}
}

static int take(int option, const char *text, struct choice *out, struct fault *why)
{
	double v = 0;

	switch (option) {
	case OPTION_JSON:
		out->json = true;
		return 0;
	case OPTION_CSV:
		out->csv = true;
		return 0;
	case OPTION_SQUELCH:
		if (number("squelch", text, 0, 60, &v, why) < 0)
			return -1;
		out->squelch_ddb = (int)lround(v * 10);
		return 0;
	case OPTION_MIN_OVERS:
		if (number("min-overs", text, 0, 1e6, &v, why) < 0)
			return -1;
		if (v != floor(v))
			return fault_set(why, FAULT_INPUT,
					 "--min-overs is \"%.40s\", must be a whole number", text);
		out->min_overs = (int)v;
		return 0;
	case OPTION_SITE:
		out->site = text;
		return 0;
	case OPTION_LICENCES:
		out->licences = text;
		return 0;
	case OPTION_RECEIVER:
		out->receiver = text;
		return 0;
	case OPTION_PLAN:
		out->plan = text;
		return 0;
	case OPTION_BANKS:
		return bank_list(text, &out->banks, why);
	case OPTION_INTERESTS:
		out->interests = text;
		return 0;
	default:
		out->output = text;
		return 0;
	}
}

/* The options a verb takes, for getopt. */
static void allowed(unsigned takes, struct option *list)
{
	for (size_t i = 0; i < OPTIONS; i++)
		if (options[i].takes == 0 || options[i].takes & takes)
			*list++ = options[i].option;
	*list = (struct option){ 0 };
}

static int count_files(const struct command *c, int argc, char **argv, int least, int most,
		       struct choice *out, struct fault *why)
{
	out->file = argv + optind;
	out->files = argc - optind;
	if (out->files < least)
		return fault_set(why, FAULT_INPUT, "%s needs %s, see bandcensus %s --help", c->name,
				 c->words, c->name);
	if (out->files > most)
		return fault_set(why, FAULT_INPUT,
				 "\"%.60s\" is a word too many, see bandcensus %s --help",
				 out->file[most], c->name);
	return 0;
}

int command_read(const struct command *c, int argc, char **argv, unsigned takes, int least,
		 int most, struct choice *out)
{
	struct option list[OPTIONS + 1];
	struct fault why = { 0 };
	int got;

	*out = (struct choice){ .squelch_ddb = SQUELCH_PRESET_DDB, .min_overs = 1 };
	allowed(takes, list);
	optind = 0;             /* the library starts anew */
	opterr = 0;
	while ((got = getopt_long(argc, argv, ":", list, NULL)) != -1) {
		if (got == OPTION_HELP) {
			print_help(c);
			return 1 + command_end();
		}
		if (got == '?' || got == ':')
			fault_set(&why, FAULT_INPUT, "\"%.60s\" is %s, see bandcensus %s --help",
				  argv[optind - 1],
				  got == '?' ? "no option here" : "not complete without a value",
				  c->name);
		else
			take(got, optarg, out, &why);
		if (why.kind)
			return 1 + command_fail(&why);
	}
	if (count_files(c, argc, argv, least, most, out, &why) < 0)
		return 1 + command_fail(&why);
	return 0;
}
