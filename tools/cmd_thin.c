#include "tools/verbs.h"

#include "tools/export.h"
#include "tools/telling.h"

#include <inttypes.h>
#include <stdio.h>

static void table(const struct thinned *t)
{
	printf("%s: %" PRId64 " rows joined or dropped, %.1f MB before, %.1f MB now\n", t->file,
	       t->sum->rows, (double)t->sum->before_bytes * 1e-6,
	       (double)t->sum->after_bytes * 1e-6);
	if (t->sum->tight)
		printf("its disk has no room to write it anew, so that what is free in it stays there for later rows\n");
}

int verb_thin(const struct choice *o)
{
	struct fault why = { 0 };
	struct thin_sum sum;

	if (o->keep.minutes_us + o->keep.strips_us + o->keep.overs_us + o->keep.hours_us == 0) {
		fault_set(
			&why, FAULT_INPUT,
			"thin needs to know what is kept for how long, see bandcensus thin --help");
		return command_fail(&why);
	}
	if (survey_thin(o->file[0], &o->keep, 0, &sum, &why) < 0)
		return command_fail(&why);
	const struct thinned t = { o->file[0], &sum };
	int done = telling(o, NULL, tell_thinned, &t);
	if (done > 0)
		table(&t);
	return done < 0 ? 1 : command_end();
}
