#include "tests/dongle/clock.h"

#include <errno.h>
#include <fcntl.h>
#include <pthread.h>
#include <signal.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/mman.h>
#include <sys/stat.h>
#include <sys/syscall.h>
#include <time.h>
#include <unistd.h>

#include "tests/dongle/asleep.h"

#define QUIET_US       20000    /* of real time without a transfer before a leap   */
#define WORK_MOST_US   20000000 /* ... on a control transfer under way: it may make a town */
#define DYING_MOST_US  5000000  /* ... on a process that was killed                */
#define START_US       5000000 /* who has not waited by then never will: a shell, say */
#define STUCK_US       1000000  /* a stream that gets nowhere for so long is not waited for */
#define NAP_US         1000
#define QUIET_MOST_US  1000000  /* a leap waits no longer than this                */
#define PIECE_US       5000    /* the shared clock is looked at so often           */
#define BACKLOG_US     300000   /* a stream so far behind is not done with the last leap */

/* The C library's functions know no context: what ours work on is here. */
static struct here {
	struct state *_Atomic state;    /* read by threads that a sanitizer has, too */
	char            path[256];
	char            town[40];       /* see clock_town() */
	pthread_mutex_t lock;
} here = { .lock = PTHREAD_MUTEX_INITIALIZER };

static _Thread_local int64_t shown_us;

/* ---- taking part ---- */

static struct state *attach(const char *path)
{
	char name[300];
	struct scenario s;
	struct fault why;
	struct stat text;

	snprintf(name, sizeof name, "%s.state", path);
	struct state *state = state_map(name);
	if (state || stat(path, &text) < 0)
		return state;
	if (scenario_read(path, &s, &why) < 0 || !(state = state_create(name, &s, &why))) {
		fprintf(stderr, "emulated dongle: %s\n", why.text);
		abort();
	}
	return state;
}

/* The town's settings as they are now, under a name of this process's own: one that walls itself in later
 * can't open their file any more. Without, "". */
static void copy_town(const struct state *s)
{
	char bytes[65536];
	int from = *s->scenario.town ? open(s->scenario.town, O_RDONLY | O_CLOEXEC) : -1;
	int to = from < 0 ? -1 : memfd_create("town", MFD_CLOEXEC);
	ssize_t n;

	here.town[0] = '\0';
	while (to >= 0 && (n = read(from, bytes, sizeof bytes)) > 0)
		if (write(to, bytes, (size_t)n) != n)
			break;
	if (to >= 0)
		snprintf(here.town, sizeof here.town, "/proc/self/fd/%d", to);
	if (from >= 0)
		close(from);
}

const char *clock_town(void)
{
	return here.town;
}

struct state *clock_state(void)
{
	return here.state;
}

struct state *clock_join(void)
{
	const char *path = getenv("DONGLE_SCENARIO");

	if (!path || !*path)
		return here.state;
	pthread_mutex_lock(&here.lock);
	if (strcmp(path, here.path) != 0) {
		here.state = attach(path);
		snprintf(here.path, sizeof here.path, "%s", here.state ? path : "");
		if (here.state)
			copy_town(here.state);
	}
	pthread_mutex_unlock(&here.lock);
	return here.state;
}

/* A process counts as starting from here on until it first waits. */
__attribute__((constructor)) static void start(void)
{
	struct state *s = clock_join();

	for (int i = 0; s && i < STARTING_MOST; i++) {
		int32_t nobody = 0;
		if (atomic_compare_exchange_strong(&s->starting[i], &nobody, (int32_t)getpid())) {
			s->started_us[i] = state_real_us();
			return;
		}
	}
}

void clock_settled(void)
{
	int32_t me = (int32_t)getpid();

	for (int i = 0; here.state && i < STARTING_MOST; i++)
		if (here.state->starting[i] == me)
			here.state->starting[i] = 0;
}

void clock_busy(void)
{
	if (here.state)
		here.state->busy_real_us = state_real_us();
}

/* ---- the clock itself ---- */

void clock_show_us(int64_t us)
{
	shown_us = us;
}

int64_t clock_shown_us(const struct state *s)
{
	int64_t now = state_now_us(s);

	return shown_us && shown_us < now ? shown_us : now;
}

void clock_sleep_real_us(int64_t us)
{
	struct timespec t = { (time_t)(us / 1000000), (long)(us % 1000000 * 1000) };
	syscall(SYS_clock_nanosleep, CLOCK_MONOTONIC, 0, &t, NULL);
}

int64_t clock_real_us(const struct state *s, int64_t shared_us)
{
	return (int64_t)((double)shared_us / s->scenario.speed) + 1;
}

/* The process noted there; 0: none, or it died. */
static int32_t alive(_Atomic int32_t *at)
{
	int32_t pid = *at;

	if (pid && kill(pid, 0) < 0 && errno == ESRCH) {
		atomic_compare_exchange_strong(at, &pid, 0);
		return 0;
	}
	return pid;
}

static bool all_up(struct state *s)
{
	for (int i = 0; i < STARTING_MOST; i++)
		if (alive(&s->starting[i]) && state_real_us() - s->started_us[i] < START_US)
			return false;
	return true;
}

static bool one_works(struct state *s)
{
	for (int i = 0; i < s->scenario.n_dongles; i++)
		if (alive(&s->dongles[i].working))
			return true;
	return false;
}

/* Text of a file under /proc/PID; "" when it is gone. */
static const char *told(int32_t pid, const char *file, char out[4096])
{
	char path[64];

	snprintf(path, sizeof path, "/proc/%d/%s", pid, file);
	FILE *from = fopen(path, "r");
	size_t n = from ? fread(out, 1, 4095, from) : 0;
	if (from)
		fclose(from);
	out[n] = '\0';
	return out;
}

/* Killed, and not yet done with it: on a busy machine that takes a while, in which no emulated
 * hours may go by. Who waits to be buried has died. proc(5): state, and flags seven fields on. */
static bool dying(int32_t pid)
{
	char text[4096], state = 'Z';
	unsigned flags = 0;
	unsigned long long pending = 0;
	const char *at = strrchr(told(pid, "stat", text), ')');

	if (!at || sscanf(at, ") %c %*d %*d %*d %*d %*d %u", &state, &flags) != 2 || state == 'Z')
		return false;
	at = strstr(told(pid, "status", text), "\nShdPnd:");
	if (at)
		sscanf(at, "\nShdPnd: %llx", &pending);
	return (flags & 4) || (pending >> (SIGKILL - 1) & 1);
}

static bool one_dies(struct state *s)
{
	for (int i = 0; i < s->scenario.n_dongles; i++) {
		int32_t owner = alive(&s->dongles[i].owner);
		if (owner && dying(owner))
			return true;
	}
	return false;
}

static bool all_served(const struct state *s)
{
	for (int i = 0; i < s->scenario.n_dongles; i++) {
		const struct device_state *d = &s->dongles[i];
		if (d->owner && d->in_flight > 0 && d->running &&
		    state_now_us(s) - d->served_us > BACKLOG_US)
			return false;
	}
	return true;
}

static int64_t all_handed_out(const struct state *s)
{
	int64_t sum = 0;

	for (int i = 0; i < s->scenario.n_dongles; i++)
		sum += s->dongles[i].served_us;
	return sum;
}

/* Whoever leapt goes on when the streams have caught up: their readers would else
 * have less real time than they count on. */
static void let_catch_up(struct state *s)
{
	int64_t last = all_handed_out(s), since = state_real_us();

	while (!all_served(s) && state_real_us() - since < STUCK_US) {
		asleep_note(s);
		clock_sleep_real_us(NAP_US);
		if (all_handed_out(s) != last) {
			last = all_handed_out(s);
			since = state_real_us();
		}
	}
}

/* Whether a wait that began then may end at once. */
static bool may_leap(struct state *s, const struct wait *w)
{
	int64_t real = state_real_us(), waited = real - w->began_real_us;

	if (!s->scenario.leaps || w->grace_us < 0 || waited < w->grace_us)
		return false;
	if (one_works(s))
		return waited > WORK_MOST_US;
	if (one_dies(s))
		return waited > DYING_MOST_US;
	if (waited > QUIET_MOST_US)
		return true;
	bool quiet = s->scenario.hastens ? asleep_others(s) : real - s->busy_real_us > QUIET_US;
	return quiet && all_up(s) && all_served(s);
}

bool clock_hasten(struct state *s, int64_t to_us)
{
	if (!s->scenario.hastens || alive(&s->leaping) || one_works(s) || !all_up(s) || !asleep_others(s))
		return false;
	state_hasten_to(s, to_us);
	return true;
}

struct wait clock_wait_of(struct state *s, int64_t until_us, int64_t grace_us)
{
	asleep_note(s);
	if (s->scenario.leaps && grace_us >= 0)
		s->leaping = (int32_t)getpid();
	return (struct wait){ until_us, state_now_us(s), state_real_us(), grace_us };
}

int64_t clock_wait_us(const struct wait *w)
{
	int64_t left = w->until_us - state_now_us(here.state);

	asleep_note(here.state);
	if (left <= 0)
		return 0;
	if (may_leap(here.state, w)) {
		state_leap_to(here.state, w->until_us);
		let_catch_up(here.state);
		return 0;
	}
	left = clock_real_us(here.state, left);
	return left < PIECE_US ? left : PIECE_US;
}

void clock_waited(const struct wait *w)
{
	int64_t now = state_now_us(here.state), end = now < w->until_us ? now : w->until_us;
	int32_t me = (int32_t)getpid();

	if (w->grace_us >= 0)
		atomic_compare_exchange_strong(&here.state->leaping, &me, 0);
	if (shown_us && end > w->began_us)
		shown_us += end - w->began_us;
}
