#include "tests/dongle_duty.h"

#include <signal.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <sys/syscall.h>
#include <sys/wait.h>
#include <time.h>
#include <unistd.h>

#include "store/survey.h"

#define BYTES_A_US 4.8                  /* at 2.4 MS/s */

static void nap(void)
{
	const struct timespec t = { .tv_nsec = 20000000 };
	syscall(SYS_clock_nanosleep, CLOCK_MONOTONIC, 0, &t, NULL);
}

static void write_text(const char *path, const char *format, ...)
{
	va_list args;
	FILE *f = fopen(path, "w");

	assert_non_null(f);
	va_start(args, format);
	vfprintf(f, format, args);
	va_end(args);
	assert_int_equal(fclose(f), 0);
}

void duty_begin(struct duty *d, const struct scenario *what, const char *source, const char *low,
		const char *high, const char *more)
{
	char settings[128], bands[128];

	memset(d, 0, sizeof *d);
	scene_begin(&d->scene, what);
	snprintf(settings, sizeof settings, "%s/daemon.conf", d->scene.folder);
	snprintf(bands, sizeof bands, "%s/bands.conf", d->scene.folder);
	snprintf(d->survey, sizeof d->survey, "%s/night.survey", d->scene.folder);
	snprintf(d->log, sizeof d->log, "%s/log", d->scene.folder);
	write_text(bands, "kind = \"bands\";\nname = \"Test\";\nbands = ( { id = \"one\"; name = \"One\"; "
		   "service = \"business\"; mode = \"NFM\"; width = \"11 kHz\"; low = \"%s MHz\"; "
		   "high = \"%s MHz\"; step = \"12.5 kHz\"; } );\n", low, high);
	write_text(settings, "kind = \"daemon\";\nband_plan = \"bands.conf\";\nwarm_up = \"0 s\";\n"
		   "commit = \"0.1 s\";\n%s", more);
	const char *const argv[] = { getenv("BANDCENSUSD"), "--config", settings, "--survey", d->survey,
				     "--source", source, NULL };
	assert_non_null(argv[0]);
	d->daemon = scene_start(&d->scene, argv, "out", "log");
	if (!duty_listens(d, 1, 60))
		fail_msg("it never looked");
}

/* ---- the survey ---- */

static int see_coverage(void *self, const struct coverage_row *row)
{
	struct seen *s = self;
	s->looked_us += row->looked_us;
	s->looks += row->looks;
	return 0;
}

static int see_transmission(void *self, const struct transmission_row *row)
{
	struct seen *s = self;
	(void)row;
	s->transmissions++;
	return 0;
}

static int see_incident(void *self, const struct incident_row *row)
{
	struct seen *s = self;

	s->incidents++;
	s->deaf += strcmp(row->what, "deaf") == 0;
	if (strcmp(row->what, "lost") == 0)
		s->lost_us += row->until_us - row->at_us;
	return 0;
}

void duty_look(struct duty *d)
{
	struct stat there;
	struct fault why;
	struct seen now = { 0 };

	if (stat(d->survey, &there) < 0)
		return;
	struct survey *s = survey_read(d->survey, &why);
	if (!s && d->seen.looks == 0)
		return;                         /* is being created */
	if (!s)
		fail_msg("the survey can't be read: %s", why.text);
	if (survey_each_coverage(s, see_coverage, &now, &why) < 0 ||
	    survey_each_transmission(s, see_transmission, &now, &why) < 0 ||
	    survey_each_incident(s, see_incident, &now, &why) < 0)
		fail_msg("the survey can't be read: %s", why.text);
	survey_close(s);
	if (now.looked_us < d->seen.looked_us || now.looks < d->seen.looks ||
	    now.transmissions < d->seen.transmissions || now.incidents < d->seen.incidents)
		fail_msg("rows are gone: %lld looks were %lld", (long long)now.looks,
			 (long long)d->seen.looks);
	double passed_us = state_elapsed_s(d->scene.state) * 1e6;
	if ((double)(now.looked_us + now.lost_us) > passed_us)
		fail_msg("looked for %lld us and lost for %lld us, in %.0f us", (long long)now.looked_us,
			 (long long)now.lost_us, passed_us);
	int64_t bytes = 0;
	for (int i = 0; i < d->scene.state->scenario.n_dongles; i++)
		bytes += d->scene.state->dongles[i].count.bytes;
	if ((double)now.looked_us * BYTES_A_US > (double)bytes)
		fail_msg("looked for %lld us with %lld bytes", (long long)now.looked_us, (long long)bytes);
	d->seen = now;
}

bool duty_listens(struct duty *d, int64_t more_us, double real_s)
{
	int64_t until_us = state_real_us() + (int64_t)(real_s * 1e6), before_us;

	duty_look(d);
	before_us = d->seen.looked_us;
	while (d->seen.looked_us < before_us + more_us && state_real_us() < until_us) {
		nap();
		duty_look(d);
	}
	return d->seen.looked_us >= before_us + more_us;
}

/* ---- the log ---- */

int duty_said(const struct duty *d, const char *words)
{
	char line[1000];
	int times = 0;
	FILE *f = fopen(d->log, "r");

	while (f && fgets(line, sizeof line, f))
		times += strstr(line, words) != NULL;
	if (f)
		fclose(f);
	return times;
}

/* For whoever has to find out. */
static void print_log(const struct duty *d)
{
	char line[1000];
	FILE *f = fopen(d->log, "r");

	while (f && fgets(line, sizeof line, f))
		print_message("%s", line);
	if (f)
		fclose(f);
}

bool duty_says(struct duty *d, const char *words, int times, double real_s)
{
	int64_t until_us = state_real_us() + (int64_t)(real_s * 1e6);

	while (duty_said(d, words) < times && state_real_us() < until_us)
		nap();
	if (duty_said(d, words) >= times)
		return true;
	print_log(d);
	return false;
}

int duty_end(struct duty *d)
{
	int status;

	kill(d->daemon, SIGTERM);
	status = scene_wait(d->daemon, 10);
	if (status < 0)
		return -1;
	d->daemon = 0;
	duty_look(d);
	scene_end(&d->scene);
	return WIFEXITED(status) ? WEXITSTATUS(status) : -1;
}

int duty_create(void **state)
{
	*state = calloc(1, sizeof(struct duty));
	return *state ? 0 : -1;
}

int duty_destroy(void **state)
{
	struct duty *d = *state;

	if (d->daemon > 0) {
		kill(d->daemon, SIGKILL);
		waitpid(d->daemon, NULL, 0);
		scene_end(&d->scene);
	}
	free(d);
	return 0;
}
