/* The real daemon over the invented town, killed at any moment and started again on the same
 * survey.
 *
 * The town brings its own clock, so a night replays identically: one that nobody kills tells all
 * the states that a survey may be found in. They are taken from its log, which a reader keeps from
 * being begun anew: the file with the log cut after each commit. Whatever moment a run was killed
 * at, its rows must be those of one such state, of all tables at once, and no earlier one than a
 * reader saw before the kill. So what is lost is less than lies between two commits; nothing is
 * stored in part or twice. Commits come by the clock of the source: between two states no channel
 * may have had more looks than fit into the time between commits.
 *
 * All of this holds for one daemon and its settings only: built anew in the meantime it hears
 * otherwise, and what it leaves is none of the states. So both are watched. */
#include "tests/test.h"

#include <errno.h>
#include <fcntl.h>
#include <signal.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/resource.h>
#include <sys/stat.h>
#include <sys/wait.h>
#include <time.h>
#include <unistd.h>

#include <sqlite3.h>

#include "tests/survey_place.h"

#define NIGHT_S    60           /* of the town's clock                                  */
#define COMMIT_S   1
#define SWEEP_S    0.175        /* no sweep of these bands is faster: 5 hops of 35 ms   */
#define STATES     400
#define WAL_HEADER 32           /* as SQLite's "Database File Format", 4.1 (from memory) */
#define WAL_FRAME  24

#define TABLES     7
#define BUT_STRIPS 6            /* which come last: a later start may join them         */

static const char *const tables[TABLES] = { "coverage", "activity", "transmission", "incident",
					    "artefact", "parked", "strip" };

struct state {
	uint64_t sum[TABLES];
	int64_t  looks;         /* the most of any channels */
};

struct reference {
	struct state state[STATES];
	int          n;
	double       cpu_s;     /* that the daemon took for them */
	uint64_t     files;     /* which daemon that was, and what settings */
};

static const char settings[] = "kind = \"daemon\"; station = \"killed\"; band_plan = \"" SOURCE_ROOT
			       "/config/bands-harlow-ferry.conf\";\n"
			       "survey = ( \"fire\", \"police-vhf\", \"rail\", \"marine-coast\", "
			       "\"weather\", \"licence-free\" );\n"
			       "rate = \"2.4 MS/s\"; gain = \"29.7 dB\"; ppm = \"39.6 ppm\"; track "
			       "= false; dwell = \"20 ms\";\n"
			       "commit = \"1 s\"; warm_up = \"0 s\";\n";

static pid_t start_daemon(const struct place *p)
{
	char config[WORLD_ROOM], length[32];
	const char *program = getenv("BANDCENSUSD");

	assert_non_null(program);
	snprintf(config, sizeof config, "%s/night.conf", p->folder);
	snprintf(length, sizeof length, "%d s", NIGHT_S);
	put_file(config, settings, sizeof settings - 1);
	pid_t pid = fork();
	if (pid == 0) {
		int null = open("/dev/null", O_RDWR);
		dup2(null, 2);
		execl(program, program, "--config", config, "--source",
		      "town:" SOURCE_ROOT "/config/harlow-ferry.conf", "--seed", "1", "--for",
		      length, "--survey", p->path, NULL);
		_exit(127);
	}
	return pid;
}

static void add(uint64_t *sum, const void *bytes, size_t n)
{
	for (size_t i = 0; i < n; i++)
		*sum = (*sum ^ ((const uint8_t *)bytes)[i]) * UINT64_C(1099511628211);
}

/* Changes when the daemon is built anew, or what it reads is written. */
static uint64_t files_now(void)
{
	const char *const files[] = { getenv("BANDCENSUSD"),
				      SOURCE_ROOT "/config/bands-harlow-ferry.conf",
				      SOURCE_ROOT "/config/harlow-ferry.conf" };
	uint64_t sum = 0;

	for (size_t i = 0; i < sizeof files / sizeof files[0]; i++) {
		struct stat st;
		if (!files[i] || stat(files[i], &st) < 0)
			return 0;
		add(&sum, &st.st_ino, sizeof st.st_ino);
		add(&sum, &st.st_size, sizeof st.st_size);
		add(&sum, &st.st_mtim, sizeof st.st_mtim);
	}
	return sum;
}

/* ---- what a run's rows are ---- */

/* Every value of the run's rows in a table but its own number and where its settings lay. */
static void add_table(sqlite3 *db, const char *table, int64_t run, uint64_t *sum)
{
	char sql[128];
	sqlite3_stmt *q;
	int rc;

	snprintf(sql, sizeof sql, "SELECT * FROM %s WHERE run=%lld ORDER BY 1, 2, 3, 4", table,
		 (long long)run);
	if (sqlite3_prepare_v2(db, sql, -1, &q, NULL) != SQLITE_OK)
		fail_msg("%s: %s", sql, sqlite3_errmsg(db));
	while ((rc = sqlite3_step(q)) == SQLITE_ROW)
		for (int i = 0; i < sqlite3_column_count(q); i++) {
			const char *name = sqlite3_column_name(q, i);
			if (strcmp(name, "run") == 0 || strcmp(name, "id") == 0)
				continue;
			const void *value = sqlite3_column_blob(q, i);
			add(sum, "|", 1);
			add(sum, value ? value : "", (size_t)sqlite3_column_bytes(q, i));
		}
	if (rc != SQLITE_DONE)  /* not the end of the rows */
		fail_msg("%s: %s", sql, sqlite3_errmsg(db));
	sqlite3_finalize(q);
}

static int64_t number(sqlite3 *db, const char *sql, int64_t run)
{
	sqlite3_stmt *q;
	int64_t n = -1;

	if (sqlite3_prepare_v2(db, sql, -1, &q, NULL) == SQLITE_OK) {
		sqlite3_bind_int64(q, 1, run);
		n = sqlite3_step(q) == SQLITE_ROW ? sqlite3_column_int64(q, 0) : -1;
	}
	sqlite3_finalize(q);
	return n;
}

static struct state state_of(sqlite3 *db, int64_t run)
{
	struct state s = { 0 };

	for (int i = 0; i < TABLES; i++) {
		s.sum[i] = UINT64_C(14695981039346656037);
		add_table(db, tables[i], run, &s.sum[i]);
	}
	s.looks = number(db, "SELECT ifnull(max(looks), 0) FROM coverage WHERE run=?1", run);
	return s;
}

static bool same(const struct state *a, const struct state *b, int n)
{
	return memcmp(a->sum, b->sum, (size_t)n * sizeof a->sum[0]) == 0;
}

static int find(const struct reference *r, const struct state *s, int n)
{
	for (int i = r->n - 1; i >= 0; i--)
		if (same(&r->state[i], s, n))
			return i;
	return -1;
}

/* " transmission strip": in which tables the state that is nearest differs. */
static int nearest(const struct reference *r, const struct state *s, char in[80])
{
	int least = TABLES + 1, at = 0;

	for (int i = 0; i < r->n; i++) {
		int n = 0;
		for (int t = 0; t < TABLES; t++)
			n += r->state[i].sum[t] != s->sum[t];
		if (n < least) {
			least = n;
			at = i;
		}
	}
	in[0] = '\0';
	for (int t = 0; t < TABLES; t++)
		if (r->state[at].sum[t] != s->sum[t])
			strcat(strcat(in, " "), tables[t]);
	return at;
}

/* ---- the night that nobody kills ---- */

/* A reader that stays: SQLite then never begins the log anew. */
static sqlite3 *hold(const char *path)
{
	sqlite3 *db = NULL;

	for (int tries = 0; tries < 20000; tries++) {
		if (sqlite3_open_v2(path, &db, SQLITE_OPEN_READONLY, NULL) == SQLITE_OK &&
		    number(db, "SELECT count(*) FROM run WHERE id=?1", 1) == 1 &&
		    sqlite3_exec(db, "BEGIN", NULL, NULL, NULL) == SQLITE_OK &&
		    number(db, "SELECT count(*) FROM run", 0) == 1)
			return db;
		sqlite3_close(db);
		usleep(1000);
	}
	fail_msg("no survey was begun");
	return NULL;
}

static uint32_t big_endian(const uint8_t *b)
{
	return (uint32_t)b[0] << 24 | (uint32_t)b[1] << 16 | (uint32_t)b[2] << 8 | b[3];
}

static void add_state(struct reference *r, const char *copy, const char *copy_log, const char *log,
		      size_t n)
{
	sqlite3 *db;

	put_file(copy_log, log, n);
	assert_int_equal(sqlite3_open_v2(copy, &db, SQLITE_OPEN_READONLY, NULL), SQLITE_OK);
	if (number(db, "SELECT count(*) FROM sqlite_schema WHERE name='strip'", 0) == 1) {
		struct state s = state_of(db, 1);
		if (r->n == 0 || !same(&s, &r->state[r->n - 1], TABLES)) {
			assert_true(r->n < STATES);
			r->state[r->n++] = s;
		}
	}
	sqlite3_close(db);
}

/* The log, cut after each of its commits. */
static void read_states(const struct place *p, struct reference *r)
{
	char copy[WORLD_ROOM + 8], copy_log[WORLD_ROOM + 16], log_path[WORLD_ROOM + 8];
	size_t n, log_n;

	snprintf(copy, sizeof copy, "%s.copy", p->path);
	snprintf(copy_log, sizeof copy_log, "%s.copy-wal", p->path);
	snprintf(log_path, sizeof log_path, "%s-wal", p->path);
	char *file = get_file(p->path, &n), *log = get_file(log_path, &log_n);
	put_file(copy, file, n);
	uint32_t page = big_endian((uint8_t *)log + 8);
	for (size_t at = WAL_HEADER; at + WAL_FRAME + page <= log_n; at += WAL_FRAME + page) {
		const uint8_t *frame = (uint8_t *)log + at;
		if (memcmp(frame + 8, log + 16, 8) == 0 && big_endian(frame + 4) != 0)
			add_state(r, copy, copy_log, log, at + WAL_FRAME + page);
	}
	free(file);
	free(log);
}

static void undisturbed_night(const struct place *p, struct reference *r)
{
	int status;
	r->files = files_now();
	pid_t pid = start_daemon(p);
	sqlite3 *reader = hold(p->path);

	struct rusage use;
	assert_int_equal(wait4(pid, &status, 0, &use), pid);
	assert_int_equal(status, 0);
	r->cpu_s = (double)(use.ru_utime.tv_sec + use.ru_stime.tv_sec) +
		1e-6 * (double)(use.ru_utime.tv_usec + use.ru_stime.tv_usec);
	read_states(p, r);
	sqlite3_close(reader);
	empty_place(p);
	int64_t most = 0;
	for (int i = 1; i < r->n; i++)
		if (r->state[i].looks - r->state[i - 1].looks > most)
			most = r->state[i].looks - r->state[i - 1].looks;
	print_message("a night of %d s: %d states, at most %lld looks of a channel apart, %.2f s "
		      "of CPU\n",
		      NIGHT_S, r->n, (long long)most, r->cpu_s);
	assert_in_range(r->n, NIGHT_S * 3 / 4, STATES);
	assert_in_range(most, 1, (int)(COMMIT_S / SWEEP_S) + 2);
}

/* ---- and those that are killed ---- */

/* The state a run is in; -1: there is no such run yet. A later start joins the minutes of hours
 * that are over, so its strips may then lie in other rows. */
static int look(const struct place *p, const struct reference *r, int64_t run, int kill,
		int n)
{
	sqlite3 *db;
	char in[80];
	int at = -1;

	assert_int_equal(sqlite3_open_v2(p->path, &db, SQLITE_OPEN_READONLY, NULL), SQLITE_OK);
	sqlite3_busy_timeout(db, 5000);
	sqlite3_exec(db, "BEGIN", NULL, NULL, NULL);
	if (number(db, "SELECT count(*) FROM run WHERE id=?1", run) == 1) {
		struct state s = state_of(db, run);
		at = find(r, &s, n);
		int close = at < 0 ? nearest(r, &s, in) : at;
		if (at < 0 && files_now() != r->files)
			fail_msg("kill %d: the daemon or its settings are others than those of the "
				 "night that nobody killed, begin again", kill);
		if (at < 0)
			fail_msg("kill %d: run %lld holds what no commit left: %lld looks, state %d "
				 "had%s otherwise", kill, (long long)run, (long long)s.looks, close,
				 in);
	}
	sqlite3_close(db);
	return at;
}

static bool is_over(pid_t pid)
{
	siginfo_t info = { 0 };

	return waitid(P_PID, (id_t)pid, &info, WEXITED | WNOHANG | WNOWAIT) < 0 ||
	       info.si_pid == pid;
}

/* Lets it work, however busy the computer is. */
static void let_work(pid_t pid, double cpu_s)
{
	clockid_t clock;
	struct timespec used = { 0 };

	while (clock_getcpuclockid(pid, &clock) == 0 && clock_gettime(clock, &used) == 0 &&
	       (double)used.tv_sec + 1e-9 * (double)used.tv_nsec < cpu_s && !is_over(pid))
		usleep(500);
}

static void kill_once(const struct place *p, const struct reference *r, int i, unsigned *seed,
		      int *runs, int *after)
{
	char out[64];
	pid_t pid = start_daemon(p);

	double when = r->cpu_s * rand_r(seed) / RAND_MAX;
	let_work(pid, when);
	int seen = access(p->path, F_OK) == 0 ? look(p, r, *runs + 1, i, TABLES) : -1;
	let_work(pid, when + 0.1 * r->cpu_s * rand_r(seed) / RAND_MAX);
	kill(pid, SIGKILL);
	waitpid(pid, NULL, 0);
	if (access(p->path, F_OK) != 0)
		return;
	ask(p->path, "PRAGMA integrity_check", out);
	if (strcmp(out, "ok") != 0)
		fail_msg("kill %d: %s", i, out);
	int is = look(p, r, *runs + 1, i, TABLES);
	if (is < seen)
		fail_msg("kill %d: state %d was read, %d is left", i, seen, is);
	if (is >= 0)
		after[(*runs)++] = is;
}

/* BANDCENSUS_KILLS=500 kills so often, BANDCENSUS_KILL_SEED says when. */
static void killed_at_any_moment(void **state)
{
	const char *many = getenv("BANDCENSUS_KILLS"), *from = getenv("BANDCENSUS_KILL_SEED");
	int kills = many && atoi(many) > 0 ? atoi(many) : 6, runs = 0, late = 0;
	unsigned seed = from ? (unsigned)atoi(from) : 1;
	const struct place *p = *state;
	struct reference *r = calloc(1, sizeof *r);
	int *after = calloc((size_t)kills, sizeof *after);

	assert_non_null(r);
	assert_non_null(after);
	print_message("seed %u\n", seed);
	undisturbed_night(p, r);
	for (int i = 0; i < kills; i++)
		kill_once(p, r, i, &seed, &runs, after);
	for (int i = 0; i < runs; i++) {        /* nor did later ones touch those before */
		late += after[i] > 0;
		int is = look(p, r, i + 1, kills, BUT_STRIPS);
		if (is < 0 || !same(&r->state[is], &r->state[after[i]], BUT_STRIPS))
			fail_msg("run %d was in state %d, is in %d", i + 1, after[i], is);
	}
	print_message("%d kills: %d runs begun, %d of them with rows kept\n", kills, runs, late);
	assert_true(late >= kills / 4);
	free(r);
	free(after);
}

#define TEST(name) cmocka_unit_test_setup_teardown(name, make_place, remove_place)

int main(void)
{
	const struct CMUnitTest tests[] = { TEST(killed_at_any_moment) };

	return cmocka_run_group_tests(tests, NULL, NULL);
}
