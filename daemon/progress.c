#include "daemon/progress.h"

#include <inttypes.h>
#include <stdio.h>
#include <time.h>
#include <unistd.h>

#define WIDTH    40
#define EVERY_US 200000
#define GUESS_FROM 0.01         /* share done from which the rest can be guessed */

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

void progress_text(char *out, size_t size, double share, int64_t worked_us)
{
	char bar[WIDTH + 1];

	share = share < 0 ? 0 : share > 1 ? 1 : share;
	for (int i = 0; i < WIDTH; i++)
		bar[i] = i < share * WIDTH ? '=' : '.';
	bar[WIDTH] = '\0';
	if (share <= GUESS_FROM) {
		snprintf(out, size, "%s %3.0f %%", bar, 100 * share);
		return;
	}
	int64_t left_s = (int64_t)((double)worked_us * 1e-6 * (1 - share) / share);
	snprintf(out, size, "%s %3.0f %%  %" PRId64 ":%02d left", bar, 100 * share, left_s / 60,
		 (int)(left_s % 60));
}

void progress_at(struct progress *p, int64_t done_us)
{
	char text[PROGRESS_TEXT];
	int64_t now = p->shown ? wall_us() : 0;

	if (!p->shown || now - p->drawn_us < EVERY_US)
		return;
	p->drawn_us = now;
	progress_text(text, sizeof text, (double)done_us / (double)p->length_us, now - p->began_us);
	/* The blank covers the last letter of a longer line before. */
	fprintf(stderr, "\r%s ", text);
}

void progress_clear(struct progress *p)
{
	if (p->shown && p->drawn_us)
		fputs("\r\033[K", stderr);
}
