#include "tools/command.h"

#include <string.h>

#include "tools/verbs.h"

static const struct command *const commands[] = {
	&command_status, &command_channels, &command_plan, &command_rehearse, &command_rasters,
	&command_check, &command_merge, &command_compare, &command_rescue,
};

#define COMMANDS ((int)(sizeof commands / sizeof commands[0]))

const struct command *const *commands_all(int *n)
{
	*n = COMMANDS;
	return commands;
}

static int print_help(void)
{
	printf("bandcensus VERB ...\nReads what bandcensusd kept of the air.\n\n");
	for (int i = 0; i < COMMANDS; i++)
		printf("  %-9s %s\n", commands[i]->name, commands[i]->help);
	printf("\nbandcensus VERB --help tells more of each; --version prints the version.\n");
	return command_end();
}

static int no_verb(const char *word)
{
	const char *names[COMMANDS];

	for (int i = 0; i < COMMANDS; i++)
		names[i] = commands[i]->name;
	const char *meant = word_nearest(word, names, COMMANDS);
	fprintf(stderr, "bandcensus: \"%.60s\" is no verb%s%s%s, see bandcensus --help\n", word,
		meant ? " (" : "", meant ? meant : "", meant ? "?)" : "");
	return 2;
}

int main(int argc, char **argv)
{
	if (argc < 2) {
		fprintf(stderr, "bandcensus: no verb given, see bandcensus --help\n");
		return 2;
	}
	if (strcmp(argv[1], "--help") == 0)
		return print_help();
	if (strcmp(argv[1], "--version") == 0) {
		printf("bandcensus %s\n", BANDCENSUS_VERSION);
		return command_end();
	}
	for (int i = 0; i < COMMANDS; i++)
		if (strcmp(argv[1], commands[i]->name) == 0)
			return command_run(commands[i], argc - 1, argv + 1);
	return no_verb(argv[1]);
}
