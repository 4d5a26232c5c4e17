#include "tools/verbs.h"
#include "tools/deliver.h"
#include "tools/export.h"
#include "tools/page/pages.h"
#include "tools/telling.h"
#include "tools/workshop.h"

#include <stdio.h>

static int write_text(FILE *to, const void *of)
{
	const struct workshop *w = of;

	return sheet_plan(to, w->plan, w->census, &w->receiver);
}

static int write_json(FILE *to, const void *of)
{
	const struct workshop *w = of;
	const struct planned planned = { w->plan, w->census };

	return tell_json(to, tell_plan, &planned);
}

static int write_csv(FILE *to, const void *of)
{
	const struct workshop *w = of;
	const struct planned planned = { w->plan, w->census };

	return tell_csv(to, "memories", tell_plan, &planned);
}

static int write_page(FILE *to, const void *of)
{
	const struct workshop *w = of;

	return page_sheet(to, w->plan, w->census, &w->receiver);
}

static int write_changes(FILE *to, const void *of)
{
	const struct workshop *w = of;
	const struct planned planned = { w->plan, w->census };

	return tell_csv(to, "changes", tell_plan, &planned);
}

static int show(const struct choice *o, const struct workshop *w)
{
	const struct planned planned = { w->plan, w->census };
	int done = telling(o, "memories", tell_plan, &planned);

	return done > 0 ? write_text(stdout, w) : done;
}

static const struct delivery files[] = {
	{ "plan.txt", write_text },
	{ "plan.json", write_json },
	{ "plan.csv", write_csv },
	{ "plan.html", write_page },
	{ "changes.csv", write_changes },       /* only with --memories */
};

#define FILES ((int)(sizeof files / sizeof files[0]))

int verb_plan(const struct choice *o)
{
	struct workshop w = { 0 };
	struct fault why = { 0 };
	int code = 0;

	if (workshop_open(o, &w, &why) < 0)
		code = command_fail(&why);
	else if (o->output)
		code = deliver(o->output, files, FILES - !o->memories, &w, &why) < 0 ?
			       command_fail(&why) :
			       0;
	else if (show(o, &w) < 0)
		code = 1;
	if (code == 0)
		code = command_end();
	workshop_close(&w);
	return code;
}
