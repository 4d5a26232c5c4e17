#include "tests/fuzz_readers.h"

#include <string.h>
#include <unistd.h>

#include "store/levels.h"
#include "store/merge.h"
#include "store/picture.h"
#include "store/pulse.h"
#include "store/rescue.h"
#include "store/thin.h"

static void promise_line(const char *text, size_t room)
{
	promise(memchr(text, '\0', room) != NULL, "text ends");
	for (; *text; text++)
		promise((unsigned char)*text >= ' ' && *text != 0x7f, "text is fit for a line");
}

struct reader {
	const struct band *bands;
	int                n;
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

static int see_setting(void *self, const struct setting_row *row)
{
	(void)self;
	promise_line(row->file, strlen(row->file) + 1);
	for (const char *p = row->text; *p; p++)
		promise((unsigned char)*p >= ' ' || strchr("\t\r\n", *p), "text is fit for lines");
	return 0;
}

static int see_parked(void *self, const struct parked_row *row)
{
	promise_channel(self, row->band, row->first);
	promise_channel(self, row->band, row->first + row->count - 1);
	return 0;
}

static int see_strip(void *self, const struct strip_row *row)
{
	promise_channel(self, row->band, 0);
	promise(row->packed.n == 0 || memchr(row->packed.at, 0, row->packed.n) || row->packed.at[0],
		"bytes that are there");
	return 0;
}

/* The picture of each band, about where the first strip is and where the clock begins. */
static int try_pictures(struct survey *s, const struct reader *r, struct fault *why)
{
	static const int64_t from_us[] = { INT64_C(1767225600000000), 0 };
	int result = 0;

	for (int32_t b = 0; b < r->n && b < 4; b++) {
		size_t channels = (size_t)r->bands[b].raster.count;
		uint8_t *cells = malloc(90 * channels);
		promise(cells != NULL, "memory for a picture");
		for (size_t i = 0; i < 2 && result == 0; i++)
			result = picture_read(s, b, from_us[i], from_us[i] + 90 * STRIP_MINUTE_US, STRIP_MINUTE_US, cells,
					      NULL, why);
		for (size_t i = 0; result == 0 && i < 90 * channels; i++)
			promise(cells[i] < STRIP_HEARD + LEVEL_BINS, "a cell");
		free(cells);
	}
	return result;
}

bool try_reading(const char *path, bool must)
{
	struct fault why = { 0 };
	struct survey *s = survey_read(path, &why);
	struct reader r = { 0 };

	promise(s || !must, "what was made is read");
	if (!s) {
		promise_told(&why);
		return false;
	}
	r.n = survey_bands(s, &r.bands);
	int failed = survey_each_run(s, see_run, &r, &why) ||
		     survey_each_coverage(s, see_coverage, &r, &why) ||
		     survey_each_activity(s, see_activity, &r, &why) ||
		     survey_each_transmission(s, see_transmission, &r, &why) ||
		     survey_each_incident(s, see_incident, &r, &why) ||
		     survey_each_artefact(s, see_artefact, &r, &why) ||
		     survey_each_setting(s, see_setting, &r, &why) ||
		     survey_each_parked(s, see_parked, &r, &why) ||
		     survey_each_strip(s, see_strip, &r, &why) || try_pictures(s, &r, &why);
	if (failed) {
		promise_told(&why);
		if (must)
			fprintf(stderr, "%s\n", why.text);
		promise(!must, "all of what was made is read");
	}
	survey_close(s);
	return !failed;
}

/* What is shown while it is written: lines for a terminal. */
void try_pulse(const char *path)
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

void try_rescue(const char *path)
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

/* By another of the same bands, which first brings it up to the newest version. */
void try_writing(const char *path)
{
	static const struct band other = { .id = "x", .raster = { { 3 }, { 3 }, 1 } };
	struct run_row run = { .start_us = 1 };
	struct fault why = { 0 };
	const struct band *theirs;
	struct survey *was = survey_read(path, &why);
	int n = was ? survey_bands(was, &theirs) : 0;
	struct band *bands = calloc((size_t)n + 1, sizeof *bands);

	promise(bands != NULL, "memory for the bands");
	if (n > 0)
		memcpy(bands, theirs, (size_t)n * sizeof *bands);
	else
		bands[n++] = other;
	survey_close(was);
	struct survey *s = survey_write(path, &run, bands, n, &why);
	free(bands);
	if (!s) {
		promise_told(&why);
		return;
	}
	struct coverage_row row = { .run = run.id, .hour = INT64_C(1767225600000000), .count = 1, .looks = 1 };
	struct activity_row busy = { .run = 1, .hour = row.hour, .busy_looks = 1, .level[18] = 1, .level_looks[18] = 1 };
	if (survey_begin(s, &why) < 0 || survey_add_coverage(s, &row, &why) < 0 ||
	    survey_add_activity(s, &busy, &why) < 0 || survey_commit(s, &why) < 0)
		promise_told(&why);
	int again;
	while ((again = picture_tidy(s, 0, INT64_MAX, &why)) > 0)
		;
	if (again < 0)
		promise_told(&why);
	survey_close(s);
}

void try_thinning(const char *path)
{
	const struct keep k = { .minutes_us = HOUR_US, .strips_us = 3 * 24 * HOUR_US, .overs_us = 2 * HOUR_US, .hours_us = HOUR_US };
	struct thin_sum sum;
	struct fault why = { 0 };

	if (survey_thin(path, &k, INT64_C(1767225600000000) + 30 * HOUR_US, &sum, &why) < 0)
		promise_told(&why);
	else
		try_reading(path, false);       /* sums of what is just within its bounds may leave them */
}

/* With a copy of itself: the same runs are there once. */
void try_merging(const char *path)
{
	char out[200], *from[2] = { (char *)path, (char *)path };
	struct merge_sum sum;
	struct fault why = { 0 };
	bool good = try_reading(path, false);

	snprintf(out, sizeof out, "%s.merged", path);
	if (survey_merge(out, from, 2, ignore, NULL, &sum, &why) < 0)
		promise_told(&why);
	else
		try_reading(out, good);
	unlink(out);
}

void try_survey(const char *path, unsigned which)
{
	/* Last what changes the file. */
	static void (*const tries[])(const char *path) = {
		try_pulse, try_rescue, try_merging, try_writing, try_thinning
	};
	const unsigned n = sizeof tries / sizeof tries[0];

#ifdef FUZZER_DRIVES
	try_reading(path, false);
	tries[which % n](path);
#else
	(void)which;
	try_reading(path, false);
	for (unsigned i = 0; i < n; i++)
		tries[i](path);
#endif
}
