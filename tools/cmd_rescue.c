#include "tools/verbs.h"

#include "store/rescue.h"

#include <inttypes.h>
#include <stdio.h>

/* Which channels and hours are gone; self counts the lines. */
static void say(void *self, const char *line)
{
	if (++*(int *)self == 1)
		printf("not covered (not looked at, which is not the same as quiet)\n");
	printf("  %s\n", line);
}

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

int verb_rescue(const struct choice *o)
{
	struct fault why = { 0 };
	struct rescue_sum sum;
	int lines = 0, code;

	if (survey_rescue(o->file[0], o->file[1], say, &lines, &sum, &why) < 0)
		return command_fail(&why);
	printf("%s%s: what is left of %s\n", lines ? "\n" : "", o->file[1], o->file[0]);
	tables(&sum);
	printf("\n%" PRId64 " of %" PRId64 " pages can't be read: %s\n", sum.pages_lost, sum.pages,
	       sum.whole ? "nothing is lost" : "what was on them is lost");
	code = command_end();
	return code || sum.whole ? code : 1;
}
