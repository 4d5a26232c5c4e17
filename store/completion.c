#include "store/completion.h"

#include <string.h>

static bool is_file(const struct option_row *r)
{
	return r->value && strcmp(r->value, "FILE") == 0;
}

static bool is_folder(const struct option_row *r)
{
	return r->value && strcmp(r->value, "DIR") == 0;
}

static void write_verbs(FILE *to, const struct completed *of, int n)
{
	for (int i = 0; i < n && of[i].verb; i++)
		fprintf(to, "%s%s", i ? " " : "", of[i].verb);
}

/* ---- bash ---- */

/* An option means the same wherever it is taken, so one case tells what follows it. */
static void bash_values(FILE *to, const struct completed *of, int n)
{
	fputs("\tcase $prev in\n", to);
	for (int i = 0; i < n; i++)
		for (int k = 0; k < of[i].rows; k++) {
			const struct option_row *r = &of[i].row[k];
			bool told = !r->value;
			for (int j = 0; j < i && !told; j++)
				for (int m = 0; m < of[j].rows && !told; m++)
					told = strcmp(of[j].row[m].name, r->name) == 0;
			if (told)
				continue;
			if (is_file(r))
				fprintf(to, "\t--%s) _bandcensus_files '%s'; return ;;\n", r->name,
					r->ends ? r->ends : "");
			else if (is_folder(r))
				fprintf(to, "\t--%s) _bandcensus_files /; return ;;\n", r->name);
			else
				fprintf(to, "\t--%s) return ;;\n", r->name);
		}
	fputs("\tesac\n", to);
}

static void bash_options(FILE *to, const struct completed *c)
{
	fputs("COMPREPLY=($(compgen -W '", to);
	for (int k = 0; k < c->rows; k++)
		fprintf(to, "%s--%s", k ? " " : "", c->row[k].name);
	fputs("' -- \"$cur\"))", to);
}

static void bash(FILE *to, const char *program, const struct completed *of, int n)
{
	/* Names as they are, folders to go on into, and files with the right ending. */
	fputs("_bandcensus_files() {\n"
	      "\tlocal name\n"
	      "\tcompopt -o filenames 2>/dev/null\n"
	      "\twhile IFS= read -r name; do\n"
	      "\t\tif [[ -d $name || ( $1 != / && $name == *$1 ) ]]; then COMPREPLY+=(\"$name\"); "
	      "fi\n"
	      "\tdone < <(compgen -f -- \"$cur\")\n"
	      "}\n",
	      to);
	fprintf(to,
		"_%s() {\n"
		"\tlocal cur=${COMP_WORDS[COMP_CWORD]} prev=${COMP_WORDS[COMP_CWORD-1]}\n"
		"\tCOMPREPLY=()\n"
		/* --name=value comes as three words */
		"\tif [[ $cur == = ]]; then cur=; elif [[ $prev == = ]]; then "
		"prev=${COMP_WORDS[COMP_CWORD-2]}; fi\n",
		program);
	bash_values(to, of, n);
	if (!of[0].verb) {
		fputc('\t', to);
		bash_options(to, &of[0]);
		fprintf(to, "\n}\ncomplete -F _%s %s\n", program, program);
		return;
	}
	fputs("\tif ((COMP_CWORD == 1)); then COMPREPLY=($(compgen -W '", to);
	write_verbs(to, of, n);
	fputs(" --help --version' -- \"$cur\")); return; fi\n\tcase ${COMP_WORDS[1]} in\n", to);
	for (int i = 0; i < n; i++) {
		fprintf(to, "\t%s) if [[ $cur == -* ]]; then ", of[i].verb);
		bash_options(to, &of[i]);
		if (of[i].verbs) {
			fputs("; else COMPREPLY=($(compgen -W '", to);
			write_verbs(to, of, n);
			fputs("' -- \"$cur\"))", to);
		} else if (of[i].files) {
			fprintf(to, "; else _bandcensus_files '%s'", of[i].ends ? of[i].ends : "");
		}
		fputs("; fi ;;\n", to);
	}
	fprintf(to, "\tesac\n}\ncomplete -F _%s %s\n", program, program);
}

/* ---- zsh ---- */

/* Within single quotes and brackets of a specification. */
static void zsh_text(FILE *to, const char *text)
{
	for (const char *p = text; *p; p++)
		if (*p == '\'')
			fputs("'\\''", to);
		else if (strchr("[]:\\", *p))
			fprintf(to, "\\%c", *p);
		else
			fputc(*p, to);
}

static void zsh_files(FILE *to, const char *ends)
{
	if (ends)
		fprintf(to, "_files -g \"*%s\"", ends);
	else
		fputs("_files", to);
}

static void zsh_options(FILE *to, const struct completed *c, const char *indent)
{
	fprintf(to, "%s_arguments", indent);
	for (int k = 0; k < c->rows; k++) {
		const struct option_row *r = &c->row[k];
		fprintf(to, " \\\n%s\t'%s--%s%s[", indent, r->type == OPTION_TEXTS ? "*" : "",
			r->name, r->value ? "=" : "");
		zsh_text(to, r->help);
		fputc(']', to);
		if (r->value)
			fprintf(to, ":%s:", r->value);
		if (is_file(r))
			zsh_files(to, r->ends);
		else if (is_folder(r))
			fputs("_files -/", to);
		fputc('\'', to);
	}
	if (c->verbs)
		fprintf(to, " \\\n%s\t'1:verb:->verb'", indent);
	else if (c->files) {
		fprintf(to, " \\\n%s\t'*:file:", indent);
		zsh_files(to, c->ends);
		fputc('\'', to);
	}
	fputc('\n', to);
}

static void zsh(FILE *to, const char *program, const struct completed *of, int n)
{
	fprintf(to, "_%s() {\n\tlocal state\n", program);
	if (!of[0].verb) {
		zsh_options(to, &of[0], "\t");
		fprintf(to, "}\n_%s \"$@\"\n", program);
		return;
	}
	fputs("\tlocal -a verbs\n\tverbs=(\n", to);
	for (int i = 0; i < n; i++) {
		fprintf(to, "\t\t'%s:", of[i].verb);
		zsh_text(to, of[i].help);
		fputs("'\n", to);
	}
	fputs("\t)\n\tif (( CURRENT == 2 )); then _describe verb verbs; return; fi\n"
	      "\tshift words\n\t(( CURRENT-- ))\n\tcase $words[1] in\n", to);
	for (int i = 0; i < n; i++) {
		fprintf(to, "\t%s)\n", of[i].verb);
		zsh_options(to, &of[i], "\t\t");
		if (of[i].verbs)
			fputs("\t\t[[ $state == verb ]] && _describe verb verbs\n", to);
		fputs("\t\t;;\n", to);
	}
	fprintf(to, "\tesac\n}\n_%s \"$@\"\n", program);
}

void completion_write(FILE *to, const char *shell, const char *program, const struct completed *of,
		      int n)
{
	if (strcmp(shell, "bash") == 0)
		bash(to, program, of, n);
	else if (strcmp(shell, "zsh") == 0)
		zsh(to, program, of, n);
}
