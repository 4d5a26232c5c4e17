#include "tests/verbs_stage.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/wait.h>
#include <unistd.h>

#include "tests/night_world.h"

void verbs_run(struct verbs_stage *s, const char *words, bool with_errors)
{
	char line[2000];

	snprintf(line, sizeof line, "cd %s && \"$BANDCENSUS\" %s %s", s->folder, words,
		 with_errors ? "2>&1 >/dev/null" : "2>/dev/null");
	FILE *p = popen(line, "r");
	assert_non_null(p);
	size_t n = fread(s->out.text, 1, VERBS_ROOM - 1, p);
	s->out.text[n] = '\0';
	int status = pclose(p);
	s->out.code = WIFEXITED(status) ? WEXITSTATUS(status) : -1;
}

/* A receiver stayed for the over: what was measured of it. */
static void stayed(struct transmission_row *t, const struct subtone_word *w)
{
	t->heard_ms = 4800;
	t->occupied_hz = t->kind == KIND_AM ? 4600 : 8000 + t->level_ddb;
	t->down26_hz = t->occupied_hz + 1500;
	t->deviation_hz = t->kind == KIND_NFM ? 1900 + t->level_ddb : 0;
	t->depth_pm = t->kind == KIND_AM ? 700 : 0;
	t->below = w->below;
	t->code = w->code;
}

/* Where rows go, and how much later they are than NIGHT_US. */
struct night {
	struct survey *survey;
	int64_t        later_us;
};

/* w: the receiver stayed, and that was below speech; NULL: it did not. */
static void add(const struct night *n, struct world_over o, const struct subtone_word *w)
{
	struct transmission_row t = world_transmission(&o);
	struct activity_row a = world_activity(&o);
	struct fault why;

	t.first_us += n->later_us;
	t.last_us += n->later_us;
	a.hour += n->later_us;
	if (w)
		stayed(&t, w);
	if (survey_add_transmission(n->survey, &t, &why) < 0 || survey_add_activity(n->survey, &a, &why) < 0)
		fail_msg("%s", why.text);
}

/* Stays for each first over of an exchange, and for all that send a code. */
static void talk(const struct night *n, int32_t band, int32_t channel, int exchanges, int32_t level_ddb,
		 enum kind kind, struct subtone_word w)
{
	for (int e = 0; e < exchanges; e++)
		for (int k = 0; k < 3; k++)
			add(n, (struct world_over){
				       band, channel, 60 + e * 13000.0 / exchanges + 7 * k + band,
				       5, level_ddb + 3 * (e % 3), 0, 9000, kind, w.tone_ddhz },
			    k == 0 || w.code ? &w : NULL);
}

static const struct subtone_word tone_100 = { .below = BELOW_TONE, .tone_ddhz = 1000 },
	tone_162 = { .below = BELOW_TONE, .tone_ddhz = 1622 },
	code_023 = { .below = BELOW_CODE, .code = 023 },
	toneless = { .below = BELOW_NOTHING }, unheard = { .below = BELOW_UNKNOWN };

/* A carrier that never goes off. */
static void carry(const struct night *n, int32_t channel)
{
	for (int h = 0; h < 4; h++)
		add(n, (struct world_over){ WORLD_AIR, channel, h * 3600, 3599, 250, 0, 6000, KIND_AM, 0 }, NULL);
}

static void look_at(const struct night *n, int bands)
{
	struct fault why;

	for (int b = 0; b < bands; b++)
		for (int h = 0; h < 4; h++) {
			struct coverage_row c = world_coverage(b, h);
			c.hour += n->later_us;
			assert_int_equal(survey_add_coverage(n->survey, &c, &why), 0);
		}
}

static void fill(const struct night *n)
{
	struct fault why;
	struct incident_row lost = { .run = 1, .at_us = NIGHT_US + HOUR_US,
				     .until_us = NIGHT_US + HOUR_US + 240000000,
				     .what = "lost", .text = "the dongle went away" };
	struct artefact_row image = { .run = 1, .at_us = NIGHT_US, .band = WORLD_AIR, .channel = 700,
				      .cause = "image", .text = "mirrors 123.4 MHz" };

	look_at(n, WORLD_BANDS);
	talk(n, WORLD_FIRE, 186, 20, 300, KIND_NFM, tone_100);
	talk(n, WORLD_FIRE, 201, 1, 200, KIND_NFM, toneless);
	talk(n, WORLD_BUSINESS, 50, 12, 250, KIND_NFM, tone_162);
	talk(n, WORLD_BUSINESS, 150, 1, 250, KIND_NFM, code_023);
	talk(n, WORLD_BUSINESS, 200, 15, 250, KIND_DATA, unheard);
	talk(n, WORLD_AIR, 397, 30, 250, KIND_AM, unheard);
	talk(n, WORLD_AIR, 700, 3, 150, KIND_AM, unheard);
	talk(n, WORLD_PAGING, 100, 30, 500, KIND_DATA, unheard);
	carry(n, 1005);
	assert_int_equal(survey_add_incident(n->survey, &lost, &why), 0);
	assert_int_equal(survey_add_artefact(n->survey, &image, &why), 0);
}

/* Nobody looks at paging; fire is busier, one of business and the carrier are gone and others new, and what was data is
 * voice. */
static void fill_again(const struct night *n)
{
	look_at(n, WORLD_PAGING);
	talk(n, WORLD_FIRE, 186, 80, 300, KIND_NFM, tone_100);
	talk(n, WORLD_BUSINESS, 200, 15, 250, KIND_NFM, tone_100);
	talk(n, WORLD_BUSINESS, 300, 25, 250, KIND_NFM, tone_100);
	talk(n, WORLD_AIR, 397, 30, 250, KIND_AM, unheard);
	carry(n, 1105);
}

static void write_survey(const struct verbs_stage *s, const char *name, const char *station, int64_t later_us,
			 void (*fill_in)(const struct night *n))
{
	struct run_row run = night_run(4);
	struct fault why = { 0 };
	char path[100];

	snprintf(path, sizeof path, "%s/%s", s->folder, name);
	snprintf(run.station, sizeof run.station, "%s", station);
	run.start_us += later_us;
	run.end_us += later_us;
	const struct night n = { survey_write(path, &run, world_band, WORLD_BANDS, &why), later_us };
	if (!n.survey)
		fail_msg("%s", why.text);
	assert_int_equal(survey_begin(n.survey, &why), 0);
	fill_in(&n);
	assert_int_equal(survey_end_run(n.survey, run.id, run.end_us, &why), 0);
	assert_int_equal(survey_commit(n.survey, &why), 0);
	survey_close(n.survey);
}

int verbs_set_stage(void **state)
{
	struct verbs_stage *s = calloc(1, sizeof *s);
	char line[1000];

	if (!s || !getenv("BANDCENSUS") || setenv("TZ", "UTC", 1) < 0)
		return -1;
	strcpy(s->folder, "/tmp/test-verbs-XXXXXX");
	if (!mkdtemp(s->folder))
		return -1;
	*state = s;
	write_survey(s, "night.survey", night_run(4).station, 0, fill);
	write_survey(s, "later.survey", "the other side of the hill", 7 * 24 * HOUR_US, fill_again);
	snprintf(line, sizeof line, "cd " SOURCE_ROOT "/tests/data && cp rehearsed.csv memories.csv %s", s->folder);
	return system(line);
}

int verbs_strike_stage(void **state)
{
	struct verbs_stage *s = *state;
	char line[100];

	snprintf(line, sizeof line, "rm -r %s", s->folder);
	int result = system(line);
	free(s);
	return result;
}
