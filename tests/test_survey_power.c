/* The power goes at any moment. What we take for granted of SQLite, as its documents say (from
 * memory: "Atomic Commit In SQLite", "Write-Ahead Logging", PRAGMA synchronous): with a log and
 * full sync, a COMMIT that returned was synced to the log; a frame of the log counts only when its
 * sum and all sums before it are right and a commit frame follows; pages go from the log to the
 * file only after the log was synced, and the log is begun anew only after the file was. And of the
 * disk: what was synced stays, and a sector that is written keeps those of its bytes that were not.
 */
#include "tests/test.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#include "tests/fault_check.h"
#include "tests/lossy_disk.h"
#include "tests/survey_place.h"

#define ROUNDS	60 /* transactions of 25 pages and more: the log is begun anew in between */
#define STRIPS  8
#define BULK    6000

struct cutter {
	struct lossy_disk   lossy;
	struct failing_disk disk;
	struct place        left;       /* what the cut leaves */
	unsigned            seed;
	int                 one_in;     /* calls            */
	int                 runs, told; /* that were told to be kept */
	int                 cuts, begun, one_more;
	bool                closing;
};

static void write_round(struct survey *s, int64_t run, int number)
{
	struct world_rows rows = world_rows(run, number);
	struct fault why = { 0 };
	uint8_t bulk[BULK];
	unsigned seed = (unsigned)number;

	for (int i = 0; i < BULK; i++)
		bulk[i] = (uint8_t)rand_r(&seed);
	if (survey_begin(s, &why) < 0)
		fail_msg("%s", why.text);
	for (int i = 0; i < STRIPS; i++) {
		rows.strip.start_us = ((int64_t)number * STRIPS + i) * 60000000;
		rows.strip.packed = (struct bytes){ bulk, BULK };
		assert_int_equal(survey_add_strip(s, &rows.strip, &why), 0);
	}
	assert_int_equal(survey_add_coverage(s, &rows.coverage, &why), 0);
	assert_int_equal(survey_add_activity(s, &rows.activity, &why), 0);
	assert_int_equal(survey_add_transmission(s, &rows.transmission, &why), 0);
	assert_int_equal(survey_add_incident(s, &rows.incident, &why), 0);
	if (survey_commit(s, &why) < 0)
		fail_msg("%s", why.text);
}

/* All of the told transactions, and of one more all or nothing. */
static void check_rows(struct cutter *c, const struct world_seen *w)
{
	int kept = w->n_transmission, looks = 0;

	for (int i = 0; i < kept; i++)
		looks += 100 + i;
	if (w->n_run < c->runs || w->n_run > c->runs + 1 || kept < c->told || kept > c->told + 1 ||
	    w->n_incident != kept || w->n_strip != STRIPS * kept || w->looks != looks ||
	    w->strip_bytes != (int64_t)STRIPS * BULK * kept)
		fail_msg("cut %d at call %ld: of %d runs and %d transactions %d and %d are there, "
			 "incidents %d, "
			 "strips %d, looks %lld",
			 c->cuts, c->lossy.calls, c->runs, c->told, w->n_run, kept, w->n_incident,
			 w->n_strip, (long long)w->looks);
	c->one_more += kept > c->told;
}

/* And a writer goes on with it. */
static void go_on(struct cutter *c)
{
	struct run_row run = world_run();
	struct survey *s = must_write(c->left.path, &run);

	survey_close(s);
	assert_in_range(see_all(c->left.path).n_run, c->runs + 1, c->runs + 2);
	assert_int_equal(files_in(&c->left), 1);
}

static void look_at_what_is_left(struct cutter *c)
{
	struct fault why = { 0 };
	struct stat st;
	struct world_seen w;
	char out[64];

	bool there = stat(c->left.path, &st) == 0;
	struct survey *s = there ? survey_read(c->left.path, &why) : NULL;
	if (!s) {
		if (c->runs > 0 || (there && !strstr(why.text, "empty")))
			fail_msg("cut %d at call %ld: %s", c->cuts, c->lossy.calls, why.text);
		go_on(c);               /* a start that never was keeps nobody from another */
		return;
	}
	c->begun++;
	if (world_see(s, &w, &why) < 0)
		fail_msg("cut %d at call %ld: %s", c->cuts, c->lossy.calls, why.text);
	survey_close(s);
	check_rows(c, &w);
	ask(c->left.path, "PRAGMA integrity_check", out);
	if (strcmp(out, "ok") != 0)
		fail_msg("cut %d at call %ld: %s", c->cuts, c->lossy.calls, out);
	if (c->cuts % 4 == 0)
		go_on(c);
}

static void at_call(void *self)
{
	struct cutter *c = self;

	/* Where a survey begins and ends there is a journal instead of a log. */
	bool edge = c->lossy.calls <= 14 || (c->closing && rand_r(&c->seed) % 16 == 0);
	if (!edge && rand_r(&c->seed) % c->one_in != 0)
		return;
	c->disk.watcher = NULL;         /* what we do ourselves is no part of it */
	empty_place(&c->left);
	lossy_disk_cut(&c->lossy, c->left.folder, &c->seed);
	c->cuts++;
	look_at_what_is_left(c);
	c->disk.watcher = &c->lossy.watcher;
}

/* Two runs on one survey, cut short again and again. */
static void write_and_cut(const struct place *p, int one_in, unsigned seed, int least)
{
	struct cutter c = { .one_in = one_in, .seed = seed };

	print_message("seed %u, one call in %d\n", seed, one_in);
	empty_place(p);
	snprintf(c.left.folder, sizeof c.left.folder, "%.50s/left", p->folder);
	snprintf(c.left.path, sizeof c.left.path, "%s/night.survey", c.left.folder);
	assert_int_equal(mkdir(c.left.folder, 0700), 0);
	lossy_disk_begin(&c.lossy);
	c.lossy.at_call = at_call;
	c.lossy.self = &c;
	c.disk.watcher = &c.lossy.watcher;
	assert_int_equal(failing_disk_install(&c.disk), 0);
	for (int r = 0; r < 2; r++) {
		struct run_row run = world_run();
		struct survey *s = must_write(p->path, &run);
		for (c.runs++; c.told < ROUNDS * (r + 1) / 2; c.told++)
			write_round(s, run.id, c.told);
		c.closing = r == 0;
		survey_close(s);
		c.closing = false;
	}
	failing_disk_remove(&c.disk);
	lossy_disk_end(&c.lossy);
	empty_place(&c.left);
	rmdir(c.left.folder);
	print_message("%ld calls, %d cuts, %d after the survey was begun, %d with one more than "
		      "was told\n",
		      c.lossy.calls, c.cuts, c.begun, c.one_more);
	if (c.cuts < least || c.begun < least / 2)
		fail_msg("seed %u: the power was hardly ever cut", seed);
}

/* BANDCENSUS_CUTS=1 cuts at every single call: minutes. */
static void committed_rows_outlive_the_power(void **state)
{
	const char *every = getenv("BANDCENSUS_CUTS");
	int one_in = every && atoi(every) > 0 ? atoi(every) : 60;

	for (unsigned seed = 1; seed <= 3; seed++)
		write_and_cut(*state, one_in, 40 + seed, 30);
}

#define TEST(name) cmocka_unit_test_setup_teardown(name, make_place, remove_place)

int main(void)
{
	const struct CMUnitTest tests[] = { TEST(committed_rows_outlive_the_power) };

	return cmocka_run_group_tests(tests, NULL, NULL);
}
