#include "store/manual.h"

#include <ctype.h>
#include <stdlib.h>
#include <string.h>

#include "store/field.h"

#define LINE_WIDTH 90

/* ---- text ---- */

static void put(FILE *to, const char *word, size_t n, bool begins)
{
	if (begins && (word[0] == '.' || word[0] == '\''))
		fputs("\\&", to);
	for (size_t i = 0; i < n; i++)
		if (word[i] == '\\')
			fputs("\\e", to);
		else
			fputc(word[i], to);
}

void manual_text(FILE *to, const char *text)
{
	size_t at = 0;

	for (const char *p = text + strspn(text, " \n"); *p; p += strspn(p, " \n")) {
		size_t n = strcspn(p, " \n");
		bool sentence = at > 0 && p[-2] == '.' && isupper((unsigned char)p[0]);
		if (at > 0 && (sentence || at + 1 + n > LINE_WIDTH)) {
			fputc('\n', to);
			at = 0;
		}
		if (at > 0)
			fputc(' ', to);
		put(to, p, n, at == 0);
		at += n + 1;
		p += n;
	}
	if (at > 0)
		fputc('\n', to);
}

void manual_sentence(FILE *to, const char *text)
{
	size_t n = strlen(text);
	char *copy = malloc(n + 2);

	if (!copy)
		abort();                /* of a generator: the build fails */
	memcpy(copy, text, n + 1);
	while (n > 0 && isspace((unsigned char)copy[n - 1]))
		copy[--n] = '\0';
	if (!isupper((unsigned char)copy[1]))   /* not the d of dB */
		copy[0] = (char)toupper((unsigned char)copy[0]);
	if (n && !strchr(".?!", copy[n - 1]))
		strcpy(copy + n, ".");
	manual_text(to, copy);
	free(copy);
}

/* ---- options ---- */

void manual_option(FILE *to, const struct option_row *row)
{
	fprintf(to, ".It Fl -%s", row->name);
	if (row->value)
		fprintf(to, " Ar %s", row->value);
	fputc('\n', to);
}

void manual_options(FILE *to, const struct option_row *row, int rows)
{
	fputs(".Bl -tag -width Ds\n", to);
	for (int i = 0; i < rows; i++) {
		manual_option(to, &row[i]);
		manual_sentence(to, row[i].help);
	}
	fputs(".El\n", to);
}

/* ---- settings ---- */

/* The longest that a text may be is told last, if there is nothing better to tell. */
static void write_allowed(FILE *to, const struct field *f)
{
	char text[FIELD_ROOM];
	bool ranged = (f->min != 0 || f->max != 0) && !f->choices &&
		(f->type == FIELD_INT || f->type == FIELD_NUMBER || f->type == FIELD_DURATION ||
		 f->type == FIELD_FREQ || f->type == FIELD_FREQS);

	fprintf(to, "%s", field_allowed(f, FIELD_MALFORMED, text));
	if (ranged)
		fprintf(to, ", %s", field_allowed(f, FIELD_OUTSIDE, text));
}

/* "must be a duration, 0.002 to 0.5 s; 20 ms when it is not set" */
static void write_field(FILE *to, const struct field *f)
{
	char *text = NULL;
	size_t size;
	FILE *line = open_memstream(&text, &size);

	if (!line)
		abort();
	write_allowed(line, f);
	if (!f->preset)
		fputs("; must be set", line);
	else if (f->preset[0] && f->type != FIELD_ROWS)
		fprintf(line, "; %s when it is not set", f->preset);
	else
		fputs("; empty when it is not set", line);
	if (fclose(line) != 0)
		abort();
	manual_sentence(to, text);
	free(text);
}

void manual_fields(FILE *to, const struct field *table)
{
	fputs(".Bl -tag -width Ds\n", to);
	for (const struct field *f = table; f->type != FIELD_END; f++) {
		fprintf(to, ".It Va %s\n", f->name);
		manual_sentence(to, f->help);
		write_field(to, f);
		if (f->rows_of) {
			fputs("Each has:\n", to);
			manual_fields(to, f->rows_of);
		}
	}
	fputs(".El\n", to);
}

/* ---- pages ---- */

static const struct manual_part *named(const struct manual_part *part, int parts, const char *name,
				       size_t n)
{
	for (int i = 0; i < parts; i++)
		if (strlen(part[i].name) == n && memcmp(part[i].name, name, n) == 0)
			return &part[i];
	return NULL;
}

int manual_fill(FILE *page, const char *path, FILE *to, const struct manual_part *part, int parts)
{
	char *line = NULL;
	size_t room = 0;
	ssize_t n;
	int number = 0, result = 0;

	while (result == 0 && (n = getline(&line, &room, page)) > 0) {
		number++;
		if (line[0] != '@') {
			fputs(line, to);
			continue;
		}
		line[strcspn(line, "\n")] = '\0';
		size_t length = strcspn(line + 1, " ");
		const struct manual_part *p = named(part, parts, line + 1, length);
		if (p) {
			p->write(to, line + 1 + length + strspn(line + 1 + length, " "), path);
		} else {
			fprintf(stderr, "%s:%d: there is no part \"%s\"\n", path, number, line);
			result = -1;
		}
	}
	free(line);
	return result;
}

int manual_main(int argc, char **argv, const struct manual_part *part, int parts)
{
	FILE *page = argc == 2 ? fopen(argv[1], "r") : NULL;

	if (!page) {
		fprintf(stderr, "usage: %s PAGE\n", argv[0]);
		return 2;
	}
	int result = manual_fill(page, argv[1], stdout, part, parts);
	fclose(page);
	return result < 0 || fflush(stdout) != 0 || ferror(stdout);
}
