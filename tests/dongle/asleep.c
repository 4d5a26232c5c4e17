#include "tests/dongle/asleep.h"

#include <fcntl.h>
#include <stdio.h>
#include <string.h>
#include <unistd.h>

static _Thread_local int32_t noted;     /* this thread's id once it is ... */
static _Thread_local int place;         /* ... and where               */

/* What this thread asks by: the kernel's files about the others. */
static _Thread_local struct asked {
	int32_t thread;
	int     fd;
} asked[THREADS_MOST];

void asleep_note(struct state *s)
{
	int32_t me = noted ? noted : (int32_t)gettid();

	for (int i = noted ? place : 0; i < THREADS_MOST; i++) {
		int32_t nobody = 0;
		if (s->threads[i] != me && !atomic_compare_exchange_strong(&s->threads[i], &nobody, me))
			continue;
		s->process_of[i] = (int32_t)getpid();
		s->waited_us[i] = state_real_us();
		noted = me;
		place = i;
		return;
	}
}

double asleep_away_s(const struct state *s, int32_t process)
{
	double most_s = 0;

	for (int i = 0; i < THREADS_MOST; i++) {
		double s_ago = (double)(state_real_us() - s->waited_us[i]) * 1e-6;
		if (s->threads[i] && s->process_of[i] == process && s_ago > most_s)
			most_s = s_ago;
	}
	return most_s;
}

/* The file that says what it does; -1: it is no more. */
static int file_about(struct state *s, int i, int32_t thread)
{
	struct asked *a = &asked[i];
	char path[64];

	if (a->thread == thread)
		return a->fd;
	if (a->thread)
		close(a->fd);
	snprintf(path, sizeof path, "/proc/%d/task/%d/stat", s->process_of[i], thread);
	a->fd = open(path, O_RDONLY | O_CLOEXEC);
	a->thread = a->fd < 0 ? 0 : thread;
	return a->fd;
}

/* The letter after the name in brackets; 0: it is no more. */
static char doing(int fd)
{
	char text[128];
	ssize_t n = fd < 0 ? -1 : pread(fd, text, sizeof text - 1, 0);

	if (n <= 0)
		return 0;
	text[n] = '\0';
	const char *behind = strrchr(text, ')');
	return behind && behind[1] ? behind[2] : 0;
}

bool asleep_others(struct state *s)
{
	for (int i = 0; i < THREADS_MOST; i++) {
		int32_t thread = s->threads[i];
		if (thread == 0 || thread == noted || s->process_of[i] == 0)
			continue;
		char does = doing(file_about(s, i, thread));
		if (does == 0 || does == 'Z' || does == 'X')
			atomic_compare_exchange_strong(&s->threads[i], &thread, 0);
		else if (does != 'S')
			return false;
	}
	return true;
}
