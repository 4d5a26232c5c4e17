#include "tools/plan/licences.h"

#include "store/text.h"

#include <errno.h>
#include <stdbool.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#define LOWEST_MHZ  0.1
#define HIGHEST_MHZ 6000.0
#define FIELDS      2
#define REFUSED     (-2)        /* beside EOF and characters */

/* A file while it is read, record by record. */
struct reader {
	const char   *path;
	FILE         *file;
	struct fault *why;
	int           line;             /* that the next character is on */
	int           at;               /* where the record began        */
	int           fields;
	char          field[FIELDS][LABEL_TEXT];
	size_t        n;                /* bytes of the field being read */
};

static int bad(struct reader *r, const char *what)
{
	return fault_set(r->why, FAULT_INPUT, "%s:%d: %s", r->path, r->at, what);
}

static int next(struct reader *r)
{
	int c = getc(r->file);

	r->line += c == '\n';
	return c;
}

static int put(struct reader *r, int c)
{
	char *to = r->field[r->fields];

	if (c == '\0')
		return bad(r, "holds a zero byte, must be text");
	if (r->n + 1 >= LABEL_TEXT)
		return fault_set(r->why, FAULT_INPUT, "%s:%d: a field is too long, must be at most %d bytes",
				 r->path, r->at, LABEL_TEXT - 1);
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
			bad(r, "text after a closing quote, must be a comma or the end of the line");
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

/* The record that begins with c. 0, or -1. */
static int record(struct reader *r, int c)
{
	r->fields = 0;
	for (;;) {
		if (r->fields == FIELDS)
			return bad(r, "has more than 2 fields, must have a frequency and a label "
				      "(in quotes where it holds a comma)");
		r->n = 0;
		r->field[r->fields][0] = '\0';
		c = c == '"' ? quoted(r) : plain(r, c);
		if (c == REFUSED)
			return -1;
		r->fields++;
		if (c != ',')
			break;
		c = next(r);
	}
	if (c == '\r' && next(r) != '\n')
		return bad(r, "a carriage return without a line feed");
	return 0;
}

static void trim(char *text)
{
	size_t skip = strspn(text, " "), n = strlen(text);

	while (n > skip && text[n - 1] == ' ')
		n--;
	memmove(text, text + skip, n - skip);
	text[n - skip] = '\0';
}

/* Digits and a point alone: no sign, no exponent, no locale. */
static int frequency(const char *text, struct freq *out)
{
	char with_unit[LABEL_TEXT + 4];

	if (!*text || text[strspn(text, "0123456789.")])
		return -1;
	snprintf(with_unit, sizeof with_unit, "%s MHz", text);
	/* Lists of 25/3 kHz channels are rounded somewhere: the nearest third will do. */
	if (strchr(text, '.') != strrchr(text, '.') || strlen(text) > 18)
		return -1;
	double mhz = strtod(text, NULL);
	if (!(mhz >= LOWEST_MHZ && mhz <= HIGHEST_MHZ))
		return -1;
	if (freq_parse(with_unit, out) < 0)
		*out = freq_from_hz(1e6 * mhz);
	return 0;
}

static int take(struct reader *r, struct licences *out)
{
	struct freq f;
	char *label = r->field[1];

	for (int i = 0; i < r->fields; i++)
		trim(text_tame(r->field[i]));
	if (r->fields < FIELDS)
		return bad(r, "has 1 field, must have a frequency and a label with a comma between");
	if (frequency(r->field[0], &f) < 0)
		return fault_set(r->why, FAULT_INPUT, "%s:%d: frequency is \"%.40s\", must be %g to %g MHz "
				 "such as 154.235", r->path, r->at, r->field[0], LOWEST_MHZ, HIGHEST_MHZ);
	if (!*label)
		return bad(r, "label is empty, must say who is listed");
	if (out->n >= LICENCES_MOST)
		return fault_set(r->why, FAULT_INPUT, "%s:%d: too many labels, must be at most %d", r->path,
				 r->at, LICENCES_MOST);
	if (licences_add(out, f, label) < 0)
		return fault_set(r->why, FAULT_FATAL, "%s: no memory", r->path);
	return 0;
}

static bool is_head(const struct reader *r)
{
	const char *first = r->field[0] + strspn(r->field[0], " ");

	return r->fields == FIELDS && *first && !strchr("0123456789.+-", *first);
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

static int read_all(struct reader *r, struct licences *out)
{
	bool first = true;
	int c;

	pass_mark(r);
	for (r->line = 1; r->at = r->line, (c = next(r)) != EOF; ) {
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
		if (record(r, c) < 0)
			return -1;
		if (!(first && is_head(r)) && take(r, out) < 0)
			return -1;
		first = false;
	}
	if (ferror(r->file))
		return fault_set(r->why, FAULT_INPUT, "%s: can't be read: %s", r->path, strerror(errno));
	return 0;
}

int licences_read(const char *path, struct licences *out, struct fault *why)
{
	struct reader r = { .path = path, .why = why };

	*out = (struct licences){ 0 };
	r.file = fopen(path, "re");
	if (!r.file)
		return fault_set(why, FAULT_INPUT, "%s: can't be read: %s", path, strerror(errno));
	int result = read_all(&r, out);
	fclose(r.file);
	if (result < 0)
		licences_free(out);
	else
		licences_sort(out);
	return result;
}
