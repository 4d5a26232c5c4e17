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

#include "daemon/dongle/walls.h"
#include "store/survey.h"
#include "tests/dongle/asleep.h"

#define BYTES_A_US 4.8                  /* at 2.4 MS/s                               */
#define AWAY_S     30.0                 /* of real time: longer is a hang            */
#define END_S      60.0                 /* ... and a daemon that does not end        */
#define ROWS_MOST  20000

/* Who is always on in DUTY_TOWN. */
static const int64_t always_hz[] = { 150500000, 151500000, 152500000, 153500000 };

#define ALWAYS (sizeof always_hz / sizeof always_hz[0])

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

/* The process that reads it is within walls, as far as this kernel has them. */
static void see_walls(const struct duty *d)
{
	char path[40], line[200];
	bool walled = false;

	snprintf(path, sizeof path, "/proc/%d/status", d->scene.state->dongles[0].owner);
	FILE *f = fopen(path, "r");
	while (f && fgets(line, sizeof line, f))
		walled = walled || strcmp(line, "Seccomp:\t2\n") == 0;
	if (f)
		fclose(f);
	if (WALLS_BUILT && !walled && duty_said(d, "has to do without") == 0)
		fail_msg("nothing holds the process that reads the dongle");
}

struct scenario duty_scenario(void)
{
	struct scenario s = scenario_usual();

	s.dongles[0].ppm = 31;
	snprintf(s.town, sizeof s.town, DUTY_TOWN);
	scenario_unhurried(&s);
	return s;
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
	see_walls(d);
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

/* ---- the survey ---- */

/* What one reading of it shows. */
struct reading {
	struct seen        seen;
	const struct band *bands;
	uint64_t          *rows;
	int                n_rows;
	int64_t            looked[ALWAYS], heard[ALWAYS];       /* looks at them; busy or not to be judged */
};

/* FNV-1a (Fowler, Noll, Vo). */
static void keep_row(struct reading *r, const char *format, ...)
{
	char text[400];
	uint64_t print = 14695981039346656037u;
	va_list args;

	va_start(args, format);
	vsnprintf(text, sizeof text, format, args);
	va_end(args);
	for (const char *c = text; *c; c++)
		print = (print ^ (uint8_t)*c) * 1099511628211u;
	assert_true(r->n_rows < ROWS_MOST);
	r->rows[r->n_rows++] = print;
}

/* Channel of one that is always on; -1: not of this band. */
static int32_t channel_of(const struct reading *r, int32_t band, size_t i)
{
	return raster_nearest(&r->bands[band].raster, FREQ_HZ(always_hz[i]));
}

static int see_coverage(void *self, const struct coverage_row *row)
{
	struct reading *r = self;

	r->seen.looked_us += row->looked_us;
	r->seen.looks += row->looks;
	for (size_t i = 0; i < ALWAYS; i++) {
		int32_t c = channel_of(r, row->band, i);
		if (c >= row->first && c < row->first + row->count)
			r->looked[i] += row->looks;
	}
	return 0;
}

static int see_activity(void *self, const struct activity_row *row)
{
	struct reading *r = self;

	for (size_t i = 0; i < ALWAYS; i++)
		if (row->channel == channel_of(r, row->band, i))
			r->heard[i] += row->busy_looks + row->blind_looks;
	return 0;
}

static int see_transmission(void *self, const struct transmission_row *t)
{
	struct reading *r = self;

	r->seen.transmissions++;
	keep_row(r, "over %d %d %lld %lld %lld %d", t->band, t->channel, (long long)t->first_us,
		 (long long)t->last_us, (long long)t->looks, t->level_ddb);
	return 0;
}

static int see_incident(void *self, const struct incident_row *row)
{
	struct reading *r = self;

	r->seen.incidents++;
	r->seen.deaf += strcmp(row->what, "deaf") == 0;
	if (strcmp(row->what, "lost") == 0)
		r->seen.lost_us += row->until_us - row->at_us;
	keep_row(r, "incident %lld %lld %s", (long long)row->at_us, (long long)row->until_us, row->text);
	return 0;
}

static void read_all(struct survey *s, struct reading *r)
{
	struct fault why;

	if (survey_bands(s, &r->bands) != 1 ||
	    survey_each_coverage(s, see_coverage, r, &why) < 0 ||
	    survey_each_activity(s, see_activity, r, &why) < 0 ||
	    survey_each_transmission(s, see_transmission, r, &why) < 0 ||
	    survey_each_incident(s, see_incident, r, &why) < 0)
		fail_msg("the survey can't be read: %s", why.text);
}

static int by_print(const void *a, const void *b)
{
	const uint64_t *x = a, *y = b;
	return (*x > *y) - (*x < *y);
}

/* Each of those before must still be there. */
static void check_rows(struct duty *d, struct reading *r)
{
	qsort(r->rows, (size_t)r->n_rows, sizeof *r->rows, by_print);
	for (int i = 0, k = 0; i < d->n_rows; i++, k++) {
		while (k < r->n_rows && r->rows[k] < d->rows[i])
			k++;
		if (k == r->n_rows || r->rows[k] != d->rows[i])
			fail_msg("a row is gone: there were %d of transmissions and incidents, are %d",
				 d->n_rows, r->n_rows);
	}
	if (r->seen.looked_us < d->seen.looked_us || r->seen.looks < d->seen.looks)
		fail_msg("looks are gone: %lld were %lld", (long long)r->seen.looks,
			 (long long)d->seen.looks);
}

/* An idle look at who is always on was none. */
static void check_quiet(const struct duty *d, const struct reading *r)
{
	for (size_t i = 0; i < ALWAYS && *d->scene.state->scenario.town; i++) {
		if (r->looked[i] == r->heard[i])
			continue;
		print_log(d);
		fail_msg("%s: %.4f MHz is always on, but quiet in %lld looks of %lld", d->doing,
			 (double)always_hz[i] / 1e6, (long long)(r->looked[i] - r->heard[i]),
			 (long long)r->looked[i]);
	}
}

static void check_time(const struct duty *d, const struct seen *now)
{
	double passed_us = state_elapsed_s(d->scene.state) * 1e6;
	int64_t bytes = 0;

	if ((double)(now->looked_us + now->lost_us) > passed_us)
		fail_msg("looked for %lld us and lost for %lld us, in %.0f us", (long long)now->looked_us,
			 (long long)now->lost_us, passed_us);
	for (int i = 0; i < d->scene.state->scenario.n_dongles; i++)
		bytes += d->scene.state->dongles[i].count.bytes;
	if ((double)now->looked_us * BYTES_A_US > (double)bytes)
		fail_msg("looked for %lld us with %lld bytes", (long long)now->looked_us, (long long)bytes);
}

static void check_alive(struct duty *d)
{
	double away_s = d->daemon > 0 ? asleep_away_s(d->scene.state, d->daemon) : 0;

	d->away_s = away_s > d->away_s ? away_s : d->away_s;
	if (away_s > AWAY_S)
		fail_msg("the daemon hangs: it did not come to wait for %.0f s", away_s);
}

void duty_look(struct duty *d)
{
	struct stat there;
	struct fault why;
	struct reading now = { 0 };

	check_alive(d);
	if (stat(d->survey, &there) < 0)
		return;
	struct survey *s = survey_read(d->survey, &why);
	if (!s && d->seen.looks == 0)
		return;                         /* is being created */
	if (!s)
		fail_msg("the survey can't be read: %s", why.text);
	now.rows = calloc(ROWS_MOST, sizeof *now.rows);
	assert_non_null(now.rows);
	read_all(s, &now);
	survey_close(s);
	check_rows(d, &now);
	check_quiet(d, &now);
	check_time(d, &now.seen);
	free(d->rows);
	d->rows = now.rows;
	d->n_rows = now.n_rows;
	d->seen = now.seen;
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

void duty_line(const struct duty *d, const char *words, int n, char *out, size_t size)
{
	char line[1000];
	FILE *f = fopen(d->log, "r");

	*out = '\0';
	while (f && n > 0 && fgets(line, sizeof line, f))
		if (strstr(line, words) && --n == 0)
			snprintf(out, size, "%s", line);
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
	status = scene_wait(d->daemon, END_S);
	if (status < 0)
		return -1;
	d->daemon = 0;
	duty_look(d);
	free(d->rows);
	d->rows = NULL;
	d->n_rows = 0;
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
	free(d->rows);
	free(d);
	return 0;
}
