#include "tools/verbs.h"

#include "tools/export.h"
#include "tools/telling.h"

#include <inttypes.h>
#include <stdio.h>

static void tables(const struct rescue_sum *sum)
{
	printf("\n%-14s %10s\n", "table", "rows saved");
	for (int i = 0; i < sum->tables; i++) {
		printf("%-14s %10" PRId64, sum->table[i].name, sum->table[i].saved);
		if (sum->table[i].homeless)
			printf("  %" PRId64 " left out: their run or band is lost",
			       sum->table[i].homeless);
		if (sum->table[i].missing)
			printf("  at least %" PRId64 " lost", sum->table[i].missing);
		printf("\n");
	}
}

static void table(const struct rescued *r)
{
	for (int i = 0; i < r->said->n; i++)
		printf("%s  %s\n",
		       i ? "" : "not covered (not looked at, which is not the same as quiet)\n",
		       r->said->at[i]);
	printf("%s%s: what is left of %s\n", r->said->n ? "\n" : "", r->to, r->from);
	tables(r->sum);
	printf("\n%" PRId64 " of %" PRId64 " pages can't be read: %s\n", r->sum->pages_lost,
	       r->sum->pages, r->sum->whole ? "nothing is lost" : "what was on them is lost");
}

int verb_rescue(const struct choice *o)
{
	struct fault why = { 0 };
	struct lines said = { 0 };
	struct rescue_sum sum = { 0 };
	const struct rescued r = { o->file[0], o->file[1], &sum, &said };
	int code;

	if (survey_rescue(o->file[0], o->file[1], lines_say, &said, &sum, &why) < 0) {
		code = command_fail(&why);
	} else {
		int done = telling(o, "tables", tell_rescued, &r);
		if (done > 0)
			table(&r);
		code = done < 0 ? 1 : command_end();
		code = code || sum.whole ? code : 1;
	}
	lines_free(&said);
	return code;
}
