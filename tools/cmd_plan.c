#include "tools/verbs.h"
#include "tools/export.h"
#include "tools/night.h"
#include "tools/plan/propose.h"

#include <errno.h>
#include <fcntl.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

/* All that a plan is made from, and the plan. */
struct workshop {
	struct receiver  receiver;
	struct interests interests;
	struct licences  licences;
	struct census   *census;
	struct suspect  *suspect;
	struct plan     *plan;
};

static int write_text(FILE *to, const struct workshop *w)
{
	return sheet_plan(to, w->plan, w->census, &w->receiver);
}

static int write_json(FILE *to, const struct workshop *w)
{
	return json_plan(to, w->plan, w->census);
}

static int write_csv(FILE *to, const struct workshop *w)
{
	return csv_plan(to, w->plan);
}

static const struct {
	const char *name;
	int (*write)(FILE *to, const struct workshop *w);
} files[] = {
	{ "plan.txt", write_text },
	{ "plan.json", write_json },
	{ "plan.csv", write_csv },
};

/* Written beside, then renamed: a reader sees the old one or the new one. Nobody
 * else may read it: it tells when others talk. */
static int write_file(const char *folder, const char *name,
		      int (*write)(FILE *to, const struct workshop *w), const struct workshop *w,
		      struct fault *why)
{
	char path[4096], draft[4096];
	FILE *to = NULL;
	int fd = -1;

	if (snprintf(path, sizeof path, "%s/%s", folder, name) >= (int)sizeof path ||
	    snprintf(draft, sizeof draft, "%s/.%s.XXXXXX", folder, name) >= (int)sizeof draft)
		return fault_set(why, FAULT_INPUT, "%.60s...: path is too long", folder);
	fd = mkostemp(draft, O_CLOEXEC);        /* mode 0600 */
	if (fd < 0)
		return fault_set(why, FAULT_FATAL, "%s: can't write here: %s", folder,
				 strerror(errno));
	to = fdopen(fd, "w");
	if (!to) {
		close(fd);
		goto fail;
	}
	if (write(to, w) < 0 || fflush(to) != 0 || ferror(to) || fsync(fd) < 0)
		goto fail;
	int closed = fclose(to);
	to = NULL;
	if (closed != 0 || rename(draft, path) < 0)
		goto fail;
	return 0;
fail:
	fault_set(why, FAULT_FATAL, "%s: can't be written: %s", path, strerror(errno));
	if (to)
		fclose(to);
	unlink(draft);
	return -1;
}

static int write_folder(const char *folder, const struct workshop *w, struct fault *why)
{
	if (mkdir(folder, 0700) < 0 && errno != EEXIST)
		return fault_set(why, FAULT_FATAL, "%s: can't make this folder: %s", folder,
				 strerror(errno));
	for (size_t i = 0; i < sizeof files / sizeof files[0]; i++)
		if (write_file(folder, files[i].name, files[i].write, w, why) < 0)
			return -1;
	return 0;
}

static int work(const struct choice *o, struct workshop *w, struct fault *why)
{
	char broken[200];
	const char *rule;

	if (receiver_read(o->receiver, &w->receiver, why) < 0)
		return -1;
	if (o->interests && interests_read(o->interests, &w->interests, why) < 0)
		return -1;
	if (o->licences && licences_read(o->licences, &w->licences, why) < 0)
		return -1;
	fault_set(why, FAULT_FATAL, "no memory for the plan");
	if (!o->interests && interests_default(&w->interests) < 0)
		return -1;
	w->census = night_read(o->file[0], o->site, command_squelch_ddb(o), why);
	if (!w->census)
		return -1;
	fault_set(why, FAULT_FATAL, "no memory for the plan");
	w->suspect = census_traffic(w->census) == 0 ? suspect_all(w->census) : NULL;
	w->plan = w->suspect ? propose(w->census, w->suspect, &w->receiver, &w->interests) : NULL;
	if (!w->plan)
		return -1;
	licences_mark(&w->licences, w->census, w->plan);
	/* A plan that breaks a rule of the trade is a defect here; better none than
	 * a wrong one typed in by hand. */
	rule = plan_check(w->plan, &w->receiver, w->census, w->suspect, broken);
	return rule ? fault_set(why, FAULT_FATAL, "the plan breaks a rule: %s", rule) : 0;
}

static int plan(const struct choice *o)
{
	struct workshop w = { 0 };
	struct fault why = { 0 };
	int code = 0;

	if (work(o, &w, &why) < 0)
		code = command_fail(&why);
	else if (o->output)
		code = write_folder(o->output, &w, &why) < 0 ? command_fail(&why) : 0;
	else if ((o->json ? write_json : write_text)(stdout, &w) < 0)
		code = 1;
	if (code == 0)
		code = command_end();
	plan_destroy(w.plan);
	free(w.suspect);
	census_destroy(w.census);
	interests_free(&w.interests);
	licences_free(&w.licences);
	return code;
}

const struct command command_plan = {
	.name = "plan", .words = "SURVEY --receiver FILE", .least = 1, .most = 1, .run = plan,
	.help = "propose memories and search ranges",
	.example = "plan night.survey --receiver receiver-400.conf --output sheet",
	.takes = { { "receiver", .needed = true }, { "interests" }, { "licences" }, { "site" },
		   { "squelch", "dB over the noise that open the set, 0 to 60; 6 when not given" },
		   { "json", "for a program instead of a person" },
		   { "output", "write plan.txt, plan.json and plan.csv there instead" } },
};
