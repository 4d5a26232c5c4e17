#include "tools/site.h"

#include "tools/plan/list.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#define NAMED_MOST 6                    /* sites told of in a complaint */

struct choosing {
	const char  *wanted;
	struct site *out;
	char         name[NAMED_MOST][64];
	int          names;             /* also those that are not told of */
	bool         no_memory;
};

static void note_name(struct choosing *c, const char *name)
{
	for (int i = 0; i < c->names && i < NAMED_MOST; i++)
		if (strcmp(c->name[i], name) == 0)
			return;
	if (c->names < NAMED_MOST)
		snprintf(c->name[c->names], sizeof c->name[0], "%s", name);
	c->names++;
}

static int see_run(void *self, const struct run_row *row)
{
	struct choosing *c = self;
	struct site *s = c->out;

	note_name(c, row->station);
	if (c->wanted && strcmp(c->wanted, row->station) != 0)
		return 0;
	if (list_room((void **)&s->run, s->runs, sizeof *s->run) < 0) {
		c->no_memory = true;
		return -1;
	}
	snprintf(s->name, sizeof s->name, "%s", row->station);
	s->run[s->runs++] = row->id;
	return 0;
}

static void name_all(const struct choosing *c, char *out, size_t size)
{
	size_t n = 0;

	out[0] = '\0';
	for (int i = 0; i < c->names && i < NAMED_MOST && n < size; i++)
		n += (size_t)snprintf(out + n, size - n, "%s\"%s\"", i ? ", " : "", c->name[i]);
	if (c->names > NAMED_MOST && n < size)
		snprintf(out + n, size - n, " and others");
}

int site_choose(struct survey *s, const char *path, const char *name, struct site *out,
		struct fault *why)
{
	struct choosing c = { .wanted = name, .out = out };
	char names[320];

	*out = (struct site){ 0 };
	if (survey_each_run(s, see_run, &c, why) != 0) {
		if (c.no_memory)
			fault_set(why, FAULT_FATAL, "%s: no memory", path);
		goto fail;
	}
	name_all(&c, names, sizeof names);
	if (name && out->runs == 0) {
		fault_set(why, FAULT_INPUT, "%s: has no site \"%.60s\", --site must be one of %s",
			  path, name, names);
		goto fail;
	}
	if (!name && c.names > 1) {
		fault_set(why, FAULT_INPUT, "%s: has several sites, choose with --site one of %s",
			  path, names);
		goto fail;
	}
	return 0;
fail:
	site_free(out);
	return -1;
}

bool site_has(const struct site *s, int64_t run)
{
	int low = 0, high = s->runs;

	while (low < high) {
		int mid = (low + high) / 2;
		if (s->run[mid] < run)
			low = mid + 1;
		else
			high = mid;
	}
	return low < s->runs && s->run[low] == run;
}

void site_free(struct site *s)
{
	free(s->run);
	*s = (struct site){ 0 };
}
