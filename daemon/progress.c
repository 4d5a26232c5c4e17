#include "daemon/progress.h"

#include <stdio.h>
#include <time.h>
#include <unistd.h>

#define WIDTH    40
#define EVERY_US 200000

static int64_t wall_us(void)
{
	struct timespec t;
	clock_gettime(CLOCK_MONOTONIC, &t);
	return (int64_t)t.tv_sec * 1000000 + t.tv_nsec / 1000;
}

void progress_begin(struct progress *p, int64_t length_us)
{
	*p = (struct progress){ .shown = length_us > 0 && isatty(STDERR_FILENO),
				.length_us = length_us, .began_us = wall_us() };
}

void progress_at(struct progress *p, int64_t done_us)
{
	int64_t now = p->shown ? wall_us() : 0;

	if (!p->shown || now - p->drawn_us < EVERY_US)
		return;
	p->drawn_us = now;
	double share = (double)done_us / (double)p->length_us;
	share = share < 0 ? 0 : share > 1 ? 1 : share;
	char bar[WIDTH + 1];
	for (int i = 0; i < WIDTH; i++)
		bar[i] = i < share * WIDTH ? '=' : '.';
	bar[WIDTH] = '\0';
	int left = share > 0.01 ? (int)((double)(now - p->began_us) * 1e-6 * (1 - share) / share) : -1;
	fprintf(stderr, "\r%s %3.0f %%", bar, 100 * share);
	if (left >= 0)
		fprintf(stderr, "  %d:%02d left ", left / 60, left % 60);
}

void progress_clear(struct progress *p)
{
	if (p->shown && p->drawn_us)
		fputs("\r\033[K", stderr);
}
