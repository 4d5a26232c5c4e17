#include "tests/test.h"

#include <dirent.h>
#include <signal.h>
#include <stddef.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <sys/wait.h>
#include <unistd.h>

#include <sqlite3.h>

#include "store/merge.h"
#include "tests/failing_vfs.h"
#include "tests/fault_check.h"
#include "tests/survey_place.h"

/* Surveys of a place, by one letter, and what comes of merging them. */

static char *called(const struct place *p, const char *name)
{
	char *path = malloc(WORLD_ROOM);

	assert_non_null(path);
	snprintf(path, WORLD_ROOM, "%s/%s.survey", p->folder, name);
	return path;
}

struct night {
	const char *station, *source;
	int64_t     start_us;
	int         transactions;
};

/* Its bands in the order given. */
static void write_night(const char *path, const struct night *n, const struct band *bands, int n_bands)
{
	struct fault why = { 0 };
	struct run_row run = world_run();

	snprintf(run.station, sizeof run.station, "%s", n->station);
	snprintf(run.source, sizeof run.source, "%s", n->source);
	run.start_us = n->start_us;
	struct survey *s = survey_write(path, &run, bands, n_bands, &why);
	if (!s)
		fail_msg("%s", why.text);
	for (int i = 0; i < n->transactions; i++) {
		struct world_rows rows = world_rows(run.id, i);
		if (strcmp(bands[0].id, "works") == 0) {        /* the other way round */
			rows.coverage.band ^= 1;
			rows.activity.band ^= 1;
			rows.transmission.band ^= 1;
			rows.artefact.band ^= 1;
			rows.parked.band ^= 1;
			rows.strip.band ^= 1;
		}
		if (world_write(s, &rows, &why) < 0)
			fail_msg("%s", why.text);
	}
	assert_int_equal(survey_begin(s, &why), 0);
	assert_int_equal(survey_end_run(s, run.id, n->start_us + HOUR_US, &why), 0);
	assert_int_equal(survey_commit(s, &why), 0);
	survey_close(s);
}

/* Also those whose names begin with a dot. */
static int all_files(const struct place *p)
{
	DIR *d = opendir(p->folder);
	int n = -2;

	assert_non_null(d);
	while (readdir(d))
		n++;
	closedir(d);
	return n;
}

struct said {
	int  n;
	char last[1000];
};

static void hear(void *self, const char *line)
{
	struct said *s = self;

	s->n++;
	snprintf(s->last, sizeof s->last, "%s", line);
}

static const struct night roof = { "roof", "dongle 1", 5 * HOUR_US, 3 };
static const struct night loft = { "loft", "dongle 2", 4 * HOUR_US, 5 };

/* Each row once, under its own run and in its own band, though the bands lay the other
 * way round there. */
static void all_rows_go_along(void **state)
{
	struct place *p = *state;
	char *from[] = { called(p, "a"), called(p, "b") };
	const struct band turned[] = { world_bands[1], world_bands[0] };
	struct merge_sum sum;
	struct fault why = { 0 };
	struct stat is;

	write_night(from[0], &roof, world_bands, WORLD_BANDS);
	write_night(from[1], &loft, turned, WORLD_BANDS);
	if (survey_merge(p->path, from, 2, NULL, NULL, &sum, &why) < 0)
		fail_msg("%s", why.text);
	assert_int_equal(all_files(p), 3);
	assert_int_equal(stat(p->path, &is), 0);
	assert_int_equal(is.st_mode & 0777, 0600);
	struct world_seen w = see_all(p->path);
	assert_int_equal(sum.runs, 2);
	assert_int_equal(sum.sites, 2);
	assert_int_equal(sum.bands, 2);
	assert_int_equal(sum.again, 0);
	assert_int_equal(w.n_run, 2);
	assert_string_equal(w.run[0].station, "loft");          /* it began first */
	assert_true(w.run[0].end_us == 5 * HOUR_US && w.run[1].start_us == 5 * HOUR_US);
	assert_int_equal(w.n_transmission, 8);
	assert_int_equal(w.n_coverage, 2);
	assert_int_equal(w.looks, 100 + 101 + 102 + 100 + 101 + 102 + 103 + 104);
	assert_int_equal(w.n_activity, 2);
	assert_int_equal(w.level_us, 8 * (INT64_C(3600000000) + 1 + 260000) + 3 + 10);
	assert_int_equal(w.n_incident, 8);
	assert_int_equal(w.n_artefact, 8);
	assert_int_equal(w.n_setting, 4);
	assert_int_equal(w.n_parked, 2);
	assert_int_equal(w.parks, 8);
	assert_int_equal(w.n_strip, 2);
	assert_int_equal(w.strip_bytes, 24);
	/* As a single survey would have them. */
	for (int i = 0; i < w.n_coverage; i++) {
		struct coverage_row want = world_rows(w.coverage[i].run, 0).coverage;
		assert_true(w.coverage[i].band == want.band && w.coverage[i].first == want.first);
		assert_int_equal(w.coverage[i].looks, w.coverage[i].run == 1 ? 510 : 303);
	}
	for (int i = 0; i < w.n_transmission; i++) {
		struct transmission_row *got = &w.transmission[i];
		struct transmission_row want = world_rows(got->run, got->channel).transmission;
		if (memcmp(got, &want, offsetof(struct transmission_row, code) + sizeof want.code) != 0)
			fail_msg("over %d changed on its way", i);
	}
	for (int i = 0; i < w.n_artefact; i++)
		assert_int_equal(w.artefact[i].band, 0);
	assert_int_equal(w.strip[0].band, 1);
	free(from[0]);
	free(from[1]);
}

/* A copy from the middle of the night, then the whole: all of the whole, nothing twice. */
static void the_same_run_is_kept_once(void **state)
{
	struct place *p = *state;
	struct night early = roof;
	char *from[] = { called(p, "copy"), called(p, "whole"), called(p, "other") };
	struct merge_sum sum;
	struct said said = { 0 };
	struct fault why = { 0 };

	early.transactions = 1;
	write_night(from[0], &early, world_bands, WORLD_BANDS);
	write_night(from[1], &roof, world_bands, WORLD_BANDS);
	write_night(from[2], &loft, world_bands, WORLD_BANDS);
	if (survey_merge(p->path, from, 3, hear, &said, &sum, &why) < 0)
		fail_msg("%s", why.text);
	struct world_seen w = see_all(p->path);
	assert_int_equal(sum.again, 1);
	assert_int_equal(said.n, 1);
	assert_non_null(strstr(said.last, "copy.survey: its run of 1970-01-01T05:00:00Z at roof is in"));
	assert_true(is_one_line(said.last));
	assert_int_equal(w.n_run, 2);
	assert_int_equal(w.n_transmission, 3 + 5);
	assert_int_equal(w.looks, 303 + 510);
	/* And merged with itself again it is what it was. */
	char *again[] = { p->path, from[1], p->path };
	char *twice = called(p, "twice");
	if (survey_merge(twice, again, 3, NULL, NULL, &sum, &why) < 0)
		fail_msg("%s", why.text);
	assert_int_equal(sum.again, 3);
	struct world_seen v = see_all(twice);
	assert_true(v.n_run == w.n_run && v.n_transmission == w.n_transmission && v.looks == w.looks &&
		    v.level_us == w.level_us && v.parks == w.parks && v.n_incident == w.n_incident);
	for (int i = 0; i < 3; i++)
		free(from[i]);
	free(twice);
}

static void refusals_leave_nothing(void **state)
{
	struct place *p = *state;
	char *a = called(p, "a"), *b = called(p, "b"), *none = called(p, "none");
	struct band other[] = { world_bands[0], world_bands[1] };
	struct merge_sum sum;
	size_t n;

	other[1].raster.step.thirds += 1;
	write_night(a, &roof, world_bands, WORLD_BANDS);
	write_night(b, &loft, other, WORLD_BANDS);
	put_file(p->path, "mine", 4);
	const struct {
		const char *why, *out, *from[2], *says;
	} cases[] = {
		{ "a file that is there", p->path, { a, a }, "is there already" },
		{ "another raster", none, { a, b }, "its band works has other channels" },
		{ "no such survey", none, { a, "/nowhere/x.survey" }, "/nowhere/x.survey" },
		{ "no survey", none, { a, p->path }, "no survey" },
		{ "a folder that is not there", "/nowhere/x.survey", { a, a }, "can't be made" },
	};
	for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
		struct fault why = { 0 };
		char *from[] = { (char *)cases[i].from[0], (char *)cases[i].from[1] };
		int got = survey_merge(cases[i].out, from, 2, NULL, NULL, &sum, &why);
		if (got != -1 || why.kind != FAULT_INPUT || !strstr(why.text, cases[i].says) ||
		    !is_one_line(why.text))
			fail_msg("%s: said \"%s\"", cases[i].why, why.text);
		if (all_files(p) != 3)
			fail_msg("%s: left something behind", cases[i].why);
	}
	char *mine = get_file(p->path, &n);
	assert_true(n == 4 && memcmp(mine, "mine", 4) == 0);
	free(mine);
	free(a);
	free(b);
	free(none);
}

/* The disk fails at its n-th call, for every n: the new survey is whole, or not there. */
static void whole_or_not_at_all(void **state)
{
	struct place *p = *state;
	char *from[] = { called(p, "a"), called(p, "b") };
	struct merge_sum sum;
	int failed, n = 0, refused = 0;

	write_night(from[0], &roof, world_bands, WORLD_BANDS);
	write_night(from[1], &loft, world_bands, WORLD_BANDS);
	do {
		struct failing_disk disk = { .fail_at = ++n, .stay = true, .code = SQLITE_FULL };
		struct fault why = { 0 };
		assert_int_equal(failing_disk_install(&disk), 0);
		int got = survey_merge(p->path, from, 2, NULL, NULL, &sum, &why);
		failing_disk_remove(&disk);
		failed = disk.failed;
		refused += got < 0;
		if (all_files(p) != (got == 0 ? 3 : 2))
			fail_msg("call %d: %d files, said %d \"%s\"", n, all_files(p), got, why.text);
		if (got == 0 && (see_all(p->path).n_transmission != 8 || see_all(p->path).looks != 813))
			fail_msg("call %d: it is not whole", n);
		if (got == 0)
			remove(p->path);
	} while (failed);
	if (n < 20 || refused < n / 2)
		fail_msg("%d calls, %d refusals: the disk was not in the way", n, refused);
	free(from[0]);
	free(from[1]);
}

/* ---- killed ---- */

static void die(void *self, const char *line)
{
	(void)self;
	(void)line;
	raise(SIGKILL);
}

/* A merge that is killed once its draft lies there. */
static void merge_killed(const struct place *p, char *const *from)
{
	int status;
	pid_t pid = fork();

	if (pid == 0) {
		struct merge_sum sum;
		struct fault why;
		survey_merge(p->path, from, 2, die, NULL, &sum, &why);
		_exit(0);
	}
	assert_int_equal(waitpid(pid, &status, 0), pid);
	assert_true(WIFSIGNALED(status));
}

/* Nothing of it is left after the next, neither its draft nor a journal. */
static void a_dead_draft_goes(void **state)
{
	struct place *p = *state;
	char *a = called(p, "a"), *from[] = { a, a }, path[WORLD_ROOM + 32];
	struct merge_sum sum;
	struct fault why = { 0 };

	write_night(a, &roof, world_bands, WORLD_BANDS);
	merge_killed(p, from);
	assert_int_equal(all_files(p), 2);
	snprintf(path, sizeof path, "%s/.night.survey.draft", p->folder);
	assert_int_equal(access(path, F_OK), 0);
	snprintf(path, sizeof path, "%s/.night.survey.draft-journal", p->folder);
	put_file(path, "its journal", 11);
	if (survey_merge(p->path, from, 2, NULL, NULL, &sum, &why) < 0)
		fail_msg("%s", why.text);
	assert_int_equal(all_files(p), 2);
	assert_int_equal(see_all(p->path).n_transmission, 3);
	free(a);
}

/* One of another name is no concern of ours, nor one that is no file. */
static void what_is_not_ours_stays(void **state)
{
	struct place *p = *state;
	char *a = called(p, "a"), *other = called(p, "other"), *from[] = { a, a };
	char path[WORLD_ROOM + 32];
	struct merge_sum sum;
	struct fault why = { 0 };

	write_night(a, &roof, world_bands, WORLD_BANDS);
	merge_killed(p, from);
	assert_int_equal(survey_merge(other, from, 2, NULL, NULL, &sum, &why), 0);
	assert_int_equal(all_files(p), 3);
	snprintf(path, sizeof path, "%s/.night.survey.draft", p->folder);
	assert_int_equal(remove(path), 0);
	assert_int_equal(symlink(a, path), 0);
	assert_int_equal(survey_merge(p->path, from, 2, NULL, NULL, &sum, &why), -1);
	check_fault("a link", &why, FAULT_INPUT, "is in the way");
	assert_int_equal(see_all(a).n_transmission, 3);
	assert_int_equal(remove(path), 0);
	assert_int_equal(mkdir(path, 0700), 0);
	assert_int_equal(survey_merge(p->path, from, 2, NULL, NULL, &sum, &why), -1);
	check_fault("a folder", &why, FAULT_INPUT, "is in the way");
	assert_int_equal(rmdir(path), 0);
	free(a);
	free(other);
}

struct second {
	const struct place *p;
	char *const        *from;
	struct fault        why;
	int                 got;
};

static void merge_too(void *self, const char *line)
{
	struct second *s = self;
	struct merge_sum sum;

	(void)line;
	s->got = survey_merge(s->p->path, s->from, 2, NULL, NULL, &sum, &s->why);
}

/* While one is at it, a second is refused and leaves the first's draft alone. */
static void only_one_makes_it(void **state)
{
	struct place *p = *state;
	char *a = called(p, "a"), *from[] = { a, a };
	struct second second = { .p = p, .from = from };
	struct merge_sum sum;
	struct fault why = { 0 };

	write_night(a, &roof, world_bands, WORLD_BANDS);
	if (survey_merge(p->path, from, 2, merge_too, &second, &sum, &why) < 0)
		fail_msg("%s", why.text);
	assert_int_equal(second.got, -1);
	check_fault("a second one", &second.why, FAULT_INPUT, "another program is making it");
	assert_int_equal(all_files(p), 2);
	assert_int_equal(see_all(p->path).n_transmission, 3);
	free(a);
}

#define IN_PLACE(test) cmocka_unit_test_setup_teardown(test, make_place, remove_place)

int main(void)
{
	const struct CMUnitTest tests[] = {
		IN_PLACE(all_rows_go_along),
		IN_PLACE(the_same_run_is_kept_once),
		IN_PLACE(refusals_leave_nothing),
		IN_PLACE(whole_or_not_at_all),
		IN_PLACE(a_dead_draft_goes),
		IN_PLACE(what_is_not_ours_stays),
		IN_PLACE(only_one_makes_it),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
