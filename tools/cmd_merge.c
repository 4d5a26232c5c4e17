#include "tools/verbs.h"

#include "tools/export.h"
#include "tools/telling.h"

#include <stdio.h>

static const char *plural(int n)
{
	return n == 1 ? "" : "s";
}

static void table(const struct merged *m)
{
	const struct merge_sum *sum = m->sum;

	for (int i = 0; i < m->said->n; i++)
		printf("%s\n", m->said->at[i]);
	printf("%s: %d run%s of %d site%s and %d band%s, out of %d survey%s\n", m->file, sum->runs,
	       plural(sum->runs), sum->sites, plural(sum->sites), sum->bands, plural(sum->bands),
	       m->surveys, plural(m->surveys));
}

int verb_merge(const struct choice *o)
{
	struct fault why = { 0 };
	struct lines said = { 0 };
	struct merge_sum sum = { 0 };
	const struct merged m = { o->file[0], o->files - 1, &sum, &said };
	int code;

	if (survey_merge(o->file[0], o->file + 1, o->files - 1, lines_say, &said, &sum, &why) < 0) {
		code = command_fail(&why);
	} else {
		int done = telling(o, NULL, tell_merged, &m);
		if (done > 0)
			table(&m);
		code = done < 0 ? 1 : command_end();
	}
	lines_free(&said);
	return code;
}
