/* Real off-air recordings through the built programs, as a user runs them, against
 * what was measured of them by other means (truth.csv and intervals.csv beside the
 * recordings). Skipped unless BANDCENSUS_RECORDINGS names their folder; BANDCENSUSD
 * and BANDCENSUS name the programs. */
#include "tests/test.h"

#include <fcntl.h>
#include <math.h>
#include <stdbool.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/wait.h>
#include <unistd.h>

#include "tests/csv_rows.h"

#define STEP_HZ     12500.0     /* the default raster of a recording              */
#define FILES_MAX   32
#define WITHIN_S    0.020       /* of the on-time, or ...                         */
#define WITHIN_PART 0.02        /* ... this part of it, whichever is more         */

/* A place on the air for recordings whose source names none. */
static const struct {
	const char *begins;
	double      centre_hz;  /* common practice                          */
} places[] = {
	{ "two-sondes", 403e6 },        /* balloons: 400 to 406 MHz */
	{ "", 433.92e6 },               /* remote controls          */
};

/* Truth that was not on the air, or only through the receiver's overload. */
static const char *const not_on_the_air[] = {
	"receiver-spur", "dc-spike", "iq-image", "transmitter-spur",
};

struct heard {
	char             name[128];
	double           centre_hz;
	struct csv_rows *channels;      /* NULL: a program failed */
};

struct world {
	const char      *folder;
	char             temporary[256];
	struct csv_rows *truth, *intervals;
	struct heard     file[FILES_MAX];
	int              files;
};

static double number(const struct csv_rows *c, int row, const char *column)
{
	const char *cell = csv_cell(c, row, column);
	if (!cell)
		fail_msg("there is no column %s", column);
	return strtod(cell, NULL);
}

static bool is_word(const char *cell, const char *const *words, size_t n)
{
	for (size_t i = 0; i < n; i++)
		if (strcmp(cell, words[i]) == 0)
			return true;
	return false;
}

/* ---- the programs ---- */

/* Its output goes to the file. 0 when it exits with 0. */
static int run(const char *const *argv, const char *output)
{
	int status;
	pid_t child = fork();

	if (child == 0) {
		int out = open(output, O_WRONLY | O_CREAT | O_TRUNC, 0600);
		dup2(out, STDOUT_FILENO);
		execv(argv[0], (char *const *)argv);
		_exit(127);
	}
	if (child < 0 || waitpid(child, &status, 0) < 0)
		return -1;
	return WIFEXITED(status) && WEXITSTATUS(status) == 0 ? 0 : -1;
}

static double centre_of(const struct csv_rows *truth, int row)
{
	const char *cell = csv_cell(truth, row, "center_hz"), *name = csv_cell(truth, row, "file");

	for (size_t i = 0; !*cell; i++)
		if (strncmp(name, places[i].begins, strlen(places[i].begins)) == 0)
			return places[i].centre_hz;
	return strtod(cell, NULL);
}

/* Raw samples need rate and centre; SigMF has its rate, and its centre if known. */
static void hear(struct world *w, int row)
{
	struct heard *h = &w->file[w->files++];
	char source[600], rate[32], centre[32], survey[400], csv[400];
	const char *at = csv_cell(w->truth, row, "file");
	bool raw = strstr(at, ".cu8") != NULL, placed = *csv_cell(w->truth, row, "center_hz");
	const char *argv[12] = { getenv("BANDCENSUSD"), "--source", source, "--survey", survey };
	int n = 5;

	snprintf(h->name, sizeof h->name, "%s", at);
	h->centre_hz = centre_of(w->truth, row);
	snprintf(source, sizeof source, "recording:%s/%s", w->folder, at);
	snprintf(rate, sizeof rate, "%.0f", number(w->truth, row, "sample_rate_hz"));
	snprintf(centre, sizeof centre, "%.0f", h->centre_hz);
	snprintf(survey, sizeof survey, "%s/%s.survey", w->temporary, at);
	snprintf(csv, sizeof csv, "%s/%s.csv", w->temporary, at);
	if (raw) {
		argv[n++] = "--rate";
		argv[n++] = rate;
	}
	if (raw || !placed) {
		argv[n++] = "--centre";
		argv[n++] = centre;
	}
	argv[n] = NULL;
	const char *const list[] = { getenv("BANDCENSUS"), "channels", survey, "--csv", NULL };
	if (run(argv, "/dev/null") == 0 && run(list, csv) == 0)
		h->channels = csv_open(csv);
}

static struct heard *file_named(struct world *w, const char *name)
{
	for (int i = 0; i < w->files; i++)
		if (strcmp(w->file[i].name, name) == 0)
			return &w->file[i];
	return NULL;
}

static int survey_all(void **state)
{
	struct world *w = calloc(1, sizeof *w);
	char path[600];
	const char *tmp = getenv("TMPDIR");

	*state = w;
	w->folder = getenv("BANDCENSUS_RECORDINGS");
	if (!w->folder || !*w->folder)
		return 0;
	snprintf(path, sizeof path, "%s/truth.csv", w->folder);
	w->truth = csv_open(path);
	snprintf(path, sizeof path, "%s/intervals.csv", w->folder);
	w->intervals = csv_open(path);
	snprintf(w->temporary, sizeof w->temporary, "%s/recordings-XXXXXX", tmp ? tmp : "/tmp");
	if (!w->truth || !w->intervals || !mkdtemp(w->temporary)) {
		fprintf(stderr, "%s: truth.csv or intervals.csv can't be read\n", w->folder);
		return -1;
	}
	for (int i = 0; i < csv_count(w->truth) && w->files < FILES_MAX; i++)
		if (!file_named(w, csv_cell(w->truth, i, "file")))
			hear(w, i);
	return 0;
}

static int tidy(void **state)
{
	struct world *w = *state;
	static const char *const endings[] = { ".survey", ".survey-wal", ".survey-shm", ".csv" };
	char path[400];

	for (int i = 0; i < w->files; i++) {
		csv_close(w->file[i].channels);
		for (size_t k = 0; k < sizeof endings / sizeof endings[0]; k++) {
			snprintf(path, sizeof path, "%s/%s%s", w->temporary, w->file[i].name, endings[k]);
			unlink(path);
		}
	}
	rmdir(w->temporary);
	csv_close(w->truth);
	csv_close(w->intervals);
	free(w);
	return 0;
}

/* ---- what is claimed ---- */

static void want_recordings(const struct world *w)
{
	if (!w->truth) {
		print_message("BANDCENSUS_RECORDINGS names no folder\n");
		skip();
	}
}

static bool on_the_air(const struct csv_rows *truth, int row)
{
	return !is_word(csv_cell(truth, row, "kind"), not_on_the_air,
			sizeof not_on_the_air / sizeof not_on_the_air[0]);
}

/* Whether one channel of the raster can hold it. */
static bool fits(const struct csv_rows *truth, int row)
{
	return number(truth, row, "bandwidth_hz") <= 1.25 * STEP_HZ;
}

static double frequency(const struct world *w, const struct heard *h, int row)
{
	return h->centre_hz + number(w->truth, row, "signal_offset_hz");
}

/* The row of the channel nearest to f, -1 when that channel is not listed. */
static int nearest(const struct heard *h, double f)
{
	for (int i = 0; h->channels && i < csv_count(h->channels); i++)
		if (fabs(number(h->channels, i, "frequency_hz") - f) <= STEP_HZ / 2)
			return i;
	return -1;
}

static double on_time(const struct world *w, int row)
{
	double on_s = 0;

	for (int i = 0; i < csv_count(w->intervals); i++)
		if (strcmp(csv_cell(w->intervals, i, "file"), csv_cell(w->truth, row, "file")) == 0 &&
		    number(w->intervals, i, "signal_offset_hz") == number(w->truth, row, "signal_offset_hz"))
			on_s += number(w->intervals, i, "off_s") - number(w->intervals, i, "on_s");
	return on_s;
}

static void programs_run(void **state)
{
	struct world *w = *state;
	want_recordings(w);
	assert_true(w->files > 0);
	for (int i = 0; i < w->files; i++)
		if (!w->file[i].channels || csv_count(w->file[i].channels) < 1)
			fail_msg("%s: could not be surveyed and listed, or lists nothing",
				 w->file[i].name);
}

static void what_fits_a_channel_is_listed_there(void **state)
{
	struct world *w = *state;
	int wrong = 0, judged = 0;

	want_recordings(w);
	for (int i = 0; i < csv_count(w->truth); i++) {
		struct heard *h = file_named(w, csv_cell(w->truth, i, "file"));
		if (!on_the_air(w->truth, i) || !fits(w->truth, i))
			continue;
		judged++;
		if (nearest(h, frequency(w, h, i)) >= 0)
			continue;
		print_error("%s: %s at %.0f Hz is on no listed channel\n", h->name,
			    csv_cell(w->truth, i, "kind"), frequency(w, h, i));
		wrong++;
	}
	if (wrong || !judged)
		fail_msg("%d of %d wrong", wrong, judged);
}

static void it_is_busy_for_as_long_as_it_is_on(void **state)
{
	struct world *w = *state;
	int wrong = 0, judged = 0;

	want_recordings(w);
	for (int i = 0; i < csv_count(w->truth); i++) {
		struct heard *h = file_named(w, csv_cell(w->truth, i, "file"));
		int at = on_the_air(w->truth, i) && fits(w->truth, i) ? nearest(h, frequency(w, h, i)) : -1;
		if (at < 0)
			continue;
		double on_s = on_time(w, i), busy_s = number(h->channels, at, "busy_s");
		judged++;
		if (fabs(busy_s - on_s) <= fmax(WITHIN_S, WITHIN_PART * on_s))
			continue;
		print_error("%s: %s at %.0f Hz is on for %.3f s, its channel busy for %.3f s: %+.1f ms\n",
			    h->name, csv_cell(w->truth, i, "kind"), frequency(w, h, i), on_s, busy_s,
			    1e3 * (busy_s - on_s));
		wrong++;
	}
	if (wrong || !judged)
		fail_msg("%d of %d wrong", wrong, judged);
}

/* A burst wider than the raster opens channels of its own band. */
static void what_is_wider_is_listed_within_its_band(void **state)
{
	struct world *w = *state;
	int wrong = 0, judged = 0;

	want_recordings(w);
	for (int i = 0; i < csv_count(w->truth); i++) {
		struct heard *h = file_named(w, csv_cell(w->truth, i, "file"));
		double half = number(w->truth, i, "bandwidth_hz") / 2;
		bool found = false;
		if (!on_the_air(w->truth, i) || fits(w->truth, i) || !h->channels)
			continue;
		judged++;
		for (int k = 0; k < csv_count(h->channels); k++)
			found |= fabs(number(h->channels, k, "frequency_hz") - frequency(w, h, i)) <= half;
		if (found)
			continue;
		print_error("%s: no channel within %.0f Hz of the %s at %.0f Hz is listed\n", h->name,
			    half, csv_cell(w->truth, i, "kind"), frequency(w, h, i));
		wrong++;
	}
	if (wrong || !judged)
		fail_msg("%d of %d wrong", wrong, judged);
}

static bool explained(const struct world *w, const struct heard *h, double channel_hz)
{
	for (int i = 0; i < csv_count(w->truth); i++)
		if (strcmp(csv_cell(w->truth, i, "file"), h->name) == 0 &&
		    fabs(channel_hz - frequency(w, h, i)) <=
		    number(w->truth, i, "bandwidth_hz") / 2 + STEP_HZ)
			return true;
	return false;
}

static void nothing_is_listed_that_was_not_there(void **state)
{
	struct world *w = *state;
	int wrong = 0, judged = 0;

	want_recordings(w);
	for (int f = 0; f < w->files; f++) {
		const struct heard *h = &w->file[f];
		for (int i = 0; h->channels && i < csv_count(h->channels); i++) {
			double at = number(h->channels, i, "frequency_hz");
			judged++;
			if (explained(w, h, at))
				continue;
			print_error("%s: %.0f Hz (%+.0f from the centre) is listed with %s s busy, "
				    "%s dB: no truth is near\n", h->name, at, at - h->centre_hz,
				    csv_cell(h->channels, i, "busy_s"),
				    csv_cell(h->channels, i, "level_db"));
			wrong++;
		}
	}
	if (wrong || !judged)
		fail_msg("%d of %d wrong", wrong, judged);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(programs_run),
		cmocka_unit_test(what_fits_a_channel_is_listed_there),
		cmocka_unit_test(it_is_busy_for_as_long_as_it_is_on),
		cmocka_unit_test(what_is_wider_is_listed_within_its_band),
		cmocka_unit_test(nothing_is_listed_that_was_not_there),
	};
	return cmocka_run_group_tests(tests, survey_all, tidy);
}
