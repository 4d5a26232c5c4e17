#include "tools/verbs.h"
#include "tools/setup/files.h"
#include "tools/setup/sticks.h"

#include <errno.h>
#include <stdlib.h>
#include <string.h>
#include <sys/wait.h>
#include <unistd.h>

/* Where the kernel lists what is plugged in; a test may have a list of its own. */
#define USB "/sys/bus/usb/devices"

static const char *shipped_folder(void)
{
	return access(BANDCENSUS_CONFIG_DIR "/bandcensus.conf", R_OK) == 0 ? BANDCENSUS_CONFIG_DIR
									   : BANDCENSUS_DATA_DIR;
}

/* ---- questions ---- */

static int ask_all(const struct asker *k, const struct choice *o, struct answers *a,
		   struct fault *why)
{
	if (ask(k, "What do you call this place?", o->station, "home", answers_station, a,
		why) < 0 ||
	    ask(k, "Which band plan: europe, north-america, or a file of your own?", o->region,
		answers_region_preset(), answers_region, a, why) < 0)
		return -1;
	if (answers_interests(a, "as they are", why) < 0)
		return -1;
	if (k->asks && !o->interests) {
		fputs("How much you like to hear whom, 10 most, 0 not at all:\n", k->out);
		answers_show_services(k->out, a);
	}
	if (ask(k, "What would you change, such as \"rail 8, business 0\"?", o->interests,
		"as they are", answers_interests, a, why) < 0 ||
	    ask(k, "What is your antenna good for, such as \"118-470 MHz\"?", o->antenna, "all",
		answers_antenna, a, why) < 0 ||
	    ask(k,
		"Your receiver: 100, 400 or 1000 memories as they usually are, mine to describe "
		"it, or a file?",
		o->receiver, "400", answers_receiver, a, why) < 0)
		return -1;
	return a->receiver_path[0] ? 0 : describe_receiver(k, a, why);
}

/* ---- what the night would be ---- */

/* The daemon stands beside this program, or where the build put it, or in the path. */
static void find_daemon(char out[4200])
{
	static const char *const places[] = { "bandcensusd", "../daemon/bandcensusd",
					      "../sbin/bandcensusd" };
	char self[2048];
	ssize_t n = readlink("/proc/self/exe", self, sizeof self - 1);
	char *slash = NULL;

	if (n > 0) {
		self[n] = '\0';
		slash = strrchr(self, '/');
	}
	for (size_t i = 0; slash && i < sizeof places / sizeof places[0]; i++) {
		snprintf(out, 4200, "%.*s/%s", (int)(slash - self), self, places[i]);
		if (access(out, X_OK) == 0)
			return;
	}
	strcpy(out, "bandcensusd");
}

/* Runs bandcensusd --check on the draft: its output, to be closed with the child's id; NULL: it
 * can't be run. */
static FILE *run_check(const char *config, int sources, pid_t *child)
{
	char program[4200];
	char *argv[5 + 2 * STICKS_MOST] = { program, "--check", "--config", (char *)config };
	int pipes[2], n = 4;

	find_daemon(program);
	for (int i = 0; i < sources && sources > 1; i++) {
		argv[n++] = "--source";
		argv[n++] = "dongle";
	}
	argv[n] = NULL;
	if (pipe(pipes) < 0)
		return NULL;
	fflush(NULL);
	*child = fork();
	if (*child == 0) {
		dup2(pipes[1], STDOUT_FILENO);
		close(pipes[0]);
		close(pipes[1]);
		execvp(program, argv);
		_exit(127);
	}
	close(pipes[1]);
	FILE *from = *child > 0 ? fdopen(pipes[0], "r") : NULL;
	if (!from)
		close(pipes[0]);
	return from;
}

/* From the line on that tells of receivers or looks; what is before it lists bands and hops. */
static void show_night(FILE *to, const char *config, int sources)
{
	char *line = NULL;
	size_t room = 0;
	bool told = false;
	pid_t child = 0;
	FILE *from = run_check(config, sources, &child);

	while (from && getline(&line, &room, from) >= 0) {
		if (!told &&
		    (strncmp(line, "receivers: ", 11) == 0 || strncmp(line, "look ", 5) == 0)) {
			fputs("The night would be:\n", to);
			told = true;
		}
		if (told)
			fprintf(to, "  %s", line);
	}
	free(line);
	if (from)
		fclose(from);
	if (child > 0)
		waitpid(child, NULL, 0);
	if (!told)
		fputs("bandcensusd is not here to tell what the night would be\n", to);
}

static int show_sticks(FILE *to, struct stick stick[STICKS_MOST])
{
	const char *list = getenv("BANDCENSUS_USB_DEVICES");
	int n = sticks_find(list ? list : USB, stick);

	if (n == 0)
		fputs("No dongle is plugged in, or it goes by numbers of its own; it may come "
		      "later.\n",
		      to);
	for (int i = 0; i < n; i++)
		fprintf(to, "A dongle is plugged in%s%s.\n", stick[i].serial[0] ? ", serial " : "",
			stick[i].serial);
	return n;
}

/* ---- files ---- */

static int show_file(FILE *to, const char *folder, const char *name)
{
	char path[4200];
	char *line = NULL;
	size_t room = 0;

	snprintf(path, sizeof path, "%s/%s", folder, name);
	FILE *from = fopen(path, "re");
	if (!from)
		return -1;
	fprintf(to, "\n== %s\n", name);
	while (getline(&line, &room, from) >= 0)
		if (line[0] != '#' && line[0] != '\n')
			fputs(line, to);
	free(line);
	fclose(from);
	return 0;
}

/* Settings without their comments; a band plan is long, and as it was. */
static void show_files(FILE *to, const char *folder, const struct answers *a)
{
	for (int i = 0; i < SETUP_FILES; i++)
		if (strcmp(setup_files[i].name, "bands.conf") == 0)
			fprintf(to, "\n== bands.conf\na copy of %s: %d bands\n", a->plan_path,
				a->plan.n_bands);
		else
			show_file(to, folder, setup_files[i].name);
}

static void drop_drafts(const char *folder)
{
	char path[4200];

	for (int i = 0; i < SETUP_FILES; i++) {
		snprintf(path, sizeof path, "%s/%s", folder, setup_files[i].name);
		unlink(path);
	}
	rmdir(folder);
}

static int take_yes(void *self, const char *answer, struct fault *why)
{
	bool yes = strcmp(answer, "yes") == 0 || strcmp(answer, "y") == 0;

	*(bool *)self = yes;
	if (yes || strcmp(answer, "no") == 0 || strcmp(answer, "n") == 0)
		return 0;
	return fault_set(why, FAULT_INPUT, "\"%.20s\" is neither yes nor no", answer);
}

static bool told_apart(const struct stick *stick, int n)
{
	for (int i = 0; i < n; i++)
		for (int k = 0; k <= i; k++)
			if (!stick[i].serial[0] || (k < i && strcmp(stick[i].serial, stick[k].serial) == 0))
				return false;
	return true;
}

/* Several are named: by serial if each has its own, which they seldom have from the factory; else by
 * number, for all numbers together are all of them. */
static void name_sticks(FILE *to, const struct stick *stick, int n)
{
	bool by_serial = told_apart(stick, n);

	for (int i = 0; i < n && n > 1; i++)
		if (by_serial)
			fprintf(to, " --source dongle:%s", stick[i].serial);
		else
			fprintf(to, " --source dongle:%d", i);
}

/* What is in the drafts is shown, and written where it is wanted. */
static int confirm_and_write(const struct asker *k, const struct choice *o, struct answers *a,
			     const char *draft, const char *folder, struct fault *why)
{
	struct stick stick[STICKS_MOST];
	char config[4200];
	bool yes = false;

	if (deliver(draft, setup_files, SETUP_FILES, a, why) < 0 || setup_check(draft, why) < 0)
		return -1;
	show_files(k->out, draft, a);
	fputc('\n', k->out);
	int sticks = show_sticks(k->out, stick);
	snprintf(config, sizeof config, "%s/%s", draft, setup_files[0].name);
	show_night(k->out, config, sticks);
	if (ask(k, "Write these files?", o->yes ? "yes" : NULL, k->asks ? "yes" : "no", take_yes,
		&yes, why) < 0)
		return -1;
	if (!yes) {
		fprintf(k->out, "nothing was written%s\n", k->asks ? "" : "; --yes writes");
		return 0;
	}
	if (deliver(folder, setup_files, SETUP_FILES, a, why) < 0)
		return -1;
	fprintf(k->out, "written to %s; next:\n  bandcensusd --config %s/%s", folder, folder,
		setup_files[0].name);
	name_sticks(k->out, stick, sticks);
	fprintf(k->out, " --survey night.survey --for 11h\n");
	return 0;
}

int verb_setup(const struct choice *o)
{
	const struct asker k = { stdin, stdout, isatty(STDIN_FILENO) && !o->yes };
	const char *folder = o->output ? o->output : ".";
	const char *temporary = getenv("TMPDIR");
	struct answers a = { .shipped = shipped_folder() };
	struct fault why = { 0 };
	char draft[4096] = "";
	int result = -1;

	const char *there = setup_there(folder);
	if (there && !o->overwrite) {
		fault_set(&why, FAULT_INPUT, "%s/%s is there already, --overwrite writes over it",
			  folder, there);
		return command_fail(&why);
	}
	snprintf(draft, sizeof draft, "%s/bandcensus-XXXXXX",
		 temporary && *temporary ? temporary : "/tmp");
	if (!mkdtemp(draft))
		fault_set(&why, FAULT_FATAL, "%s: can't be made: %s", draft, strerror(errno));
	else if (ask_all(&k, o, &a, &why) == 0)
		result = confirm_and_write(&k, o, &a, draft, folder, &why);
	drop_drafts(draft);
	answers_free(&a);
	return result < 0 ? command_fail(&why) : command_end();
}
