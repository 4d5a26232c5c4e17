#include "tests/test.h"

#include <stdlib.h>
#include <string.h>
#include <time.h>
#include <unistd.h>

#include <jansson.h>

#include "store/picture.h"
#include "store/pulse.h"
#include "tests/folder.h"
#include "tools/follow.h"

/* How a survey goes, told from its file while it is written. */

#define DAY_US  INT64_C(1772323200000000)       /* 2026-03-01T00:00:00Z */
#define NOW_US  (DAY_US + 3 * HOUR_US + 20 * STRIP_MINUTE_US)
#define SECOND  INT64_C(1000000)
#define BANDS   2

static const struct band bands[BANDS] = {
	{ .id = "fire", .service = "fire", .mode = MODE_NFM, .width_hz = 11000,
	  .raster = { FREQ_KHZ(154000), { 37500 }, 4 } },
	{ .id = "air", .service = "air", .mode = MODE_AM, .width_hz = 6000,
	  .raster = { FREQ_KHZ(118000), { 25000 }, 3 } },
};

struct world {
	char           path[128];
	struct survey *s;
	struct run_row run;
};

static void minute(struct world *w, int32_t band, int64_t at_us, const uint8_t *cells)
{
	struct fault why;

	assert_int_equal(picture_add(w->s, w->run.id, band, at_us, cells, &why), 0);
}

/* A run of three hours and twenty minutes. Fire is looked at once a second; its channel 0 is heard
 * in every one of the last 15 minutes and all night, 1 in three of them for the first time, 2 now
 * and in the minute before these, 3 never. Air is not looked at in the last 15 minutes. */
static void write_night(struct world *w)
{
	struct fault why;

	assert_int_equal(survey_begin(w->s, &why), 0);
	for (int h = 1; h < 4; h++) {
		int64_t n = h < 3 ? 3600 : 1200;
		struct coverage_row c = {.run = w->run.id,
					 .hour = DAY_US + h * HOUR_US,
					 .count = 4,
					 .looks = n,
					 .looked_us = n * 20000,
					 .clipped = n / 100};
		assert_int_equal(survey_add_coverage(w->s, &c, &why), 0);
		struct activity_row a = {
		    .run = w->run.id, .hour = c.hour, .busy_looks = 1, .busy_us = 20000};
		a.level[20] = 20000;
		a.level_looks[20] = 1;
		assert_int_equal(survey_add_activity(w->s, &a, &why), 0);
	}
	for (int i = 0; i < 15; i++) {
		const uint8_t cells[4] = { STRIP_HEARD + 20, i < 3 ? STRIP_HEARD + 40 : STRIP_QUIET,
					   i == 14 ? STRIP_HEARD + 9 : STRIP_QUIET, STRIP_QUIET };
		minute(w, 0, NOW_US - (15 - i) * STRIP_MINUTE_US, cells);
	}
	minute(w, 0, NOW_US - 16 * STRIP_MINUTE_US,
	       (const uint8_t[]){STRIP_HEARD, STRIP_QUIET, STRIP_HEARD, STRIP_QUIET});
	minute(w, 1, NOW_US - 17 * STRIP_MINUTE_US,
	       (const uint8_t[]){STRIP_HEARD, STRIP_HEARD, STRIP_HEARD});
	for (int i = 0; i < 5; i++) {
		struct transmission_row x = {.run = w->run.id,
					     .first_us = NOW_US - (i * 6 + 1) * STRIP_MINUTE_US,
					     .looks = 3,
					     .busy_us = 60000,
					     .kind = KIND_NFM};
		x.last_us = x.first_us + 5 * SECOND;
		assert_int_equal(survey_add_transmission(w->s, &x, &why), 0);
		struct incident_row n = {.run = w->run.id,
					 .at_us = x.first_us,
					 .until_us = x.first_us + 2 * SECOND,
					 .what = "lost",
					 .text = "\"5\" times\n\x1b[31mred"};
		assert_int_equal(survey_add_incident(w->s, &n, &why), 0);
	}
	assert_int_equal(survey_commit(w->s, &why), 0);
}

static void begin(struct world *w, void **state, const char *name)
{
	struct fault why;

	*w = (struct world){.run = {.start_us = DAY_US,
				    .station = "a \"loft\" \\",
				    .source = "town",
				    .version = "0",
				    .rate_hz = 2400000,
				    .gain_ddb = 297,
				    .ppm = 1.5,
				    .dwell_us = 20000,
				    .pfa = 1e-6,
				    .margin_db = 3}};
	snprintf(w->path, sizeof w->path, "%s/%s", ((const struct folder *)*state)->path, name);
	w->s = survey_write(w->path, &w->run, bands, BANDS, &why);
	assert_non_null(w->s);
	write_night(w);
}

static struct pulse pulse_of(const char *path, int64_t wall_us)
{
	struct pulse p;
	struct fault why = { 0 };

	if (pulse_read(path, wall_us, &p, &why) < 0)
		fail_msg("%s", why.text);
	return p;
}

static void tells_how_it_goes(void **state)
{
	struct world w;

	begin(&w, state, "a.survey");
	struct pulse p = pulse_of(w.path, NOW_US);
	assert_int_equal(p.now_us, NOW_US);
	assert_int_equal(p.channels, 7);
	/* From 2:00 to 3:20 it was looked at once a second. */
	assert_int_equal(p.counted_us, HOUR_US + 20 * STRIP_MINUTE_US);
	assert_float_equal(p.revisit_s, 1, 1e-9);
	assert_float_equal(p.overload, 0.01, 1e-9);
	assert_int_equal(p.overs, 3); /* 1, 7 and 13 minutes ago */
	assert_int_equal(p.heard, 3);
	assert_int_equal(p.fresh, 1);
	assert_int_equal(p.unseen, 1);
	assert_string_equal(p.unseen_band, "air");
	assert_int_equal(p.busy[0].heard, 15);
	assert_int_equal(p.busy[0].peak_db, 20);
	assert_int_equal(p.busy[1].heard, 3);
	assert_int_equal(p.busy[1].centre.thirds, FREQ_KHZ(154000).thirds + 37500);
	assert_int_equal(p.busy[2].heard, 1);
	assert_int_equal(p.busy[3].heard, 0);
	assert_int_equal(p.new[0].centre.thirds, p.busy[1].centre.thirds);
	assert_int_equal(p.new[1].heard, 0);
	assert_int_equal(p.whats, 1);
	assert_int_equal(p.what[0].n, 5);
	assert_float_equal(p.what[0].s, 10, 1e-9);
	assert_int_equal(p.incidents, PULSE_INCIDENTS);
	/* On another day it is still of its own hour: a town's clock is not ours. */
	assert_int_equal(pulse_of(w.path, NOW_US + 300 * HOUR_US).now_us, NOW_US);
	/* A little later by the wall nothing newer than a minute is in it. */
	assert_int_equal(pulse_of(w.path, NOW_US + 30 * SECOND).now_us, NOW_US + 30 * SECOND);
	survey_close(w.s);
}

/* Who looks on changes nothing, is told of what is new, and leaves one file behind. */
static void leaves_the_writer_alone(void **state)
{
	struct world w;
	struct fault why;
	char log[140];

	begin(&w, state, "b.survey");
	uint64_t before = pulse_mark(w.path);
	assert_int_equal(pulse_of(w.path, NOW_US).run.end_us, 0);
	assert_int_equal(pulse_mark(w.path), before);
	assert_int_equal(survey_begin(w.s, &why), 0);
	assert_int_equal(survey_end_run(w.s, w.run.id, NOW_US, &why), 0);
	assert_int_equal(survey_commit(w.s, &why), 0);
	assert_true(pulse_mark(w.path) != before);
	assert_int_equal(pulse_of(w.path, NOW_US).run.end_us, NOW_US);
	survey_close(w.s);
	snprintf(log, sizeof log, "%s-wal", w.path);
	assert_int_equal(access(log, F_OK), -1);
	assert_int_equal(pulse_mark("nowhere.survey"), 0);
	struct pulse p;
	assert_int_equal(pulse_read("nowhere.survey", NOW_US, &p, &why), -1);
	assert_int_equal(why.kind, FAULT_INPUT);
}

static char *written(void (*write)(FILE *, const struct pulse *, int64_t), const struct pulse *p)
{
	char *text = NULL;
	size_t n;
	FILE *to = open_memstream(&text, &n);

	assert_non_null(to);
	write(to, p, p->written_us + 3 * SECOND);
	assert_int_equal(fclose(to), 0);
	return text;
}

/* No line is longer than a terminal is wide, nothing in a survey can move its cursor, and the zone
 * is named. */
static void words_fit(void **state)
{
	struct world w;

	begin(&w, state, "c.survey");
	setenv("TZ", "Europe/Vienna", 1);
	tzset();
	struct pulse p = pulse_of(w.path, NOW_US);
	char *text = written(pulse_text, &p);
	unsetenv("TZ");
	tzset();
	assert_non_null(strstr(text, "since 2026-03-01 01:00, now 04:20 CET; written 3 s ago"));
	assert_non_null(strstr(text, "not looked at in these: 1 band: air"));
	assert_non_null(strstr(text, "  fire               154.00000 MHz  15 of 15 min   20 dB\n"));
	assert_null(strchr(text, '\x1b'));
	for (char *line = strtok(text, "\n"); line; line = strtok(NULL, "\n"))
		if (strlen(line) > 80)
			fail_msg("%zu letters: %s", strlen(line), line);
	free(text);
	survey_close(w.s);
}

/* As jansson reads it. */
static void json_is_json(void **state)
{
	struct world w;
	json_error_t bad;

	begin(&w, state, "d.survey");
	struct pulse p = pulse_of(w.path, NOW_US);
	char *text = written(pulse_json, &p);
	json_t *j = json_loads(text, JSON_REJECT_DUPLICATES, &bad);
	if (!j)
		fail_msg("%s: %s", bad.text, text);
	assert_string_equal(json_string_value(json_object_get(j, "station")), "a \"loft\" \\");
	assert_string_equal(json_string_value(json_object_get(j, "now")), "2026-03-01T03:20:00Z");
	assert_true(json_is_null(json_object_get(j, "end")));
	assert_true(json_is_integer(json_object_get(j, "disk_bytes")));
	assert_float_equal(json_real_value(json_object_get(j, "overload_share")), 0.01, 1e-9);
	assert_int_equal(json_array_size(json_object_get(j, "busiest")), 3);
	assert_int_equal(json_array_size(json_object_get(j, "new")), 1);
	assert_int_equal(json_array_size(json_object_get(j, "newest_incidents")), 3);
	json_decref(j);
	free(text);
	survey_close(w.s);
}

/* ---- on a screen ---- */

static void screens_are_cut_to_size(void **state)
{
	static const struct {
		const char *why, *text;
		int         columns, rows;
		const char *out;
	} cases[] = {
	    {"it fits", "ab\nc\n", 80, 24, "ab\033[K\r\nc\033[K\r\n\033[J"},
	    {"too wide", "abcdef\nc\n", 3, 24, "abc\033[K\r\nc\033[K\r\n\033[J"},
	    {"too high: the last row has no end of line, or all would move up", "a\nb\nc\n", 80, 2,
	     "a\033[K\r\nb\033[K\033[J"},
	    {"a character is one column, and whole", "\xc3\xa9\xc3\xa9\xc3\xa9\n", 2, 24,
	     "\xc3\xa9\xc3\xa9\033[K\r\n\033[J"},
	};
	char out[200];
	(void)state;

	for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
		size_t n =
		    follow_fit(cases[i].text, cases[i].columns, cases[i].rows, out, sizeof out);
		if (strcmp(out, cases[i].out) != 0 || n != strlen(out))
			fail_msg("%s: \"%s\"", cases[i].why, out);
	}
	/* More text than room is cut, and still ends well. */
	char *longer = malloc(5000);
	assert_non_null(longer);
	memset(longer, 'x', 4999);
	longer[4999] = '\0';
	size_t n = follow_fit(longer, 5000, 24, out, sizeof out);
	assert_in_range(n, 100, sizeof out - 1);
	assert_string_equal(out + n - 3, "\033[J");
	free(longer);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(tells_how_it_goes),
		cmocka_unit_test(leaves_the_writer_alone),
		cmocka_unit_test(words_fit),
		cmocka_unit_test(json_is_json),
		cmocka_unit_test(screens_are_cut_to_size),
	};

	return cmocka_run_group_tests(tests, make_folder, drop_folder);
}
