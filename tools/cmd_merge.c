#include "tools/verbs.h"

#include "store/merge.h"

#include <stdio.h>

static void say(void *self, const char *line)
{
	(void)self;
	printf("%s\n", line);
}

static const char *plural(int n)
{
	return n == 1 ? "" : "s";
}

int verb_merge(const struct choice *o)
{
	struct fault why = { 0 };
	struct merge_sum sum;

	if (survey_merge(o->file[0], o->file + 1, o->files - 1, say, NULL, &sum, &why) < 0)
		return command_fail(&why);
	printf("%s: %d run%s of %d site%s and %d band%s, out of %d survey%s\n", o->file[0], sum.runs,
	       plural(sum.runs), sum.sites, plural(sum.sites), sum.bands, plural(sum.bands),
	       o->files - 1, plural(o->files - 1));
	return command_end();
}
