#include "tests/test.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

#include "daemon/town/night.h"
#include "store/survey.h"
#include "tests/dongle_duty.h"

/* What goes wrong with a dongle while the daemon listens to it through the real
 * library. Nothing may hang, nothing be lost that was written, and nothing count as
 * looked at that was not. */

#define LATEST_S 30                     /* of real time, for anything to happen */

static const struct {
	const char     *what;
	struct mischief m;
	bool            replug;         /* pulled out for a moment: it meets the rest at opening */
	const char     *says;           /* the log; NULL: nothing is lost by it     */
	double          within_s;       /* after the end of it it listens again: with the wait of
	                                 * up to 5 s that may just have begun        */
} faults[] = {
	{ "pulled out while read, back last in the list", { .kind = MISCHIEF_VANISH, .for_s = 2 }, false,
	  "it vanished, plug it in again", 9 },
	{ "transfers never complete", { .kind = MISCHIEF_SILENCE, .for_s = 3 }, false,
	  "no samples for ", 9 },
	{ "192 transfers end with an error", { .kind = MISCHIEF_ERROR, .times = 192 }, false,
	  "source is lost", 9 },
	{ "192 transfers stall: silent death", { .kind = MISCHIEF_STALL, .times = 192 }, false, "no samples for ", 9 },
	{ "14 transfers stall: the others go on", { .kind = MISCHIEF_STALL, .times = 14 }, false, NULL, 1 },
	{ "empty transfers", { .kind = MISCHIEF_EMPTY, .times = 20 }, false, NULL, 1 },
	{ "short and odd transfers", { .kind = MISCHIEF_SHORT, .times = 20, .value = 4001 }, false, NULL, 1 },
	{ "one refused tuner write", { .kind = MISCHIEF_REFUSED, .times = 1 }, false, NULL, 1 },
	{ "refused tuner writes", { .kind = MISCHIEF_REFUSED, .for_s = 2 }, false, "it refused", 9 },
	{ "no lock on one hop", { .kind = MISCHIEF_UNLOCKED, .for_s = 2, .low_mhz = 154,
	  .high_mhz = 156 }, false, "hop is not looked at: dongle 00000001: did not lock at 153.0 MHz", 1 },
	{ "a call that never returns", { .kind = MISCHIEF_HANG_CONTROL, .for_s = 1 }, false,
	  "tuning it was not done within 3 s", 9 },
	{ "event handling that never returns", { .kind = MISCHIEF_HANG_EVENTS, .for_s = 1 }, false,
	  "no samples for ", 9 },
	{ "in use", { .kind = MISCHIEF_BUSY, .for_s = 4 }, true, "opening failed: it is in use", 12 },
	{ "no permission", { .kind = MISCHIEF_DENIED, .for_s = 4 }, true, "60-librtlsdr0.rules", 12 },
	{ "the kernel's driver can't be detached", { .kind = MISCHIEF_DRIVER, .for_s = 4, .value = 1 }, true,
	  "modprobe -r dvb_usb_rtl28xxu", 12 },
	{ "the kernel's driver has it", { .kind = MISCHIEF_DRIVER, .for_s = 4 }, true, "it vanished", 9 },
	{ "its tuner does not answer", { .kind = MISCHIEF_NO_TUNER, .for_s = 4 }, true,
	  "its tuner does not answer", 12 },
};

#define QUICK "track = false;\nppm = \"31 ppm\";\ndwell = \"5 ms\";\nhang = \"200 ms\";\n" \
	      "park_share = 0.0;\nchallenge_share = 0.0;\n"
#define EDGE_US 100000          /* an over so near to a gap is hardly to be had */
#define OVERS   2000
#define JUDGED  30              /* overs that were in no gap, in all, at the least */
#define MORE_US 800000          /* looked at after each, so that there are overs outside */
#define DEAF_HZ 152e6           /* above is the hop that has no lock               */
#define REFUSALS 6
#define FAULTS  (sizeof faults / sizeof faults[0])

/* One row of the table, and when it was, on the shared clock. */
struct lived {
	double from_s, to_s;
	double back_s;                  /* after the end of the fault                 */
	double looked_s;                /* looked time less than usual in that while  */
	double told_s;                  /* of it told of as lost                      */
	char   said[400];               /* the log's line about it                    */
	int    in_gap, outside, missed; /* overs: in a gap, outside, and of those not heard */
};

/* Injects one and waits until all is well. */
static void live_through(struct duty *d, size_t i, double share, struct lived *l)
{
	const char *says = faults[i].says ? faults[i].says : "";
	int said = duty_said(d, says), back = duty_said(d, "source is back");
	bool loses = faults[i].says && strncmp(says, "hop", 3) != 0;

	snprintf(d->doing, sizeof d->doing, "%s", faults[i].what);
	duty_look(d);
	struct seen before = d->seen;
	l->from_s = state_elapsed_s(d->scene.state);
	scene_mischief(&d->scene, faults[i].m);
	if (faults[i].replug)
		scene_mischief(&d->scene, (struct mischief){
			.kind = MISCHIEF_VANISH, .for_s = 0.5, .dongle = -1 });
	if (*says && !duty_says(d, says, said + 1, LATEST_S))
		fail_msg("%s: is not in the log", faults[i].what);
	if (loses && !duty_says(d, "source is back", back + 1, LATEST_S))
		fail_msg("%s: it never came back", faults[i].what);
	l->back_s = fmax(0, state_elapsed_s(d->scene.state) - l->from_s - faults[i].m.for_s);
	if (!duty_listens(d, MORE_US, LATEST_S))
		fail_msg("%s: it looks no more", faults[i].what);
	l->to_s = state_elapsed_s(d->scene.state);
	l->looked_s = share * (l->to_s - l->from_s) -
		      (double)(d->seen.looked_us - before.looked_us) * 1e-6;
	l->told_s = (double)(d->seen.lost_us - before.lost_us) * 1e-6;
	if (*says)
		duty_line(d, says, said + 1, l->said, sizeof l->said);
}

/* ---- overs ---- */

/* What the survey has of them, and the gaps; the town's time. */
struct kept {
	int64_t        start_us;        /* UTC when the town began */
	struct raster  raster;
	struct { int32_t channel; int64_t from_us, to_us; } over[OVERS];
	struct { int64_t from_us, to_us; } gap[OVERS];
	int            overs, gaps;
};

static int see_over(void *self, const struct transmission_row *t)
{
	struct kept *k = self;

	assert_true(k->overs < OVERS);
	k->over[k->overs].channel = t->channel;
	k->over[k->overs].from_us = t->first_us - k->start_us;
	k->over[k->overs++].to_us = t->last_us - k->start_us;
	return 0;
}

static int see_gap(void *self, const struct incident_row *r)
{
	struct kept *k = self;

	if (strcmp(r->what, "lost") != 0)
		return 0;
	assert_true(k->gaps < OVERS);
	k->gap[k->gaps].from_us = r->at_us - k->start_us - EDGE_US;
	k->gap[k->gaps++].to_us = r->until_us - k->start_us + EDGE_US;
	return 0;
}

static void read_kept(const struct duty *d, const struct town *t, struct kept *k)
{
	struct fault why;
	const struct band *bands;
	struct survey *s = survey_read(d->survey, &why);

	*k = (struct kept){ .start_us = t->start_us };
	if (!s || survey_bands(s, &bands) != 1 || survey_each_transmission(s, see_over, k, &why) < 0 ||
	    survey_each_incident(s, see_gap, k, &why) < 0)
		fail_msg("%s", why.text);
	k->raster = bands[0].raster;
	survey_close(s);
}

static bool in_gap(const struct kept *k, const struct over *o)
{
	for (int i = 0; i < k->gaps; i++)
		if (o->start_us < k->gap[i].to_us && o->end_us > k->gap[i].from_us)
			return true;
	return false;
}

static bool is_kept(const struct kept *k, int32_t channel, const struct over *o)
{
	for (int i = 0; i < k->overs; i++)
		if (k->over[i].channel == channel && k->over[i].from_us < o->end_us &&
		    k->over[i].to_us > o->start_us)
			return true;
	return false;
}

/* Whoever keyed in that while, from key down to key up. */
static void count_overs(const struct kept *k, const struct night *night, size_t fault, struct lived *l)
{
	const struct town *t = night_town(night);
	int64_t from_us = (int64_t)(l->from_s * 1e6) + EDGE_US, to_us = (int64_t)(l->to_s * 1e6) - EDGE_US;
	for (int e = 0; e < t->n_emitters; e++) {
		int n;
		const struct over *o = night_overs(night, e, &n);
		double hz = freq_to_hz(t->emitters[e].frequency);
		bool deaf = faults[fault].m.kind == MISCHIEF_UNLOCKED && hz > DEAF_HZ;
		for (int i = over_after(o, n, from_us); i < n && o[i].end_us < to_us; i++) {
			if (t->emitters[e].continuous || o[i].start_us < from_us)
				continue;
			if (deaf || in_gap(k, &o[i])) {
				l->in_gap++;
				continue;
			}
			/* The next process begins to read while nothing flows yet, and takes all it then hears
			 * for as old as that may be (pace_begin): for some seconds few looks are fresh. */
			if (faults[fault].m.kind == MISCHIEF_SILENCE)
				continue;
			l->outside++;
			l->missed += !is_kept(k, raster_nearest(&k->raster, t->emitters[e].frequency), &o[i]);
		}
	}
}

static void print_table(const struct lived *l)
{
	print_message("%-44s %6s %8s %8s %7s %8s %7s\n", "", "back", "looked", "told", "overs", "outside",
		      "of them");
	print_message("%-44s %6s %8s %8s %7s %8s %7s\n", "what", "after", "less", "lost", "in gap", "the gap",
		      "missed");
	for (size_t i = 0; i < FAULTS; i++)
		print_message("%-44s %4.1f s %6.2f s %6.2f s %7d %8d %7d\n", faults[i].what, l[i].back_s,
			      l[i].looked_s, l[i].told_s, l[i].in_gap, l[i].outside, l[i].missed);
	for (size_t i = 0; i < FAULTS; i++)
		print_message("%s: %s", faults[i].what, *l[i].said ? l[i].said : "nothing is said\n");
}

static void each_is_survived(void **state)
{
	struct scenario s = duty_scenario();
	struct lived lived[FAULTS] = { 0 };
	struct duty *d = *state;
	struct town town;
	struct kept kept;
	struct fault why;

	if (town_read(DUTY_TOWN, &town, &why) < 0)
		fail_msg("%s", why.text);
	struct night *night = night_create(&town, s.seed);
	assert_non_null(night);
	duty_begin(d, &s, "dongle", "150", "153.9", QUICK);
	assert_true(duty_listens(d, 100000, LATEST_S));
	double at_s = state_elapsed_s(d->scene.state);
	struct seen before = d->seen;
	assert_true(duty_listens(d, 300000, LATEST_S));
	double share = (double)(d->seen.looked_us - before.looked_us) * 1e-6 /
		       (state_elapsed_s(d->scene.state) - at_s);
	for (size_t i = 0; i < FAULTS; i++)
		live_through(d, i, share, &lived[i]);
	assert_true(duty_listens(d, 300000, LATEST_S));         /* overs under way come in */
	read_kept(d, &town, &kept);
	for (size_t i = 0; i < FAULTS; i++)
		count_overs(&kept, night, i, &lived[i]);
	print_table(lived);
	int judged = 0;
	for (size_t i = 0; i < FAULTS; i++)
		judged += lived[i].outside;
	assert_true(judged >= JUDGED);
	for (size_t i = 0; i < FAULTS; i++)
		if (lived[i].back_s > faults[i].within_s || lived[i].missed > 0)
			fail_msg("%s: back after %.1f s, and %d of %d overs missed that were in no gap",
				 faults[i].what, lived[i].back_s, lived[i].missed, lived[i].outside);
	night_destroy(night);
	town_free(&town);
	assert_int_equal(duty_end(d), 0);
}

/* The library passes over some refused writes: opening succeeds with a tuner half set up,
 * and so does setting a rate without its filter, with the window 1.8 MHz beside the
 * place asked for. duty_look knows by who is always on whether such looks were believed. */
static void no_refused_write_is_passed_over(void **state)
{
	struct scenario s = duty_scenario();
	struct duty *d = *state;

	duty_begin(d, &s, "dongle", "150", "153.9", QUICK);
	for (int n = 1; n <= REFUSALS; n++) {
		int back = duty_said(d, "source is back");
		snprintf(d->doing, sizeof d->doing, "%d writes refused from the opening on", n);
		scene_mischief(&d->scene, (struct mischief){
			.kind = MISCHIEF_REFUSED, .dongle = -1, .times = n });
		scene_mischief(&d->scene, (struct mischief){
			.kind = MISCHIEF_VANISH, .for_s = 0.2, .dongle = -1 });
		if (!duty_says(d, "source is back", back + 1, LATEST_S) || !duty_listens(d, 50000, LATEST_S))
			fail_msg("%s: it never came back", d->doing);
	}
	assert_int_equal(duty_end(d), 0);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test_setup_teardown(each_is_survived, duty_create, duty_destroy),
		cmocka_unit_test_setup_teardown(no_refused_write_is_passed_over, duty_create,
						duty_destroy),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
