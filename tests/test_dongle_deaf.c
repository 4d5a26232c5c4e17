#include "tests/test.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "store/survey.h"
#include "tests/dongle_duty.h"

/* A tuner that hears nothing while its samples go on, through the real library. duty_look
 * holds each account against who is always on: one deaf look that counts, and it fails. */

#define QUICK "track = false;\nppm = \"31 ppm\";\ndwell = \"5 ms\";\nhang = \"200 ms\";\n" \
	      "challenge_share = 0.0;\n"
#define LATEST_S 40             /* of real time, for anything to happen                    */
#define OPENS    2              /* for a setting up: its serial is read first              */
#define WARM_US  1000000        /* looked before: both hops are learnt, parks are held     */

/* What the survey tells of it. */
struct told {
	int     times;
	int64_t from_us, until_us;
	char    text[200];
};

static int see_incident(void *self, const struct incident_row *r)
{
	struct told *t = self;

	if (strcmp(r->what, "deaf") != 0)
		return 0;
	t->times++;
	t->from_us = r->at_us;
	t->until_us = r->until_us;
	snprintf(t->text, sizeof t->text, "%s", r->text);
	return 0;
}

static struct told read_told(const struct duty *d)
{
	struct told t = { 0 };
	struct fault why;
	struct survey *s = survey_read(d->survey, &why);

	if (!s || survey_each_incident(s, see_incident, &t, &why) < 0)
		fail_msg("%s", why.text);
	survey_close(s);
	return t;
}

/* at_opening: it lasts until the dongle is opened anew, else for_s. */
static const struct {
	const char *what;
	double      for_s;
	bool        at_opening;
	int         remedies;
	double      least_s, most_s;    /* told of                       */
} rows[] = {
	{ "for a second: it passes by itself", 1, false, 0, 0.8, 1.5 },
	{ "for seven, whatever is done",       7, false, 1, 6.5, 8 },
	{ "until it is set up anew",         600, true,  1, 3, 6 },
};

static void live_through(struct duty *d, size_t i)
{
	int64_t opens = d->scene.state->dongles[0].count.opens;
	int times = read_told(d).times;

	snprintf(d->doing, sizeof d->doing, "deaf %s", rows[i].what);
	int again = duty_said(d, "source hears again");
	scene_mischief(&d->scene, (struct mischief){
		.kind = MISCHIEF_DEAF, .dongle = -1, .for_s = rows[i].for_s,
		.value = rows[i].at_opening ? (double)opens : 0 });
	if (!duty_says(d, "source hears again", again + 1, LATEST_S) ||
	    !duty_listens(d, WARM_US, LATEST_S))
		fail_msg("%s: it never hears again", d->doing);
	struct told t = read_told(d);
	double s = (double)(t.until_us - t.from_us) * 1e-6;
	opens = d->scene.state->dongles[0].count.opens - opens;
	print_message("%s: told of %.2f s, opened %lld times: %s\n", d->doing, s, (long long)opens,
		      t.text);
	if (t.times != times + 1 || s < rows[i].least_s || s > rows[i].most_s ||
	    opens != OPENS * rows[i].remedies)
		fail_msg("%s: told of %d times, %.2f s, opened %lld times", d->doing, t.times - times, s,
			 (long long)opens);
}

static void a_deaf_tuner_is_no_quiet_band(void **state)
{
	struct scenario s = duty_scenario();
	struct duty *d = *state;

	duty_begin(d, &s, "dongle", "150", "153.9", QUICK);
	assert_true(duty_listens(d, WARM_US, LATEST_S));
	for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++)
		live_through(d, i);
	assert_int_equal(duty_said(d, "source is deaf"), 3);
	assert_int_equal(duty_end(d), 0);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test_setup_teardown(a_deaf_tuner_is_no_quiet_band, duty_create, duty_destroy),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
