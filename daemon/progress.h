#ifndef BANDCENSUS_DAEMON_PROGRESS_H
#define BANDCENSUS_DAEMON_PROGRESS_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

/* A bar with the time left, on stderr, when that is a terminal and the work has
 * an end. */
struct progress {
	bool    shown;
	int64_t length_us;      /* of the work, on its own clock        */
	int64_t began_us;       /* wall clock                           */
	int64_t drawn_us;       /* wall clock of the last drawing       */
};

/* length_us 0: no end, nothing is drawn. */
void progress_begin(struct progress *p, int64_t length_us);

void progress_at(struct progress *p, int64_t done_us);

#define PROGRESS_TEXT 80        /* room for what progress_text says */

/* What is drawn: bar, per cent and, past 1 %, the time left in minutes and
 * seconds, if the rest goes on as the share that worked_us were spent on. A
 * share beyond 0 .. 1 is taken at its end. */
void progress_text(char *out, size_t size, double share, int64_t worked_us);

/* Clears the line, so that log lines stand alone. */
void progress_clear(struct progress *p);

#endif
