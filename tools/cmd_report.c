#include "tools/verbs.h"
#include "tools/deliver.h"
#include "tools/page/report.h"
#include "tools/workshop.h"

static int write_report(FILE *to, const void *of)
{
	return page_report(to, of);
}

int verb_report(const struct choice *o)
{
	static const struct delivery file = { "report.html", write_report };
	struct workshop w = { 0 };
	struct report r = { 0 };
	struct fault why = { 0 };
	int code = 0;

	if (workshop_open(o, &w, &why) < 0) {
		code = command_fail(&why);
	} else {
		r.told = (struct told){ w.census, w.suspect, &w.interests, &w.licences, 0 };
		r.plan = w.plan;
		r.receiver = w.plan ? &w.receiver : NULL;
		if (report_read(&r, o->file[0], &o->night, &why) < 0 ||
		    deliver(o->output, &file, 1, &r, &why) < 0)
			code = command_fail(&why);
	}
	report_free(&r);
	workshop_close(&w);
	return code;
}
