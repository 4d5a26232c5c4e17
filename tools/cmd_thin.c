#include "tools/verbs.h"

#include "store/thin.h"

#include <inttypes.h>
#include <stdio.h>

int verb_thin(const struct choice *o)
{
	struct fault why = { 0 };
	struct thin_sum sum;

	if (o->keep.minutes_us + o->keep.strips_us + o->keep.overs_us + o->keep.hours_us == 0) {
		fault_set(&why, FAULT_INPUT, "thin needs to know what is kept for how long, see bandcensus thin --help");
		return command_fail(&why);
	}
	if (survey_thin(o->file[0], &o->keep, &sum, &why) < 0)
		return command_fail(&why);
	printf("%s: %" PRId64 " rows joined or dropped, %.1f MB before, %.1f MB now\n", o->file[0], sum.rows,
	       (double)sum.before_bytes * 1e-6, (double)sum.after_bytes * 1e-6);
	if (sum.tight)
		printf("its disk has no room to write it anew, so that what is free in it stays there for later rows\n");
	return command_end();
}
