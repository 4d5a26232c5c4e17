#include "tools/teller.h"

#include <stdlib.h>
#include <string.h>

#define DEPTH 12

/* The fields of a telling, each with what it means, instead of their values. */
struct listing {
	FILE       *to;
	const char *path[DEPTH];        /* names of what is open; NULL: the whole */
	bool        list[DEPTH];
	int         depth;
};

static const char *const types[] = {
	[TOLD_TEXT] = "text", [TOLD_WHOLE] = "whole", [TOLD_REAL] = "number", [TOLD_YES] = "yes/no",
	[TOLD_FREQ] = "Hz", [TOLD_TIME] = "time", [TOLD_WHOLES] = "wholes",
};

/* "best.step_hz", "users[].tone_hz" */
static void line(const struct listing *l, const char *name, const char *type, const char *meaning)
{
	int n = 0;

	for (int i = 0; i < l->depth; i++)
		if (l->path[i])
			n += fprintf(l->to, "%s%s", l->path[i], l->list[i] ? "[]." : ".");
	n += fprintf(l->to, "%s", name);
	fprintf(l->to, "%*s %-7s %s\n", n < 36 ? 36 - n : 0, "", type, meaning);
}

static void enter(struct listing *l, const char *name, bool list)
{
	if (l->depth == DEPTH)
		abort();                /* deeper than any telling is */
	l->path[l->depth] = name;
	l->list[l->depth++] = list;
}

static void field(struct teller *t, const struct told_field *f)
{
	line(t->self, f->name, types[f->type], f->meaning);
}

static void open_fields(struct teller *t, const char *name, bool known, const char *meaning)
{
	(void)known;
	if (name)
		line(t->self, name, "fields", meaning);
	enter(t->self, name, false);
}

static void close_fields(struct teller *t)
{
	((struct listing *)t->self)->depth--;
}

static void open_list(struct teller *t, const char *name, const char *meaning)
{
	if (name)
		line(t->self, name, "list", meaning);
	enter(t->self, name, true);
}

/* One row says all, and there is one even in an empty list. */
static bool more(struct teller *t, int i, int n)
{
	(void)n;
	if (i > 0)
		((struct listing *)t->self)->depth--;
	return i == 0;
}

int tell_fields(FILE *to, void (*tell)(struct teller *t, const void *what), const void *what)
{
	static const struct teller_ops ops = { field, open_fields, close_fields, open_list, more };
	struct listing l = { .to = to };
	struct teller t = { &ops, &l };

	tell(&t, what);
	return 0;
}
