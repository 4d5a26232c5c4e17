/* Feeds what it is given, as a survey file, to the readers, the writer and rescue, and holds them
 * to their promises. As it is built, it takes files and folders of them and serves as a test over
 * tests/corpus/survey. tests/fuzz.sh searches for more. */
#include "tests/fuzz.h"

#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "store/pulse.h"
#include "store/rescue.h"
#include "store/survey.h"

static void promise_line(const char *text, size_t room)
{
	promise(memchr(text, '\0', room) != NULL, "text ends");
	for (; *text; text++)
		promise((unsigned char)*text >= ' ' && *text != 0x7f, "text is fit for a line");
}

struct reader {
	const struct band *bands;
	int                n;
	const char        *path;
	bool               again;       /* out of rescue */
};

static void promise_channel(const struct reader *r, int32_t band, int32_t channel)
{
	promise(band >= 0 && band < r->n && channel >= 0 && channel < r->bands[band].raster.count,
		"a channel that is there");
}

static int see_run(void *self, const struct run_row *row)
{
	(void)self;
	promise_line(row->station, sizeof row->station);
	promise_line(row->source, sizeof row->source);
	return 0;
}

static int see_coverage(void *self, const struct coverage_row *row)
{
	promise_channel(self, row->band, row->first);
	promise_channel(self, row->band, row->first + row->count - 1);
	return 0;
}

static int see_activity(void *self, const struct activity_row *row)
{
	promise_channel(self, row->band, row->channel);
	return 0;
}

static int see_transmission(void *self, const struct transmission_row *row)
{
	promise_channel(self, row->band, row->channel);
	promise((unsigned)row->kind < KIND_COUNT && (unsigned)row->below < BELOW_COUNT, "a kind");
	return 0;
}

static int see_incident(void *self, const struct incident_row *row)
{
	(void)self;
	promise_line(row->what, sizeof row->what);
	promise_line(row->text, sizeof row->text);
	return 0;
}

static int see_artefact(void *self, const struct artefact_row *row)
{
	promise_channel(self, row->band, row->channel);
	promise_line(row->text, sizeof row->text);
	return 0;
}

static int see_strip(void *self, const struct strip_row *row)
{
	promise_channel(self, row->band, 0);
	promise(row->packed.n == 0 || memchr(row->packed.at, 0, row->packed.n) || row->packed.at[0],
		"bytes that are there");
	return 0;
}

static void try_reading(const char *path, bool must)
{
	struct fault why = { 0 };
	struct survey *s = survey_read(path, &why);
	struct reader r = { .path = path };

	promise(s || !must, "what was rescued is read");
	if (!s) {
		promise_told(&why);
		return;
	}
	r.n = survey_bands(s, &r.bands);
	int failed = survey_each_run(s, see_run, &r, &why) ||
		     survey_each_coverage(s, see_coverage, &r, &why) ||
		     survey_each_activity(s, see_activity, &r, &why) ||
		     survey_each_transmission(s, see_transmission, &r, &why) ||
		     survey_each_incident(s, see_incident, &r, &why) ||
		     survey_each_artefact(s, see_artefact, &r, &why) ||
		     survey_each_strip(s, see_strip, &r, &why);
	promise(!failed || !must, "all that was rescued is read");
	if (failed)
		promise_told(&why);
	survey_close(s);
}

/* What is shown while it is written: lines for a terminal. */
static void try_pulse(const char *path)
{
	struct fault why = { 0 };
	struct pulse p;
	char *text = NULL;
	size_t n;

	if (pulse_read(path, 1, &p, &why) < 0) {
		promise_told(&why);
		return;
	}
	FILE *to = open_memstream(&text, &n);
	promise(to != NULL, "room for the text");
	pulse_text(to, &p, 1);
	pulse_json(to, &p, 1);
	fclose(to);
	for (size_t i = 0; i < n; i++)
		promise(text[i] == '\n' || ((unsigned char)text[i] >= ' ' && text[i] != 0x7f), "text is fit for lines");
	free(text);
}

static void ignore(void *self, const char *line)
{
	(void)self;
	promise_line(line, strlen(line) + 1);
}

static void try_rescue(const char *path)
{
	struct fault why = { 0 };
	struct rescue_sum sum;
	char out[64];

	snprintf(out, sizeof out, "%s.out", path);
	if (survey_rescue(path, out, ignore, NULL, &sum, &why) < 0)
		promise_told(&why);
	else
		try_reading(out, true);
	unlink(out);
}

static void try_writing(const char *path)
{
	static const struct band other = { .id = "x", .raster = { { 3 }, { 3 }, 1 } };
	struct run_row run = { .start_us = 1 };
	struct fault why = { 0 };
	struct survey *s = survey_write(path, &run, &other, 1, &why);

	if (!s)
		promise_told(&why);
	survey_close(s);
}

int LLVMFuzzerTestOneInput(const uint8_t *bytes, size_t n)
{
	static const char *const side[] = { "", "-wal", "-shm", "-journal" };
	char path[32] = "/tmp/fuzz-survey-XXXXXX", beside[64];
	int fd = mkstemp(path);

	promise(fd >= 0 && write(fd, bytes, n) == (ssize_t)n, "room for the file");
	close(fd);
	try_reading(path, false);
	try_pulse(path);
	try_rescue(path);
	try_writing(path);
	for (int i = 0; i < 4; i++) {
		snprintf(beside, sizeof beside, "%s%s", path, side[i]);
		unlink(beside);
	}
	return 0;
}
