#include "tools/table_read.h"

#include "store/text.h"

#include <errno.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#define REFUSED (-2)            /* beside EOF and characters */

/* A file while it is read, record by record. */
struct reader {
	FILE                      *file;
	const struct table_limits *limits;
	struct table_row           row;
	struct fault              *why;
	int                        line;        /* that the next character is on */
	size_t                     n;           /* bytes of the field being read */
};

static int bad(struct reader *r, const char *what)
{
	return fault_set(r->why, FAULT_INPUT, "%s:%d: %s", r->row.path, r->row.line, what);
}

static int next(struct reader *r)
{
	int c = getc(r->file);

	r->line += c == '\n';
	return c;
}

static int put(struct reader *r, int c)
{
	char *to = r->row.field[r->row.fields];

	if (c == '\0')
		return bad(r, "holds a zero byte, must be text");
	if (r->n == r->limits->bytes)
		return fault_set(r->why, FAULT_INPUT,
				 "%s:%d: a field is too long, must be at most %zu bytes",
				 r->row.path, r->row.line, r->limits->bytes);
	to[r->n++] = (char)(c == '\r' || c == '\n' || c == '\t' ? ' ' : c);
	to[r->n] = '\0';
	return 0;
}

/* The rest of a field after its opening quote; what follows the closing one, or REFUSED. */
static int quoted(struct reader *r)
{
	for (;;) {
		int c = next(r);
		if (c == EOF) {
			bad(r, "a quoted field does not end");
			return REFUSED;
		}
		if (c == '"' && (c = next(r)) != '"') {
			if (c == ',' || c == '\n' || c == '\r' || c == EOF)
				return c;
			bad(r,
			    "text after a closing quote, must be a comma or the end of the line");
			return REFUSED;
		}
		if (put(r, c) < 0)
			return REFUSED;
	}
}

/* A field from its first character on; what follows it, or REFUSED. */
static int plain(struct reader *r, int c)
{
	for (; c != ',' && c != '\n' && c != '\r' && c != EOF; c = next(r)) {
		if (c == '"') {
			bad(r, "a quote within a field, must be put in quotes and doubled");
			return REFUSED;
		}
		if (put(r, c) < 0)
			return REFUSED;
	}
	return c;
}

static int too_many(struct reader *r)
{
	const char *shape = r->limits->shape;

	return fault_set(r->why, FAULT_INPUT, "%s:%d: has more than %d fields%s%s", r->row.path,
			 r->row.line, r->limits->fields, shape ? ", must have " : "",
			 shape ? shape : "");
}

static void trim(char *text)
{
	size_t skip = strspn(text, " "), n = strlen(text);

	while (n > skip && text[n - 1] == ' ')
		n--;
	memmove(text, text + skip, n - skip);
	text[n - skip] = '\0';
}

/* The record that begins with c. 0, or -1. */
static int record(struct reader *r, int c)
{
	for (r->row.fields = 0;; c = next(r)) {
		if (r->row.fields == r->limits->fields)
			return too_many(r);
		r->n = 0;
		r->row.field[r->row.fields][0] = '\0';
		c = c == '"' ? quoted(r) : plain(r, c);
		if (c == REFUSED)
			return -1;
		trim(text_tame(r->row.field[r->row.fields++]));
		if (c != ',')
			break;
	}
	if (c == '\r' && next(r) != '\n')
		return bad(r, "a carriage return without a line feed");
	return 0;
}

static void pass_line(struct reader *r)
{
	int c;

	do
		c = next(r);
	while (c != '\n' && c != EOF);
}

/* The byte order mark that some programs put in front. */
static void pass_mark(struct reader *r)
{
	static const char mark[3] = "\xef\xbb\xbf";
	char head[3];

	if (fread(head, 1, 3, r->file) != 3 || memcmp(head, mark, 3) != 0)
		rewind(r->file);
}

static int read_all(struct reader *r, int (*take)(void *, const struct table_row *, struct fault *),
		    void *self)
{
	int c;

	pass_mark(r);
	for (r->line = 1; r->row.line = r->line, (c = next(r)) != EOF; ) {
		if (c == '#') {
			pass_line(r);
			continue;
		}
		if (c == '\n')
			continue;
		if (c == '\r') {
			if (next(r) != '\n')
				return bad(r, "a carriage return without a line feed");
			continue;
		}
		if (record(r, c) < 0 || take(self, &r->row, r->why) < 0)
			return -1;
	}
	if (ferror(r->file))
		return fault_set(r->why, FAULT_INPUT, "%s: can't be read: %s", r->row.path,
				 strerror(errno));
	return 0;
}

int table_read(const char *path, const struct table_limits *limits,
	       int (*take)(void *self, const struct table_row *row, struct fault *why), void *self,
	       struct fault *why)
{
	struct reader r = { .limits = limits, .why = why, .row.path = path };
	size_t fields = (size_t)limits->fields;
	char *room = calloc(fields, limits->bytes + 1);
	int result = -1;

	r.row.field = calloc(fields, sizeof *r.row.field);
	if (!room || !r.row.field) {
		fault_set(why, FAULT_FATAL, "%s: no memory", path);
		goto out;
	}
	for (size_t i = 0; i < fields; i++)
		r.row.field[i] = room + i * (limits->bytes + 1);
	r.file = fopen(path, "re");
	if (!r.file) {
		fault_set(why, FAULT_INPUT, "%s: can't be read: %s", path, strerror(errno));
		goto out;
	}
	result = read_all(&r, take, self);
	fclose(r.file);
out:
	free(room);
	free(r.row.field);
	return result;
}
