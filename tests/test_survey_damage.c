#include "tests/test.h"

#include <sched.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/mount.h>
#include <sys/resource.h>
#include <sys/wait.h>
#include <unistd.h>

#include <sqlite3.h>

#include "store/merge.h"
#include "store/rescue.h"
#include "tests/fault_check.h"
#include "tests/survey_place.h"

/* ---- files that are no survey of ours ---- */

static void no_surveys(void **state)
{
	const struct place *p = *state;
	static const char text[] = "kind = \"daemon\";\n";
	static const struct { const char *why, *bytes; size_t n; const char *says; } cases[] = {
		{ "a settings file", text, sizeof text - 1, "no survey" },
		{ "zeroes", "\0\0\0\0\0\0\0\0", 8, "no survey" },
		{ "half a header", "SQLite format 3", 15, "no survey" },
	};

	for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
		struct fault why = { 0 };
		struct run_row run = world_run();
		size_t n;

		put_file(p->path, cases[i].bytes, cases[i].n);
		expect_refusal(survey_read(p->path, &why), &why, FAULT_INPUT, cases[i].says, cases[i].why);
		why.text[0] = '\0';
		expect_refusal(survey_write(p->path, &run, world_bands, WORLD_BANDS, &why), &why,
			       FAULT_INPUT, cases[i].says, cases[i].why);
		char *after = get_file(p->path, &n);
		assert_int_equal(n, cases[i].n);
		assert_memory_equal(after, cases[i].bytes, n);
		free(after);
		assert_int_equal(files_in(p), 1);
	}
}

static void a_database_of_someone_else(void **state)
{
	const struct place *p = *state;
	struct fault why = { 0 };
	struct run_row run = world_run();
	char out[64];

	ask(p->path, "CREATE TABLE letters(a)", out);
	expect_refusal(survey_read(p->path, &why), &why, FAULT_INPUT, "no survey", "another's tables");
	expect_refusal(survey_write(p->path, &run, world_bands, WORLD_BANDS, &why), &why, FAULT_INPUT,
		       "no survey", "another's tables");
	assert_int_equal(files_in(p), 1);
}

static void a_newer_version(void **state)
{
	const struct place *p = *state;
	struct fault why = { 0 };
	struct run_row run = world_run();
	char out[64];

	write_survey(p->path, 1);
	ask(p->path, "PRAGMA user_version=99", out);
	expect_refusal(survey_read(p->path, &why), &why, FAULT_INPUT, "version 99", "newer, read");
	expect_refusal(survey_write(p->path, &run, world_bands, WORLD_BANDS, &why), &why, FAULT_INPUT,
		       "version 99", "newer, written");
	ask(p->path, "SELECT count(*) FROM run", out);
	assert_string_equal(out, "1");
}

static void other_bands(void **state)
{
	const struct place *p = *state;
	struct band other[WORLD_BANDS + 1];
	struct run_row run = world_run();
	struct fault why = { 0 };
	size_t n, m;

	write_survey(p->path, 1);
	char *before = get_file(p->path, &n);
	static const struct { const char *why; int n; int what; } cases[] = {
		{ "one more band", 3, 0 }, { "one less", 1, 0 }, { "another id", 2, 1 },
		{ "another first centre, by a third of a hertz", 2, 2 }, { "another step", 2, 3 },
		{ "one channel more", 2, 4 }, { "another mode", 2, 5 }, { "another width", 2, 6 },
	};
	for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
		memcpy(other, world_bands, sizeof world_bands);
		other[2] = world_bands[1];
		strcpy(other[2].id, "third");
		strcpy(other[1].id, cases[i].what == 1 ? "other" : "works");
		other[1].raster.first.thirds += cases[i].what == 2;
		other[1].raster.step.thirds += cases[i].what == 3;
		other[1].raster.count += cases[i].what == 4;
		other[1].mode = cases[i].what == 5 ? MODE_AM : MODE_NFM;
		other[1].width_hz += cases[i].what == 6;
		expect_refusal(survey_write(p->path, &run, other, cases[i].n, &why), &why, FAULT_INPUT,
			       "bands", cases[i].why);
	}
	char *after = get_file(p->path, &m);
	assert_int_equal(n, m);
	assert_memory_equal(before, after, n);
	free(before);
	free(after);
	assert_int_equal(files_in(p), 1);
}

static void places_where_none_can_be(void **state)
{
	const struct place *p = *state;
	struct fault why = { 0 };
	struct run_row run = world_run();
	char nowhere[WORLD_ROOM + 32];

	expect_refusal(survey_write(p->folder, &run, world_bands, WORLD_BANDS, &why), &why, FAULT_INPUT,
		       "folder", "a folder, written");
	expect_refusal(survey_read(p->folder, &why), &why, FAULT_INPUT, "folder", "a folder, read");
	expect_refusal(survey_read(p->path, &why), &why, FAULT_INPUT, "No such file", "no file");
	snprintf(nowhere, sizeof nowhere, "%s/none/night.survey", p->folder);
	expect_refusal(survey_write(nowhere, &run, world_bands, WORLD_BANDS, &why), &why, FAULT_INPUT,
		       "No such file", "no folder");
	/* A folder that even root can't write. */
	expect_refusal(survey_write("/proc/self/night.survey", &run, world_bands, WORLD_BANDS, &why),
		       &why, FAULT_INPUT, "can't be made", "a folder nobody can write");
	expect_refusal(survey_read("/dev/null", &why), &why, FAULT_INPUT, "ordinary file", "a device");
	assert_int_equal(files_in(p), 0);
	put_file(p->path, "", 0);
	expect_refusal(survey_read(p->path, &why), &why, FAULT_INPUT, "empty", "an empty file, read");
	write_survey(p->path, 1);       /* what a death while creating leaves */
	assert_int_equal(see_all(p->path).n_run, 1);
}

/* In a process of its own: refused as what may pass, with a survey there and without; its exit code. */
static int refused_for_now(const struct place *p, const char *says)
{
	static const char *const ends[] = { "night.survey", "new.survey" };
	struct run_row run = world_run();

	for (int i = 0; i < 2; i++) {
		char path[WORLD_ROOM + 32];
		struct fault why = { 0 };
		snprintf(path, sizeof path, "%s/%s", p->folder, ends[i]);
		if (survey_write(path, &run, world_bands, WORLD_BANDS, &why))
			return 1 + i;
		if (why.kind != FAULT_RETRY || !strstr(why.text, i ? says : "") || !is_one_line(why.text)) {
			fprintf(stderr, "%s: (%d) %s\n", ends[i], why.kind, why.text);
			return 3 + i;
		}
	}
	return 0;
}

static int too_many_files(const struct place *p)
{
	const struct rlimit none = { 3, 3 };

	setrlimit(RLIMIT_NOFILE, &none);
	return refused_for_now(p, "can't be made: Too many open files");
}

#define NOT_HERE 77

/* As a disk is after an error, or at boot. Mounts of its own want root, or a kernel that lets anybody have them. */
static int read_only_disk(const struct place *p)
{
	if (unshare(geteuid() == 0 ? CLONE_NEWNS : CLONE_NEWNS | CLONE_NEWUSER) < 0 ||
	    mount(NULL, "/", NULL, MS_REC | MS_PRIVATE, NULL) < 0 ||
	    mount(p->folder, p->folder, NULL, MS_BIND, NULL) < 0 ||
	    mount(NULL, p->folder, NULL, MS_BIND | MS_REMOUNT | MS_RDONLY, NULL) < 0)
		return NOT_HERE;
	return refused_for_now(p, "can't be made: Read-only file system");
}

static void what_may_pass_is_no_mistake(void **state)
{
	static int (*const worlds[])(const struct place *p) = { too_many_files, read_only_disk };
	const struct place *p = *state;

	write_survey(p->path, 1);
	for (size_t i = 0; i < sizeof worlds / sizeof worlds[0]; i++) {
		int status;
		pid_t pid = fork();
		if (pid == 0)
			_exit(worlds[i](p));
		assert_int_equal(waitpid(pid, &status, 0), pid);
		if (status == NOT_HERE << 8)
			print_message("no mounts can be had here: not tried\n");
		else
			assert_int_equal(status, 0);
	}
	assert_int_equal(see_all(p->path).n_run, 1);
}

/* ---- damage ---- */

/* Every length and many kinds of damage: an answer or one line, and never a fall. */
static void broken_files(void **state)
{
	const struct place *p = *state;
	struct fault why;
	struct world_seen seen;
	unsigned seed = 20260;
	size_t n;
	int refused = 0;

	write_survey(p->path, 6);
	char *whole = get_file(p->path, &n), *bytes = malloc(n);
	assert_non_null(bytes);
	for (int round = 0; round < 300; round++) {
		size_t keep = n;
		memcpy(bytes, whole, n);
		if (round < 60)
			keep = n * (size_t)round / 60;
		else
			for (int i = 0; i < 1 + round % 40; i++)
				bytes[(size_t)rand_r(&seed) % n] = (char)rand_r(&seed);
		put_file(p->path, bytes, keep);
		why = (struct fault){ 0 };
		struct survey *s = survey_read(p->path, &why);
		if (!s || world_see(s, &seen, &why) < 0) {
			refused++;
			if (why.kind == FAULT_NONE || !is_one_line(why.text))
				fail_msg("seed 20260, round %d: said (%d) \"%s\"", round, why.kind, why.text);
		}
		survey_close(s);
	}
	if (refused < 60)
		fail_msg("seed 20260: only %d of 300 were refused", refused);
	free(whole);
	free(bytes);
}

/* Rows that a program of ours never writes, but a damaged file may hold. */
static void impossible_rows(void **state)
{
	static const struct { const char *why, *sql; } cases[] = {
		{ "a channel past its band", "UPDATE transmission SET channel=40" },
		{ "a negative channel", "UPDATE activity SET channel=-1" },
		{ "a band that is not there", "UPDATE artefact SET band=2" },
		{ "coverage past its band", "UPDATE coverage SET first=2279" },
		{ "a channel of 33 bits", "UPDATE artefact SET channel=4294967296" },
		{ "an unknown kind", "UPDATE transmission SET kind='song'" },
		{ "an unknown mode", "UPDATE band SET mode='song'" },
		{ "half a histogram", "UPDATE activity SET level=x'0180'" },
		{ "a band of no channels", "UPDATE band SET channels=0" },
		{ "a band missing", "DELETE FROM band WHERE band=0" },
	};
	const struct place *p = *state;
	struct world_seen seen;

	for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
		struct fault why = { 0 };
		sqlite3 *db;

		empty_place(p);
		write_survey(p->path, 1);
		assert_int_equal(sqlite3_open(p->path, &db), SQLITE_OK);
		sqlite3_exec(db, "PRAGMA ignore_check_constraints=1", NULL, NULL, NULL);
		if (sqlite3_exec(db, cases[i].sql, NULL, NULL, NULL) != SQLITE_OK)
			fail_msg("%s: %s", cases[i].why, sqlite3_errmsg(db));
		sqlite3_close(db);
		struct survey *s = survey_read(p->path, &why);
		int result = s ? world_see(s, &seen, &why) : -1;
		survey_close(s);
		if (result == 0 || why.kind != FAULT_FATAL || !strstr(why.text, "damaged"))
			fail_msg("%s: said (%d) \"%s\"", cases[i].why, why.kind, why.text);
	}
}

static void unheard(void *self, const char *line)
{
	(void)self;
	(void)line;
}

/* A strip that no picture could be made of is told by file and row, not passed on to a merged survey; what a rescue
 * leaves can be merged. */
static void a_strip_that_holds_nothing(void **state)
{
	static const char *const harms[] = {
		"UPDATE strip SET packed=substr(packed, 1, 5)", "UPDATE strip SET packed=x''", "UPDATE strip SET cells=2",
		"UPDATE strip SET cells=2000000000", "UPDATE strip SET cell_us=90000000000",
	};
	const struct place *p = *state;
	char saved[WORLD_ROOM], out[WORLD_ROOM], none[64], *bad = (char *)p->path, *good = saved;
	struct merge_sum sum;

	snprintf(saved, sizeof saved, "%s/saved.survey", p->folder);
	snprintf(out, sizeof out, "%s/both.survey", p->folder);
	for (size_t i = 0; i < sizeof harms / sizeof harms[0]; i++) {
		struct rescue_sum lost;
		struct fault why = { 0 };
		empty_place(p);
		write_survey(bad, 1);
		ask(bad, harms[i], none);
		if (survey_merge(out, &bad, 1, NULL, NULL, &sum, &why) == 0)
			fail_msg("%s: passed on", harms[i]);
		check_fault(harms[i], &why, FAULT_FATAL, "night.survey: the strip of band works from "
			    "1970-01-01T06:00:00Z on, of run 1, can't be read: it is damaged");
		assert_int_equal(files_in(p), 1);
		assert_int_equal(survey_rescue(bad, saved, unheard, NULL, &lost, &why), 0);
		assert_int_equal(survey_merge(out, &good, 1, NULL, NULL, &sum, &why), 0);
		assert_true(see_all(out).n_strip == 0 && see_all(out).n_transmission == 1);
	}
}

static void rows_are_refused_outside_a_transaction(void **state)
{
	const struct place *p = *state;
	struct fault why = { 0 };
	struct run_row run = world_run();
	struct survey *s = must_write(p->path, &run);
	struct world_rows rows = world_rows(run.id, 0);

	assert_int_equal(survey_add_incident(s, &rows.incident, &why), -1);
	assert_int_equal(why.kind, FAULT_FATAL);
	survey_rollback(s);             /* harmless when nothing is open */
	assert_int_equal(survey_begin(s, &why), 0);
	rows.transmission.channel = 40;
	assert_int_equal(survey_add_transmission(s, &rows.transmission, &why), -1);
	rows.incident.run = run.id + 1;
	assert_int_equal(survey_add_incident(s, &rows.incident, &why), -1);
	survey_rollback(s);
	survey_close(s);
	survey_close(NULL);
}

#define TEST(name) cmocka_unit_test_setup_teardown(name, make_place, remove_place)

int main(void)
{
	const struct CMUnitTest tests[] = {
		TEST(no_surveys), TEST(a_database_of_someone_else), TEST(a_newer_version),
		TEST(other_bands), TEST(places_where_none_can_be), TEST(broken_files),
		TEST(what_may_pass_is_no_mistake), TEST(a_strip_that_holds_nothing),
		TEST(impossible_rows), TEST(rows_are_refused_outside_a_transaction),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
