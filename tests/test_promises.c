/* Whole nights of the invented town, surveyed without samples: what is promised of each set of
 * banks must be what a plain receiver hears of what was really sent. */
#include "tests/test.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>

#include "store/bandplan.h"
#include "tests/replay.h"
#include "tests/swept.h"
#include "tests/town_truth.h"
#include "tools/plan/propose.h"
#include "tools/profile.h"

#define CONFIG   SOURCE_ROOT "/config/"

static const struct {
	const char *name, *start;
	uint64_t    seed;
} runs[] = {
	{ "weeknight", "2026-02-17T20:00:00Z", 1 },
	{ "sunday",    "2026-02-21T20:00:00Z", 2 },
	{ "day",       "2026-02-18T08:00:00Z", 3 },
};

#ifdef __SANITIZE_ADDRESS__     /* ten times slower */
static const char *const receivers[] = { "400" };
#else
static const char *const receivers[] = { "400", "100", "1000" };
#endif

#define COUNT(a) (sizeof(a) / sizeof(a)[0])

/* As yet one set: by day, everyday of the receiver of 100, 78.5 promised, 83.8 true. */
#define OFF_KNOWN 1

struct scales {
	int    sets, off;
	double most;                    /* points, by which one is off */
};

static void weigh(const struct truth *t, const struct census *c, const char *run, const char *receiver,
		  struct scales *on)
{
	struct receiver r;
	struct interests wants;
	struct fault why;
	char path[200];

	snprintf(path, sizeof path, CONFIG "receiver-%s.conf", receiver);
	if (receiver_read(path, &r, &why) < 0)
		fail_msg("%s", why.text);
	assert_int_equal(interests_default(&wants), 0);
	struct suspect *s = suspect_all(c);
	struct plan *p = propose(c, s, &r, &wants);
	assert_non_null(p);
	print_message("%s, receiver of %s: overs heard, promised and true; exchanges met; overs in all\n", run, receiver);
	for (int i = 0; i < p->sets; i++) {
		const struct bankset *set = &p->set[i];
		struct replayed got = { 0 };
		swept_listen(t, p, &r, set->banks, 6, &got, NULL);
		double heard = 100.0 * got.heard / fmax(got.overs, 1), said = 100 * set->heard;
		bool off = !(fabs(said - heard) <= replay_slack(&got));
		print_message("  %-28s %5.1f %5.1f %s  %5.1f %5.1f  %5d %5d\n", set->name, said, heard, off ? "*" : " ",
			      100 * set->met, 100.0 * got.met / fmax(got.exchanges, 1), set->overs, got.overs);
		on->sets++;
		on->most = fmax(on->most, fabs(said - heard) - replay_slack(&got) + PROMISE_POINTS);
		on->off += off;
	}
	plan_destroy(p);
	free(s);
	interests_free(&wants);
}

static void whole_nights(void **state)
{
	struct bandplan plan;
	struct scales on = { 0 };
	struct fault why;

	(void)state;
	if (bandplan_read(CONFIG "bands-harlow-ferry.conf", &plan, &why) < 0)
		fail_msg("%s", why.text);
	for (size_t i = 0; i < COUNT(runs); i++) {
		const struct sweeping usual = sweeping_usual();
		struct truth *t = town_truth(CONFIG "harlow-ferry.conf", runs[i].start, runs[i].seed);
		struct census *c = swept_census(t, plan.bands, plan.n_bands, &usual);
		for (size_t k = 0; k < COUNT(receivers); k++)
			weigh(t, c, runs[i].name, receivers[k], &on);
		truth_free(t);
		census_destroy(c);
	}
	bandplan_free(&plan);
	if (on.sets < 8 || on.off > OFF_KNOWN || on.most > 7)
		fail_msg("of %d sets %d come true otherwise, by more than %g points (seeds 1 to 3)", on.sets, on.off,
			 PROMISE_POINTS);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(whole_nights),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
