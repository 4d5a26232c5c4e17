/* How much faster than time a rehearsal is: twelve hours, so many memories at 25 a second, all of them
 * scanned together, which is the dearest plan there is.
 *
 *     bench_rehearse [MEMORIES [LOAD]]
 *
 * LOAD: mean of channels on the air at once; exchanges of four overs of 4 s, pauses of 2 s. 400 and
 * 0.44 where it is not said, a night that the trade's tables have. */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <time.h>

#include "dsp/dice.h"
#include "tools/plan/rehearse.h"

#define SECONDS (12 * 3600.0)
#define OVER_S  4.0
#define PAUSE_S 2.0
#define OVERS   4.0
#define ROUNDS  20

static int by_on(const void *a, const void *b)
{
	const struct cue *x = a, *y = b;

	return (x->on_s > y->on_s) - (x->on_s < y->on_s);
}

static struct script night(int lines, double load)
{
	double every_s = lines * OVER_S * OVERS / load;
	struct script s = { NULL, 0, lines, SECONDS };
	int room = (int)(4 * SECONDS * load / OVER_S) + 1000;

	s.cue = calloc((size_t)room, sizeof *s.cue);
	for (int line = 0; s.cue && line < lines; line++) {
		struct dice d = dice_of(20261126, (uint64_t)line);
		for (double at = dice_exponential(&d, every_s); at < SECONDS; at += dice_exponential(&d, every_s))
			for (int n = dice_geometric(&d, OVERS), k = 0; k < n && s.cues < room; k++) {
				double off = at + dice_exponential(&d, OVER_S);
				s.cue[s.cues++] = (struct cue){ at, off, line, k > 0 };
				at = off + dice_exponential(&d, PAUSE_S);
			}
	}
	if (s.cue)
		qsort(s.cue, (size_t)s.cues, sizeof *s.cue, by_on);
	return s;
}

static double cpu_s(void)
{
	struct timespec t;

	clock_gettime(CLOCK_PROCESS_CPUTIME_ID, &t);
	return (double)t.tv_sec + 1e-9 * (double)t.tv_nsec;
}

int main(int argc, char **argv)
{
	int lines = argc > 1 ? atoi(argv[1]) : 400;
	double load = argc > 2 ? strtod(argv[2], NULL) : 0.44, least = INFINITY;
	struct script s = night(lines, load);
	struct seat *seat = calloc((size_t)lines + 1, sizeof *seat);
	struct part *part = calloc((size_t)lines + 1, sizeof *part);

	if (!s.cue || !seat || !part || lines < 1 || load <= 0)
		return 1;
	for (int i = 0; i < lines; i++)
		seat[i] = (struct seat){ i, 2 };
	for (int priority = -1; priority <= 0; priority++, least = INFINITY) {
		const struct stage g = { seat, lines, 0.04, priority, 2 };
		for (int k = 0; k < ROUNDS; k++) {
			double from = cpu_s();
			if (rehearse(&s, &g, 0.37 * k, part) < 0)
				return 1;
			least = fmin(least, cpu_s() - from);
		}
		printf("%d memories, %d overs in 12 h, %s priority: %.2f ms, %.0f times as fast as time\n", lines, s.cues,
		       priority < 0 ? "without" : "with", 1e3 * least, SECONDS / least);
	}
	free(s.cue);
	free(seat);
	free(part);
	return 0;
}
