#include "tools/plan/typed.h"

#include "store/text.h"
#include "tools/megahertz.h"
#include "tools/plan/list.h"
#include "tools/table_read.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <strings.h>

#define FIELDS     64
#define FIELD_MOST 2000         /* bytes; plan.csv's longest are some hundred */

/* A whole number of few digits, from 1. */
static int take_count(const char *text, int *out)
{
	size_t n = strlen(text);

	if (n == 0 || n > 4 || strspn(text, "0123456789") != n || atoi(text) == 0)
		return -1;
	*out = atoi(text);
	return 0;
}

static int take_bank(struct typed *to, const char *text)
{
	return take_count(text, &to->bank);
}

static int take_slot(struct typed *to, const char *text)
{
	return *text ? take_count(text, &to->slot) : 0;
}

/* As plan.csv writes it: thirds of a hertz have three digits. */
static int take_hertz(struct typed *to, const char *text)
{
	struct freq f;

	if (!*text)
		return 0;
	if (strspn(text, "0123456789.") != strlen(text) || strlen(text) > 18 ||
	    freq_parse(text, &f) < 0 || f.thirds < FREQ_HZ(100000).thirds ||
	    f.thirds > FREQ_HZ(INT64_C(6000000000)).thirds)
		return -1;
	to->frequency = f;
	return 0;
}

static int take_megahertz(struct typed *to, const char *text)
{
	return *text ? megahertz_read(text, &to->frequency) : 0;
}

static int take_mode(struct typed *to, const char *text)
{
	if (!*text)
		return 0;
	enum mode m = mode_named(text);
	if (m == MODE_COUNT || m == MODE_NONE)
		return -1;
	to->mode = m;
	return 0;
}

static int take_delay(struct typed *to, const char *text)
{
	if (!*text)
		return 0;
	if (strspn(text, "0123456789.") != strlen(text) ||
	    strchr(text, '.') != strrchr(text, '.') || strlen(text) > 8 || strcmp(text, ".") == 0 ||
	    !(atof(text) <= 60))
		return -1;
	to->delay_s = atof(text);
	return 0;
}

static int take_yes_no(const char *text, bool *out)
{
	*out = strcasecmp(text, "yes") == 0;
	return *out || !*text || strcasecmp(text, "no") == 0 ? 0 : -1;
}

static int take_locked(struct typed *to, const char *text)
{
	return take_yes_no(text, &to->locked);
}

static int take_priority(struct typed *to, const char *text)
{
	return take_yes_no(text, &to->priority);
}

static int take_pinned(struct typed *to, const char *text)
{
	return take_yes_no(text, &to->pinned);
}

/* What csv.c put in front for the sake of spreadsheets is no part of it. */
static int take_name(struct typed *to, const char *text)
{
	bool quoted = text[0] == '\'' && text[1] && strchr("=+-@", text[1]);

	snprintf(to->name, sizeof to->name, "%s", text + quoted);
	text_tame(to->name);            /* it may be cut amid a character */
	return 0;
}

static int take_heard(struct typed *to, const char *text)
{
	for (enum noted n = 0; n < NOTED_COUNT; n++)
		if (strcasecmp(text, noted_name(n)) == 0) {
			to->noted = n;
			return 0;
		}
	return -1;
}

/* Where both frequencies are given the later one stands: what was typed. */
static const struct {
	const char *name;
	int (*take)(struct typed *to, const char *text);
	const char *allowed;
} columns[] = {
	{ "bank", take_bank, "a whole number from 1" },
	{ "slot", take_slot, "a whole number from 1, or empty" },
	{ "frequency_hz", take_hertz, "hertz such as 154235000, 0.1 to 6000 MHz" },
	{ "type_mhz", take_megahertz, MEGAHERTZ_ALLOWED },
	{ "mode", take_mode, "AM, NFM, WFM or empty" },
	{ "delay_s", take_delay, "0 to 60 seconds, or empty" },
	{ "locked", take_locked, "yes, no or empty" },
	{ "priority", take_priority, "yes, no or empty" },
	{ "heard", take_heard, "yes, noise, locked or empty" },
	{ "pinned", take_pinned, "yes, no or empty" },
	{ "name", take_name, "text" },
};

enum { COLUMN_BANK = 0, COLUMN_HERTZ = 2, COLUMN_MEGAHERTZ = 3 };
#define COLUMNS (sizeof columns / sizeof columns[0])

/* The file while it is read. */
struct intake {
	struct typed_list *to;
	int                fields;              /* of the head; 0: it is to come     */
	int                at[COLUMNS];         /* field of each column; -1: not there */
};

static int take_head(struct intake *in, const struct table_row *row, struct fault *why)
{
	in->fields = row->fields;
	for (size_t k = 0; k < COLUMNS; k++) {
		in->at[k] = -1;
		for (int i = 0; i < row->fields; i++) {
			if (strcasecmp(row->field[i], columns[k].name) != 0)
				continue;
			if (in->at[k] >= 0)
				return fault_set(why, FAULT_INPUT,
						 "%s:%d: column %s is there twice", row->path,
						 row->line, columns[k].name);
			in->at[k] = i;
		}
	}
	if (in->at[COLUMN_BANK] < 0 || (in->at[COLUMN_HERTZ] < 0 && in->at[COLUMN_MEGAHERTZ] < 0))
		return fault_set(why, FAULT_INPUT,
				 "%s:%d: head has no column \"%s\", must have bank, and type_mhz "
				 "or frequency_hz",
				 row->path, row->line,
				 in->at[COLUMN_BANK] < 0 ? "bank" : "type_mhz");
	return 0;
}

static int take(void *self, const struct table_row *row, struct fault *why)
{
	struct intake *in = self;
	struct typed t = { .line = row->line, .delay_s = -1 };

	if (in->fields == 0)
		return take_head(in, row, why);
	if (row->fields != in->fields)
		return fault_set(why, FAULT_INPUT,
				 "%s:%d: has %d fields, must have %d as the head has", row->path,
				 row->line, row->fields, in->fields);
	for (size_t k = 0; k < COLUMNS; k++)
		if (in->at[k] >= 0 && columns[k].take(&t, row->field[in->at[k]]) < 0)
			return fault_set(why, FAULT_INPUT, "%s:%d: %s is \"%.40s\", must be %s",
					 row->path, row->line, columns[k].name,
					 row->field[in->at[k]], columns[k].allowed);
	if (t.frequency.thirds == 0)
		return fault_set(why, FAULT_INPUT,
				 "%s:%d: frequency is \"\", must be in type_mhz or frequency_hz",
				 row->path, row->line);
	if (in->to->n == TYPED_MOST)
		return fault_set(why, FAULT_INPUT, "%s:%d: too many memories, must be at most %d",
				 row->path, row->line, TYPED_MOST);
	if (list_room((void **)&in->to->at, in->to->n, sizeof t) < 0)
		return fault_set(why, FAULT_FATAL, "%s: no memory", row->path);
	in->to->at[in->to->n++] = t;
	return 0;
}

int typed_read(const char *path, struct typed_list *out, struct fault *why)
{
	static const struct table_limits limits = { .fields = FIELDS, .bytes = FIELD_MOST };
	struct intake in = { .to = out };

	*out = (struct typed_list){ 0 };
	int result = table_read(path, &limits, take, &in, why);
	if (result == 0 && out->n == 0)
		result = fault_set(why, FAULT_INPUT,
				   "%s: has no memory in it, must have a head and a line for each",
				   path);
	if (result < 0)
		typed_free(out);
	return result;
}
