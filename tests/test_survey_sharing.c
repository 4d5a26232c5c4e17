#include "tests/test.h"

#include <stdio.h>
#include <stdlib.h>
#include <sys/stat.h>
#include <sys/wait.h>
#include <unistd.h>

#include "tests/failing_vfs.h"
#include "tests/survey_place.h"

static int mode_of(const char *path, const char *suffix)
{
	char side[WORLD_ROOM + 8];
	struct stat st;

	snprintf(side, sizeof side, "%s%s", path, suffix);
	return stat(side, &st) == 0 ? (int)(st.st_mode & 07777) : -1;
}

static void it_is_private(void **state)
{
	const struct place *p = *state;
	struct run_row run = world_run();

	umask(0);
	struct survey *s = must_write(p->path, &run);
	assert_int_equal(mode_of(p->path, ""), 0600);
	assert_int_equal(mode_of(p->path, "-wal"), 0600);
	assert_int_equal(mode_of(p->path, "-shm"), 0600);
	survey_close(s);
	assert_int_equal(chmod(p->path, 0644), 0);
	s = must_write(p->path, &run);
	assert_int_equal(mode_of(p->path, ""), 0600);
	assert_int_equal(mode_of(p->path, "-wal"), 0600);
	survey_close(s);
	assert_int_equal(files_in(p), 1);
	umask(022);
}

static void one_writer(void **state)
{
	const struct place *p = *state;
	struct fault why = { 0 };
	struct run_row run = world_run(), second = world_run();
	struct survey *s = must_write(p->path, &run);
	struct world_rows rows = world_rows(run.id, 0);

	for (int i = 0; i < 3; i++)
		expect_refusal(survey_write(p->path, &second, world_bands, WORLD_BANDS, &why), &why,
			       FAULT_RETRY, "another program is writing", "a second writer");
	assert_int_equal(world_write(s, &rows, &why), 0);
	pid_t pid = fork();
	if (pid == 0)
		_exit(survey_write(p->path, &second, world_bands, WORLD_BANDS, &why) ? 1 : 0);
	int status;
	assert_int_equal(waitpid(pid, &status, 0), pid);
	assert_int_equal(status, 0);
	survey_close(s);
	assert_int_equal(see_all(p->path).n_run, 1);
	s = must_write(p->path, &second);
	survey_close(s);
	assert_int_equal(see_all(p->path).n_run, 2);
}

static void readers_look_on(void **state)
{
	const struct place *p = *state;
	struct fault why = { 0 };
	struct world_seen seen;
	struct run_row run = world_run();
	struct survey *s = must_write(p->path, &run);
	struct world_rows rows = world_rows(run.id, 0);

	struct survey *early = must_read(p->path);
	assert_int_equal(world_write(s, &rows, &why), 0);
	struct survey *late = must_read(p->path);
	assert_int_equal(survey_begin(s, &why), 0);
	assert_int_equal(survey_add_incident(s, &rows.incident, &why), 0);
	assert_int_equal(world_see(early, &seen, &why), 0);
	assert_int_equal(seen.n_incident, 0);   /* one moment, held */
	assert_int_equal(world_see(late, &seen, &why), 0);
	assert_int_equal(seen.n_incident, 1);
	assert_int_equal(survey_commit(s, &why), 0);
	survey_close(s);                        /* while they look */
	assert_int_equal(world_see(late, &seen, &why), 0);
	assert_int_equal(seen.n_incident, 1);
	survey_close(early);
	survey_close(late);
	assert_int_equal(see_all(p->path).n_incident, 2);
}

static void reading_changes_nothing(void **state)
{
	const struct place *p = *state;
	size_t n, m;

	write_survey(p->path, 3);
	char *before = get_file(p->path, &n);
	assert_int_equal(chmod(p->path, 0400), 0);
	assert_int_equal(chmod(p->folder, 0500), 0);
	see_all(p->path);
	assert_int_equal(files_in(p), 1);
	assert_int_equal(chmod(p->folder, 0700), 0);
	char *after = get_file(p->path, &m);
	assert_int_equal(n, m);
	assert_memory_equal(before, after, n);
	free(before);
	free(after);
}

/* A file whose writer died, copied without its log to where none can be made. */
static void a_copy_that_cannot_have_a_log(void **state)
{
	const struct place *p = *state;
	struct failing_disk disk = { .deny = "-wal" };
	char out[64];

	write_survey(p->path, 2);
	ask(p->path, "PRAGMA journal_mode=WAL", out);
	assert_string_equal(out, "wal");
	assert_int_equal(failing_disk_install(&disk), 0);
	struct world_seen seen = see_all(p->path);
	failing_disk_remove(&disk);
	assert_int_equal(seen.n_transmission, 2);
}

static void odd_names(void **state)
{
	const struct place *p = *state;
	static const char *const names[] = { "a b?mode=memory&x.survey", "100%41#.survey", ":memory:" };
	struct failing_disk disk = { .deny = "-wal" };
	char path[WORLD_ROOM + 64], out[64];
	char *old = getcwd(NULL, 0);

	assert_non_null(old);
	for (size_t i = 0; i < sizeof names / sizeof names[0]; i++) {
		snprintf(path, sizeof path, "%s/%s", p->folder, names[i]);
		write_survey(path, 1);
		assert_int_equal(see_all(path).n_transmission, 1);
		ask(path, "PRAGMA journal_mode=WAL", out);
		assert_int_equal(failing_disk_install(&disk), 0);
		assert_int_equal(see_all(path).n_transmission, 1);
		failing_disk_remove(&disk);
	}
	assert_int_equal(chdir(p->folder), 0);
	assert_int_equal(see_all(":memory:").n_transmission, 1);
	assert_int_equal(chdir(old), 0);
	free(old);
}

#define TEST(name) cmocka_unit_test_setup_teardown(name, make_place, remove_place)

int main(void)
{
	const struct CMUnitTest tests[] = {
		TEST(it_is_private), TEST(one_writer), TEST(readers_look_on),
		TEST(reading_changes_nothing), TEST(a_copy_that_cannot_have_a_log),
		TEST(odd_names),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
