#include "tools/follow.h"

#include <errno.h>
#include <poll.h>
#include <signal.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/ioctl.h>
#include <time.h>
#include <unistd.h>

#include "store/pulse.h"

#define SCREEN   65536
#define TO_FRESH "\033[?1049h\033[?25l" /* a screen of its own, no cursor: ECMA-48 and xterm */
#define BACK     "\033[?25h\033[?1049l"
#define HOME     "\033[H"
#define LINE_END "\033[K"
#define REST     "\033[J"

static volatile sig_atomic_t stop;

static void on_signal(int number)
{
	if (number != SIGWINCH)
		stop = 1;
}

/* They are let in only while it waits, so that none is missed. */
static void catch_signals(sigset_t *waiting)
{
	static const int which[] = { SIGINT, SIGTERM, SIGHUP, SIGWINCH };
	struct sigaction act = { .sa_handler = on_signal };
	sigset_t held;

	sigemptyset(&act.sa_mask);
	sigemptyset(&held);
	for (size_t i = 0; i < sizeof which / sizeof which[0]; i++) {
		sigaddset(&held, which[i]);
		sigaction(which[i], &act, NULL);
	}
	sigprocmask(SIG_BLOCK, &held, waiting);
	for (size_t i = 0; i < sizeof which / sizeof which[0]; i++)
		sigdelset(waiting, which[i]);
}

static int64_t now_us(clockid_t which)
{
	struct timespec t;

	clock_gettime(which, &t);
	return (int64_t)t.tv_sec * 1000000 + t.tv_nsec / 1000;
}

/* A moment on a screen that is resized meanwhile is cut short: it is drawn anew. */
static void wait_us(int64_t us, const sigset_t *waiting)
{
	const struct timespec left = { (time_t)(us / 1000000), (long)(us % 1000000 * 1000) };

	ppoll(NULL, 0, &left, waiting);
}

size_t follow_fit(const char *text, int columns, int rows, char *out, size_t size)
{
	int column = 0, row = 0;
	size_t n = 0;

	for (; *text && row < rows && n + 16 < size; text++) {
		bool goes_on = ((unsigned char)*text & 0xc0) == 0x80;
		if (*text == '\n') {
			row++;
			column = 0;
			n += (size_t)sprintf(out + n, row < rows ? LINE_END "\r\n" : LINE_END);
			continue;
		}
		column += !goes_on;
		if (column <= columns)
			out[n++] = *text;
	}
	return n + (size_t)sprintf(out + n, REST);
}

/* All in one piece: nothing flickers. */
static void draw(const char *text)
{
	struct winsize w = { 0 };
	char screen[SCREEN] = HOME;

	if (ioctl(STDOUT_FILENO, TIOCGWINSZ, &w) < 0 || w.ws_col == 0 || w.ws_row == 0)
		w = (struct winsize){ .ws_col = 80, .ws_row = 24 };
	size_t n = strlen(HOME);
	n += follow_fit(text, w.ws_col, w.ws_row, screen + n, sizeof screen - n);
	fwrite(screen, 1, n, stdout);
	fflush(stdout);
}

/* What is shown of it now; to be freed. NULL: no memory. */
static char *words(const struct pulse *p, bool json)
{
	char *text = NULL;
	size_t n;
	FILE *to = open_memstream(&text, &n);

	if (!to)
		return NULL;
	(json ? pulse_json : pulse_text)(to, p, now_us(CLOCK_REALTIME));
	fclose(to);
	return text;
}

static int show(const struct pulse *p, bool screen, bool json, bool first, struct fault *why)
{
	char *text = words(p, json);

	if (!text)
		return fault_set(why, FAULT_FATAL, "no memory to show it");
	if (screen)
		draw(text);
	else
		printf("%s%s", first || json ? "" : "\n", text);
	free(text);
	if (fflush(stdout) != 0 || ferror(stdout))
		return fault_set(why, FAULT_FATAL, "can't write the result: %s", strerror(errno));
	return 0;
}

/* A writer that begins or ends holds the file for a moment: what was read before still stands. */
static int look(const char *path, struct pulse *p, bool *read, uint64_t *mark, struct fault *why)
{
	struct pulse fresh;
	uint64_t now = pulse_mark(path);

	if (*read && now == *mark)
		return 0;
	if (pulse_read(path, now_us(CLOCK_REALTIME), &fresh, why) < 0)
		return *read && why->kind == FAULT_RETRY ? 0 : -1;
	*p = fresh;
	*mark = now;
	*read = true;
	return 0;
}

int follow(const char *path, int64_t every_us, bool json, struct fault *why)
{
	bool screen = isatty(STDOUT_FILENO) && !json, read = false, first = true;
	struct pulse p = { 0 };
	uint64_t mark = 0;
	int64_t due = 0;
	sigset_t waiting;
	int result = 0;

	catch_signals(&waiting);
	while (!stop && result == 0) {
		if (now_us(CLOCK_MONOTONIC) >= due || first) {
			result = look(path, &p, &read, &mark, why);
			due = now_us(CLOCK_MONOTONIC) + every_us;
		}
		if (result == 0 && screen && first)
			fputs(TO_FRESH, stdout);
		if (result == 0)
			result = show(&p, screen, json, first, why);
		first = false;
		if (p.run.end_us)
			break;
		while (result == 0 && !stop && now_us(CLOCK_MONOTONIC) < due) {
			wait_us(due - now_us(CLOCK_MONOTONIC), &waiting);
			if (screen)
				break;
		}
	}
	if (screen && read) {
		fputs(BACK, stdout);
		if (result == 0)
			result = show(&p, false, json, true, why);
	}
	return result;
}
