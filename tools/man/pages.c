/* Fills the manual pages of bandcensus and of settings files, and what shells complete. Runs while
 * building, on the computer that builds. */
#include "store/bandplan.h"
#include "store/completion.h"
#include "store/manual.h"
#include "store/station.h"
#include "store/town.h"
#include "tools/profile.h"
#include "tools/verbs.h"

#include <stdlib.h>
#include <string.h>

/* "SURVEY --receiver FILE" in macros. */
static void write_words(FILE *to, const char *words)
{
	for (const char *p = words; *p; p += strspn(p, " ")) {
		size_t n = strcspn(p, " ");
		bool maybe = p[0] == '[';
		fprintf(to, " %s", maybe ? "Op " : "");
		if (strncmp(p, "--", 2) == 0)
			fprintf(to, "Fl %.*s", (int)n - 1, p + 1);
		else
			fprintf(to, "Ar %.*s", (int)n - 2 * maybe, p + maybe);
		p += n;
	}
}

/* What it takes with a meaning of its own, as a list; the rest in one sentence. */
static void write_takes(FILE *to, const struct command *c)
{
	struct option_row row[TAKES_MOST + 1];
	int rows = command_options(c, row) - 1, rest = 0;       /* --help goes without saying */

	fputs(".Bl -tag -width Ds\n", to);
	for (int i = 0; i < rows; i++)
		if (c->takes[i].help || c->takes[i].needed) {
			manual_option(to, &row[i]);
			manual_sentence(to, row[i].help);
			if (c->takes[i].needed)
				fputs("Must be given.\n", to);
		} else {
			rest++;
		}
	if (rest == rows)
		fputs(".It Takes\n", to);
	else if (rest > 0)
		fputs(".It Takes also\n", to);
	for (int i = 0, told = 0; i < rows; i++)
		if (!c->takes[i].help && !c->takes[i].needed)
			fprintf(to, ".Fl -%s%s\n", row[i].name, ++told < rest ? " ," : "");
	if (rest > 0)
		fputs("as under OPTIONS.\n", to);
	fputs(".El\n", to);
}

static void write_verb(FILE *to, const struct command *c)
{
	fprintf(to, ".Ss %s\n.Nm bandcensus\n.Cm %s", c->name, c->name);
	write_words(to, c->words);
	fputs("\n.Pp\n", to);
	manual_sentence(to, c->help);
	if (c->more)
		manual_sentence(to, c->more);
	if (c->takes[0].option)
		write_takes(to, c);
	if (c->exits)
		fprintf(to, ".Pp\nExit status: %s.\n", c->exits);
	fprintf(to, ".Pp\nFor example:\n.Bd -literal -offset indent\nbandcensus %s\n.Ed\n",
		c->example);
}

static void write_verbs(FILE *to, const char *what, const char *page)
{
	(void)what;
	(void)page;
	for (int i = 0; i < VERBS; i++)
		write_verb(to, &commands[i]);
}

static bool takes(const struct command *c, const char *option)
{
	for (int i = 0; i < TAKES_MOST && c->takes[i].option; i++)
		if (strcmp(c->takes[i].option, option) == 0)
			return true;
	return strcmp(option, "help") == 0;
}

static void write_takers(FILE *to, const char *option)
{
	int all = 0, told = 0;

	for (int i = 0; i < VERBS; i++)
		all += takes(&commands[i], option);
	if (all == VERBS) {
		fputs("Taken by every verb.\n", to);
		return;
	}
	fputs("Taken by\n", to);
	for (int i = 0; i < VERBS; i++)
		if (takes(&commands[i], option))
			fprintf(to, ".Cm %s%s\n", commands[i].name, ++told < all ? " ," : " .");
}

static void write_options(FILE *to, const char *what, const char *page)
{
	int rows;
	const struct option_row *row = command_table(&rows);
	(void)what;
	(void)page;

	fputs(".Bl -tag -width Ds\n", to);
	for (int i = 0; i < rows; i++) {
		manual_option(to, &row[i]);
		manual_sentence(to, row[i].help);
		write_takers(to, row[i].name);
	}
	fputs(".El\n", to);
}

static void write_fields(FILE *to, const char *what, const char *page)
{
	static const struct {
		const char *kind;
		const struct field *table;
	} kinds[] = {
		{ "daemon", station_fields }, { "bands", bandplan_fields },
		{ "receiver", receiver_fields },
		{ "interests", interests_fields }, { "town", town_fields },
	};

	(void)page;
	for (size_t i = 0; i < sizeof kinds / sizeof kinds[0]; i++)
		if (strcmp(kinds[i].kind, what) == 0) {
			manual_fields(to, kinds[i].table);
			return;
		}
	fprintf(stderr, "there are no settings of kind \"%s\"\n", what);
	exit(1);
}

/* ---- what a result tells ---- */

/* A line of "bandcensus VERB --fields": name, type and meaning. */
static void write_told_line(FILE *to, const char *line)
{
	char name[100], type[20];
	int n = 0;

	if (sscanf(line, "%99s %19s %n", name, type, &n) < 2 || n == 0) {
		fprintf(stderr, "\"%s\" is no field\n", line);
		exit(1);
	}
	fprintf(to, ".It Va %s Pq %s\n", name, type);
	if (line[n])
		manual_sentence(to, line + n);
}

/* The file fields/VERB.txt beside the page, which a test keeps true. */
static void write_told(FILE *to, const char *verb, const char *page)
{
	const char *slash = strrchr(page, '/');
	char path[4096], *line = NULL;
	size_t room = 0;

	snprintf(path, sizeof path, "%.*sfields/%s.txt", slash ? (int)(slash + 1 - page) : 0, page,
		 verb);
	FILE *from = fopen(path, "r");
	if (!from) {
		perror(path);
		exit(1);
	}
	fputs(".Bl -tag -width Ds -compact\n", to);
	while (getline(&line, &room, from) >= 0) {
		line[strcspn(line, "\n")] = '\0';
		write_told_line(to, line);
	}
	fputs(".El\n", to);
	free(line);
	fclose(from);
}

/* ---- the shells ---- */

static void complete(FILE *to, const char *shell, const char *page)
{
	struct completed of[VERBS];
	struct option_row row[VERBS][TAKES_MOST + 1];
	(void)page;

	for (int i = 0; i < VERBS; i++) {
		const struct command *c = &commands[i];
		of[i] = (struct completed){ .verb = c->name,
					    .help = c->help,
					    .ends = c->ends,
					    .files = c->most > 0,
					    .row = row[i],
					    .rows = command_options(c, row[i]) };
	}
	of[VERB_HELP].verbs = true;
	completion_write(to, shell, "bandcensus", of, VERBS);
}

int main(int argc, char **argv)
{
	static const struct manual_part parts[] = {
		{ "verbs", write_verbs }, { "options", write_options }, { "fields", write_fields },
		{ "told", write_told }, { "complete", complete },
	};

	return manual_main(argc, argv, parts, sizeof parts / sizeof parts[0]);
}
