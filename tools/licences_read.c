#include "tools/plan/licences.h"

#include "tools/megahertz.h"
#include "tools/table_read.h"

#include <stdbool.h>
#include <stdio.h>
#include <string.h>

#define FIELDS 2

/* The list while it is read. */
struct intake {
	struct licences *to;
	bool             begun;         /* a head may only stand before */
};

static bool is_head(const struct table_row *row)
{
	return row->fields == FIELDS && row->field[0][0] &&
	       !strchr("0123456789.+-", row->field[0][0]);
}

static int take(void *self, const struct table_row *row, struct fault *why)
{
	struct intake *in = self;
	bool first = !in->begun;
	struct freq f;

	in->begun = true;
	if (first && is_head(row))
		return 0;
	if (row->fields < FIELDS)
		return fault_set(why, FAULT_INPUT,
				 "%s:%d: has 1 field, must have a frequency and a label with "
				 "a comma between",
				 row->path, row->line);
	if (megahertz_read(row->field[0], &f) < 0)
		return fault_set(why, FAULT_INPUT,
				 "%s:%d: frequency is \"%.40s\", must be " MEGAHERTZ_ALLOWED,
				 row->path, row->line, row->field[0]);
	if (!*row->field[1])
		return fault_set(why, FAULT_INPUT, "%s:%d: label is empty, must say who is listed",
				 row->path, row->line);
	if (in->to->n >= LICENCES_MOST)
		return fault_set(why, FAULT_INPUT, "%s:%d: too many labels, must be at most %d",
				 row->path, row->line, LICENCES_MOST);
	if (licences_add(in->to, f, row->field[1]) < 0)
		return fault_set(why, FAULT_FATAL, "%s: no memory", row->path);
	return 0;
}

int licences_read(const char *path, struct licences *out, struct fault *why)
{
	static const struct table_limits limits = {
		.fields = FIELDS, .bytes = LABEL_TEXT - 1,
		.shape = "a frequency and a label (in quotes where it holds a comma)",
	};
	struct intake in = { .to = out };

	*out = (struct licences){ 0 };
	int result = table_read(path, &limits, take, &in, why);
	if (result < 0)
		licences_free(out);
	else
		licences_sort(out);
	return result;
}
