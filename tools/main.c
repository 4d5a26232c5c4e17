#include "tools/verbs.h"

#include <string.h>

static int verb_help(const struct choice *o);

/* What each verb does. */
static int (*const runs[VERBS])(const struct choice *o) = {
	[VERB_STATUS] = verb_status,   [VERB_CHANNELS] = verb_channels,
	[VERB_PLAN] = verb_plan,       [VERB_REHEARSE] = verb_rehearse,
	[VERB_RASTERS] = verb_rasters, [VERB_CHECK] = verb_check,
	[VERB_MERGE] = verb_merge,     [VERB_COMPARE] = verb_compare,
	[VERB_RESCUE] = verb_rescue,   [VERB_THIN] = verb_thin,
	[VERB_REPORT] = verb_report,   [VERB_PICTURE] = verb_picture,
	[VERB_SETUP] = verb_setup,     [VERB_HELP] = verb_help,
};

static int print_verbs(void)
{
	printf("bandcensus VERB ...\nReads what bandcensusd kept of the air.\n\n");
	for (int i = 0; i < VERBS; i++)
		printf("  %-9s %s\n", commands[i].name, commands[i].help);
	printf("\nbandcensus VERB --help tells more of each; --version prints the version.\n"
	       "exit code: %s\n\nfor example: bandcensus plan night.survey --receiver receiver-400.conf\n",
	       COMMAND_EXITS);
	return command_end();
}

/* Its number, or -1 once it was complained of. */
static int verb_named(const char *word)
{
	const char *names[VERBS];

	for (int i = 0; i < VERBS; i++) {
		if (strcmp(word, commands[i].name) == 0)
			return i;
		names[i] = commands[i].name;
	}
	const char *meant = word_nearest(word, names, VERBS);
	fprintf(stderr, "bandcensus: \"%.60s\" is no verb%s%s%s, see bandcensus --help\n", word,
		meant ? " (" : "", meant ? meant : "", meant ? "?)" : "");
	return -1;
}

static int verb_help(const struct choice *o)
{
	int verb = o->files ? verb_named(o->file[0]) : VERBS;

	return verb < 0 ? 2 : verb == VERBS ? print_verbs() : command_help(&commands[verb]);
}

int main(int argc, char **argv)
{
	if (argc < 2) {
		fprintf(stderr, "bandcensus: no verb given, see bandcensus --help\n");
		return 2;
	}
	if (strcmp(argv[1], "--help") == 0)
		return print_verbs();
	if (strcmp(argv[1], "--version") == 0) {
		printf("bandcensus %s\n", BANDCENSUS_VERSION);
		return command_end();
	}
	int verb = verb_named(argv[1]);
	return verb < 0 ? 2 : command_run(&commands[verb], runs[verb], argc - 1, argv + 1);
}
