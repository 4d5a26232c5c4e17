#include "tools/teller.h"

#include <stdlib.h>

#include <jansson.h>

/* The only file here that knows jansson: a telling becomes a tree, which is then printed. */

#define DEPTH 12

struct tree {
	json_t *root;
	json_t *at[DEPTH];              /* objects and arrays that are open, borrowed     */
	int     depth;
	int     unknown;                /* levels open below one that is not known        */
	bool    failed;
};

/* Takes node over. */
static void hang(struct tree *r, const char *name, json_t *node)
{
	json_t *in = r->depth ? r->at[r->depth - 1] : NULL;

	if (!node)
		r->failed = true;
	else if (!in)
		r->root = node;
	else if ((json_is_array(in) ? json_array_append_new(in, node) :
				      json_object_set_new(in, name, node)) < 0)
		r->failed = true;
}

static void enter(struct tree *r, const char *name, json_t *node)
{
	hang(r, name, node);
	if (r->depth == DEPTH || !node)
		abort(); /* deeper than any telling is, or no memory for a few bytes */
	r->at[r->depth++] = node;
}

static json_t *wholes(const struct told_field *f)
{
	json_t *all = json_array();

	for (int i = 0; i < f->wholes; i++)
		json_array_append_new(all, json_integer(f->whole[i]));
	return all;
}

static json_t *node_of(const struct told_field *f)
{
	if (!f->known)
		return json_null();
	switch (f->type) {
	case TOLD_WHOLE:
		return json_integer(*f->whole);
	case TOLD_REAL:
		return json_real(strtod(f->text, NULL));
	case TOLD_YES:
		return json_boolean(f->text[0] == 'y');
	case TOLD_WHOLES:
		return wholes(f);
	default:
		return json_string(f->text);
	}
}

static void field(struct teller *t, const struct told_field *f)
{
	struct tree *r = t->self;

	if (!r->unknown)
		hang(r, f->name, node_of(f));
}

static void group(struct teller *t, const char *name, bool known, const char *meaning)
{
	struct tree *r = t->self;
	(void)meaning;

	if (r->unknown || !known) {
		if (r->unknown++ == 0)
			hang(r, name, json_null());
	} else {
		enter(r, name, json_object());
	}
}

static void ungroup(struct teller *t)
{
	struct tree *r = t->self;

	if (r->unknown)
		r->unknown--;
	else
		r->depth--;
}

static void list(struct teller *t, const char *name, const char *meaning)
{
	struct tree *r = t->self;
	(void)meaning;

	if (r->unknown)
		r->unknown++;
	else
		enter(r, name, json_array());
}

static bool more(struct teller *t, int i, int n)
{
	struct tree *r = t->self;

	if (!r->unknown && i > 0)
		r->depth--;
	if (!r->unknown && i < n)
		enter(r, NULL, json_object());
	else
		ungroup(t);
	return r->depth && !r->unknown && i < n;
}

int tell_json(FILE *to, void (*tell)(struct teller *t, const void *what), const void *what)
{
	static const struct teller_ops ops = { field, group, ungroup, list, more };
	struct tree tree = { 0 };
	struct teller teller = { &ops, &tree };

	tell(&teller, what);
	int result = tree.failed || !tree.root ? -1 : 0;
	if (result == 0) {
		result = json_dumpf(tree.root, to, JSON_INDENT(2) | JSON_REAL_PRECISION(12));
		fputc('\n', to);
	}
	json_decref(tree.root);
	/* What could not be written shows in the stream. */
	return result < 0 && !ferror(to) ? -1 : 0;
}
