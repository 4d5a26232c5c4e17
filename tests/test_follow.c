#include "tests/test.h"

#include <poll.h>
#include <pty.h>
#include <signal.h>
#include <stdlib.h>
#include <string.h>
#include <sys/ioctl.h>
#include <sys/wait.h>
#include <unistd.h>

#include "tests/survey_place.h"

/* `bandcensus status --follow` as a person has it, on a terminal, and into a file, while another
 * process (this one) writes the survey. BANDCENSUS names the program. */

#define ROOM        400000
#define PATIENCE_MS 60000       /* for a test's end; nothing is judged by it */

struct watcher {
	pid_t pid;
	int   fd;
	char  text[ROOM];
	size_t n;
};

static void start(struct watcher *w, const char *path, bool terminal, int columns, int rows)
{
	struct winsize size = { .ws_col = (unsigned short)columns, .ws_row = (unsigned short)rows };
	int both[2];

	if (!terminal)
		assert_int_equal(pipe(both), 0);
	w->pid = terminal ? forkpty(&w->fd, NULL, NULL, &size) : fork();
	assert_true(w->pid >= 0);
	if (w->pid == 0) {
		if (!terminal)
			dup2(both[1], STDOUT_FILENO);
		execl(getenv("BANDCENSUS"), "bandcensus", "status", "--follow", path, "--every",
		      "1 s", NULL);
		_exit(99);
	}
	if (!terminal) {
		close(both[1]);
		w->fd = both[0];
	}
}

/* Reads until the words are there, from so far on; NULL: to the end. */
static const char *hear(struct watcher *w, size_t from, const char *words)
{
	const char *at;

	while (!(at = words ? strstr(w->text + (from < w->n ? from : w->n), words) : NULL)) {
		struct pollfd p = { .fd = w->fd, .events = POLLIN };
		if (poll(&p, 1, PATIENCE_MS) <= 0)
			fail_msg("no \"%s\" in: %s", words ? words : "end", w->text);
		ssize_t k = read(w->fd, w->text + w->n, ROOM - 1 - w->n);
		if (k <= 0)             /* a terminal that is gone is EIO */
			break;
		w->n += (size_t)k;
		w->text[w->n] = '\0';
	}
	if (words && !at)
		fail_msg("no \"%s\" in: %s", words, w->text);
	return at;
}

static int wait_for(struct watcher *w)
{
	int status;

	hear(w, 0, NULL);
	close(w->fd);
	assert_int_equal(waitpid(w->pid, &status, 0), w->pid);
	return WIFEXITED(status) ? WEXITSTATUS(status) : -WTERMSIG(status);
}

static int times(const char *text, const char *words)
{
	int n = 0;

	for (; (text = strstr(text, words)); text += strlen(words))
		n++;
	return n;
}

/* The widest line of what was drawn since then, without what moves the cursor. */
static int widest(const char *from)
{
	int most = 0, column = 0;

	for (; *from; from++) {
		if (*from == '\033') {
			from += 2;
			continue;
		}
		column = *from == '\n' || *from == '\r' ? 0 : column + 1;
		most = column > most ? column : most;
	}
	return most;
}

static void on_a_terminal(void **state)
{
	const struct place *p = *state;
	struct run_row run = world_run();
	struct survey *s = must_write(p->path, &run);
	struct watcher *w = calloc(1, sizeof *w);
	struct winsize small = { .ws_col = 30, .ws_row = 6 };
	const struct incident_row news = {
	    .run = run.id, .at_us = run.start_us, .what = "overload", .text = "too much"};
	struct fault why;

	assert_non_null(w);
	start(w, p->path, true, 80, 24);
	hear(w, 0, "\033[?1049h");
	hear(w, 0, "incidents of this run: none");
	assert_in_range(widest(w->text), 40, 80);
	/* What is committed meanwhile is shown. */
	size_t before = w->n;
	assert_int_equal(survey_begin(s, &why), 0);
	assert_int_equal(survey_add_incident(s, &news, &why), 0);
	assert_int_equal(survey_commit(s, &why), 0);
	hear(w, before, "overload: too much");
	/* A smaller window at once. */
	before = w->n;
	assert_int_equal(ioctl(w->fd, TIOCSWINSZ, &small), 0);
	before = (size_t)(hear(w, before, "\033[H") - w->text);
	hear(w, before, "\033[J");
	/* The one before may have been half way. */
	before = (size_t)(hear(w, before + 1, "\033[H") - w->text);
	hear(w, before, "\033[J");
	assert_in_range(widest(w->text + before), 20, 30);
	/* Ctrl-C gives the screen back and leaves the last state there. */
	before = w->n;
	assert_int_equal(write(w->fd, "\003", 1), 1);
	assert_int_equal(wait_for(w), 0);
	const char *back = strstr(w->text + before, "\033[?25h\033[?1049l");
	assert_non_null(back);
	assert_non_null(strstr(back, "incidents of this run:"));
	assert_int_equal(times(w->text, "\033[?1049h"), 1);
	assert_int_equal(times(w->text, "\033[3"), 0);          /* no colours at all */
	survey_close(s);
	free(w);
}

static void into_a_file(void **state)
{
	const struct place *p = *state;
	struct run_row run = world_run();
	struct survey *s = must_write(p->path, &run);
	struct watcher *w = calloc(1, sizeof *w);
	struct fault why;

	assert_non_null(w);
	start(w, p->path, false, 0, 0);
	hear(w, 0, "incidents of this run: none");
	hear(w, w->n, "incidents of this run: none");           /* a second block */
	assert_null(strchr(w->text, '\033'));
	assert_null(strstr(w->text, ", ended "));
	assert_int_equal(survey_begin(s, &why), 0);
	assert_int_equal(survey_end_run(s, run.id, run.start_us + 1, &why), 0);
	assert_int_equal(survey_commit(s, &why), 0);
	survey_close(s);
	/* That was the end, and it stops by itself. */
	assert_int_equal(wait_for(w), 0);
	assert_int_equal(times(w->text, ", ended "), 1);
	free(w);
}

/* As a service manager or a script ends it. */
static void ended_by_a_signal(void **state)
{
	const struct place *p = *state;
	struct run_row run = world_run();
	struct survey *s = must_write(p->path, &run);
	struct watcher *w = calloc(1, sizeof *w);

	assert_non_null(w);
	start(w, p->path, false, 0, 0);
	hear(w, 0, "incidents of this run");
	assert_int_equal(kill(w->pid, SIGTERM), 0);
	assert_int_equal(wait_for(w), 0);
	survey_close(s);
	free(w);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test_setup_teardown(on_a_terminal, make_place, remove_place),
		cmocka_unit_test_setup_teardown(into_a_file, make_place, remove_place),
		cmocka_unit_test_setup_teardown(ended_by_a_signal, make_place, remove_place),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
