#include "tests/test.h"

#include <errno.h>
#include <signal.h>
#include <stdlib.h>
#include <string.h>
#include <sys/wait.h>
#include <unistd.h>

#include <sqlite3.h>

#include "tests/failing_vfs.h"
#include "tests/fault_check.h"
#include "tests/survey_place.h"

/* ---- a disk that fails ---- */

struct ledger {
	int refusals;
	int transactions;               /* that were told to be kept */
	int runs;
	int unsure;                     /* starts that were refused */
};

#define TRIES 4

/* A writer that keeps its rows until they are kept, on a disk that mends when it was refused. */
static void write_with_patience(const char *path, struct failing_disk *disk, struct ledger *l)
{
	struct fault why = { 0 };
	struct run_row run = world_run();
	struct survey *s = NULL;

	for (int i = 0; i < TRIES && !s; i++) {
		s = survey_write(path, &run, world_bands, WORLD_BANDS, &why);
		if (!s) {
			l->refusals++;
			l->unsure++;
			disk->fail_at = 0;
			if (why.kind == FAULT_NONE || !is_one_line(why.text))
				fail_msg("opening said (%d) \"%s\"", why.kind, why.text);
		}
	}
	if (!s)
		fail_msg("never opened: %s", why.text);
	l->runs++;
	for (int t = 0; t < 3; t++) {
		struct world_rows rows = world_rows(run.id, l->transactions);
		int kept = -1;
		for (int i = 0; i < TRIES && kept < 0; i++) {
			kept = world_write(s, &rows, &why);
			if (kept < 0) {
				l->refusals++;
				disk->fail_at = 0;
				if (why.kind != FAULT_RETRY)
					fail_msg("writing said (%d) \"%s\"", why.kind, why.text);
			}
		}
		if (kept < 0)
			fail_msg("never kept: %s", why.text);
		l->transactions++;
	}
	survey_close(s);
}

static void fail_at_every_call(const struct place *p, bool stay, int code)
{
	char out[64];
	int n = 0, refusals = 0, rounds = 0, failed;

	do {
		n += stay ? 3 : 1;      /* one that stays away is met by the next calls too */
		rounds++;
		struct failing_disk disk = { .fail_at = n, .stay = stay, .code = code };
		struct ledger l = { 0 };

		empty_place(p);
		assert_int_equal(failing_disk_install(&disk), 0);
		write_with_patience(p->path, &disk, &l);        /* makes it */
		write_with_patience(p->path, &disk, &l);        /* goes on with it */
		failing_disk_remove(&disk);
		failed = disk.failed;
		refusals += l.refusals;
		/* A start that was refused when all but the last sync had been done may turn
		 * out kept: a run without rows, as of one that died at once. */
		struct world_seen w = see_all(p->path);
		if (w.n_run < l.runs || w.n_run > l.runs + l.unsure || w.n_transmission != l.transactions ||
		    w.n_incident != l.transactions || w.n_artefact != l.transactions ||
		    w.looks != 2 * 300 + 0 + 1 + 2 + 3 + 4 + 5 ||
		    w.level_us != 6 * (INT64_C(3600000000) + 1 + 260000) + 0 + 1 + 2 + 3 + 4 + 5)
			fail_msg("call %d (stay %d): %d runs, %d transmissions, %lld looks", n, stay,
				 w.n_run, w.n_transmission, (long long)w.looks);
		ask(p->path, "PRAGMA integrity_check", out);
		if (strcmp(out, "ok") != 0)
			fail_msg("call %d (stay %d): %s", n, stay, out);
	} while (failed);
	/* Some failures are mended unseen, while closing; a disk that never failed proves nothing. */
	if (n < 50 || refusals < rounds / 4)
		fail_msg("%d calls, %d refusals: the disk was not in the way", n, refusals);
}

static void nothing_is_lost_or_stored_twice(void **state)
{
	fail_at_every_call(*state, false, SQLITE_FULL);
	fail_at_every_call(*state, true, SQLITE_FULL);
	fail_at_every_call(*state, true, SQLITE_IOERR_WRITE);
}

static void a_refused_survey_leaves_nothing(void **state)
{
	const struct place *p = *state;
	struct failing_disk disk = { .stay = true, .code = SQLITE_FULL };
	struct run_row run = world_run();
	struct survey *s = NULL;
	int n = 0;

	assert_int_equal(failing_disk_install(&disk), 0);
	while (!s) {
		struct fault why = { 0 };
		disk.calls = 0;
		disk.fail_at = ++n;
		s = survey_write(p->path, &run, world_bands, WORLD_BANDS, &why);
		if (!s && files_in(p) != 0)
			fail_msg("call %d: %d files stay behind", n, files_in(p));
	}
	disk.fail_at = 0;
	survey_close(s);
	failing_disk_remove(&disk);
	if (n < 20)
		fail_msg("only %d calls to make a survey", n);
}

/* SQLite says so itself only of rows: of the log's index, and of what it stretches or cuts, it says I/O error. A sync
 * that fails amid a COMMIT is one that comes without a reason. */
static void a_full_disk_is_called_full(void **state)
{
	const struct place *p = *state;
	struct failing_disk disk = { .stay = true, .code = SQLITE_FULL, .error = ENOSPC };
	struct run_row run = world_run();
	struct survey *s = NULL;
	int n = 0, full = 0, others = 0;

	assert_int_equal(failing_disk_install(&disk), 0);
	while (!s) {
		struct fault why = { 0 };
		disk.calls = 0;
		disk.fail_at = ++n;
		s = survey_write(p->path, &run, world_bands, WORLD_BANDS, &why);
		bool says = strstr(why.text, ": the disk is full, make room") != NULL;
		full += !s && why.kind == FAULT_RETRY && says;
		others += !s && why.kind == FAULT_RETRY && !says;
	}
	disk.fail_at = 0;
	survey_close(s);
	failing_disk_remove(&disk);
	if (full < 20 || others > 2)
		fail_msg("of %d calls %d were refused so, %d otherwise", n, full, others);
}

/* ---- a writer that is killed ---- */

/* Dies while rows are written: how many transactions it was told are kept goes to
 * the pipe first. */
static void die_writing(const char *path, int pipe_end)
{
	struct fault why = { 0 };
	struct run_row run = world_run();
	struct survey *s = survey_write(path, &run, world_bands, WORLD_BANDS, &why);

	for (int i = 0; s; i++) {
		struct world_rows rows = world_rows(run.id, i);
		if (world_write(s, &rows, &why) < 0 || write(pipe_end, "x", 1) != 1)
			break;
	}
	_exit(1);
}

static void killed_while_writing(void **state)
{
	const struct place *p = *state;
	unsigned seed = 4711;
	int told = 0, runs = 0;
	char out[64], byte;

	for (int round = 0; round < 8; round++) {
		int ends[2];
		assert_int_equal(pipe(ends), 0);
		pid_t pid = fork();
		if (pid == 0) {
			close(ends[0]);
			die_writing(p->path, ends[1]);
		}
		close(ends[1]);
		int until = 1 + rand_r(&seed) % 9;
		for (int i = 0; i < until; i++)
			assert_int_equal(read(ends[0], &byte, 1), 1);
		kill(pid, SIGKILL);
		waitpid(pid, NULL, 0);
		told += until;
		runs++;
		while (read(ends[0], &byte, 1) == 1)
			told++;
		close(ends[0]);

		/* One more may have been kept between the commit and the word of it. */
		struct world_seen w = see_all(p->path);
		if (w.n_run != runs || w.n_transmission < told || w.n_transmission > told + 1 ||
		    w.n_incident != w.n_transmission || w.n_artefact != w.n_transmission)
			fail_msg("seed 4711, round %d: %d runs, told %d, kept %d", round, w.n_run, told,
				 w.n_transmission);
		told = w.n_transmission;
		ask(p->path, "PRAGMA integrity_check", out);
		assert_string_equal(out, "ok");
	}
}

static void killed_before_commit(void **state)
{
	const struct place *p = *state;
	struct fault why = { 0 };
	int ends[2];
	char byte;

	assert_int_equal(pipe(ends), 0);
	pid_t pid = fork();
	if (pid == 0) {
		struct run_row run = world_run();
		struct survey *s = survey_write(p->path, &run, world_bands, WORLD_BANDS, &why);
		int rc = s ? survey_begin(s, &why) : -1;
		for (int i = 0; i < 5000 && rc == 0; i++) {
			struct world_rows rows = world_rows(run.id, i);
			rc = survey_add_transmission(s, &rows.transmission, &why);
		}
		if (rc == 0 && write(ends[1], "x", 1) == 1)
			pause();
		_exit(1);
	}
	close(ends[1]);
	assert_int_equal(read(ends[0], &byte, 1), 1);
	kill(pid, SIGKILL);
	waitpid(pid, NULL, 0);
	close(ends[0]);
	struct world_seen w = see_all(p->path);
	assert_int_equal(w.n_run, 1);
	assert_int_equal(w.n_transmission, 0);
	write_survey(p->path, 1);               /* a dead writer holds nothing */
	w = see_all(p->path);
	assert_int_equal(w.n_run, 2);
	assert_int_equal(w.n_transmission, 1);
	assert_int_equal(files_in(p), 1);
}

#define TEST(name) cmocka_unit_test_setup_teardown(name, make_place, remove_place)

int main(void)
{
	const struct CMUnitTest tests[] = {
		TEST(nothing_is_lost_or_stored_twice), TEST(a_refused_survey_leaves_nothing),
		TEST(a_full_disk_is_called_full),
		TEST(killed_while_writing), TEST(killed_before_commit),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
