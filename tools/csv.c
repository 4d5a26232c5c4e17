#include "tools/teller.h"

#include <stdlib.h>
#include <string.h>

#define DEPTH 12

/* One list of a telling as rows. Its head is known only when its first row is told, which waits
 * in a buffer meanwhile. */
struct table {
	FILE       *to;
	const char *wanted;             /* the list that is shown; NULL: the whole           */
	int         depth;              /* of lists that are open                            */
	int         shown;              /* depth of the one that is shown; 0: not in it      */
	const char *path[DEPTH];        /* names of what is open within the row              */
	int         names;
	int         unknown;            /* of these, below one that is not known             */
	FILE       *first;              /* the first row, while its head is being written    */
	char       *buffer;
	size_t      size;
	bool        begun, blank;       /* a field was written; the row is none              */
	bool        failed;
};

/* A field, quoted when RFC 4180 asks for it. Text that a spreadsheet would reckon with (CSV
 * injection as OWASP describes it, from memory) gets a quote in front, which it does not show. */
static void cell(FILE *to, const char *s, bool text)
{
	const char *guard = text && *s && strchr("=+-@\t\r", *s) ? "'" : "";

	if (!strpbrk(s, "\",\r\n")) {
		fprintf(to, "%s%s", guard, s);
		return;
	}
	fprintf(to, "\"%s", guard);
	for (; *s; s++) {
		if (*s == '"')
			fputc('"', to);
		fputc(*s, to);
	}
	fputc('"', to);
}

/* Names of what it lies in go before its own. */
static void head(struct table *b, const char *name)
{
	for (int i = 0; i < b->names; i++)
		fprintf(b->to, "%s_", b->path[i]);
	fputs(name, b->to);
}

static void field(struct teller *t, const struct told_field *f)
{
	struct table *b = t->self;
	FILE *to = b->first ? b->first : b->to;

	if (!b->shown || b->depth > b->shown)
		return;
	if (b->begun)
		fputc(',', to);
	if (b->begun && b->first)
		fputc(',', b->to);
	b->begun = true;
	if (b->first)
		head(b, f->name);
	if (f->known && !b->unknown)
		cell(to, f->text, f->type == TOLD_TEXT);
}

static void group(struct teller *t, const char *name, bool known, const char *meaning)
{
	struct table *b = t->self;
	(void)meaning;

	if (!b->shown || b->depth > b->shown)
		return;
	if (b->names == DEPTH)
		abort();                /* deeper than any telling is */
	b->path[b->names++] = name;
	b->unknown += b->unknown || !known;
}

static void ungroup(struct teller *t)
{
	struct table *b = t->self;

	if (!b->shown || b->depth > b->shown)
		return;
	b->names--;
	b->unknown -= b->unknown > 0;
}

static void list(struct teller *t, const char *name, const char *meaning)
{
	struct table *b = t->self;
	(void)meaning;

	b->depth++;
	if (!b->shown && (b->wanted ? name && strcmp(name, b->wanted) == 0 : !name))
		b->shown = b->depth;
}

static void begin_row(struct table *b, int i, bool blank)
{
	b->begun = false;
	b->blank = blank;
	if (i == 0)
		b->first = open_memstream(&b->buffer, &b->size);
	b->failed |= i == 0 && !b->first;
}

static void end_row(struct table *b)
{
	if (b->first) {
		fclose(b->first);
		b->first = NULL;
		if (!b->blank)
			fprintf(b->to, "\r\n%s", b->buffer);
		free(b->buffer);
	}
	fputs("\r\n", b->to);
}

static bool more(struct teller *t, int i, int n)
{
	struct table *b = t->self;
	bool shown = b->depth == b->shown, again = i < n || (shown && i == 0);

	if (shown && i > 0)
		end_row(b);
	if (shown && again)
		begin_row(b, i, i >= n);
	if (!again) {
		b->shown = shown ? 0 : b->shown;
		b->depth--;
	}
	return again;
}

int tell_csv(FILE *to, const char *list_wanted, void (*tell)(struct teller *t, const void *what),
	     const void *what)
{
	static const struct teller_ops ops = { field, group, ungroup, list, more };
	struct table table = { .to = to, .wanted = list_wanted };
	struct teller teller = { &ops, &table };

	tell(&teller, what);
	return table.failed ? -1 : 0;
}
