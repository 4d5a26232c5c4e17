/* CPU time that samples take on their way: in the process that reads the dongle, and in
 * the daemon up to a block in hand, beside copying them once and beside their
 * transforms. At the pace of a dongle, so that every wake-up is in it; the other process
 * sleeps from delivery to delivery in place of waiting for the kernel's transfers, whose
 * own cost no machine without a dongle can show. Only ratios within one run count.
 *
 * bench_seam [SECONDS]         of each size of delivery; 5 when not given
 */
#include <poll.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/wait.h>
#include <time.h>
#include <unistd.h>

#include "daemon/dongle/counter.h"
#include "daemon/dongle/dongle.h"
#include "daemon/dongle/ring.h"
#include "daemon/dongle/stream.h"
#include "dsp/look.h"

#define RATE    2400000
#define LOOK_US 20000
#define BINS    1920
#define RING    (4 << 20)

static const int sizes[] = { 4096, DONGLE_DELIVERY, 16384 };

static double cpu_ns(void)
{
	struct timespec t;

	clock_gettime(CLOCK_PROCESS_CPUTIME_ID, &t);
	return (double)t.tv_sec * 1e9 + (double)t.tv_nsec;
}

static void fill(uint8_t *bytes, size_t n)
{
	uint32_t x = 1;

	for (size_t i = 0; i < n; i++) {
		x = x * 1664525 + 1013904223;
		bytes[i] = (uint8_t)(112 + (x >> 27));
	}
}

/* What the reader's thread does with each delivery, until deliveries have come. Never
 * returns. */
static void be_reader(int memory, int bell, int size, int64_t deliveries, int tell)
{
	struct ring *ring = ring_join(memory, bell);
	struct counter counter = { 0 };
	uint8_t *bytes = malloc((size_t)size);
	double took_ns = 0;
	struct timespec due;

	if (!ring || !bytes)
		_exit(1);
	fill(bytes, (size_t)size);
	clock_gettime(CLOCK_MONOTONIC, &due);
	took_ns = cpu_ns();
	for (int64_t i = 0; i < deliveries; i++) {
		int64_t ns = due.tv_nsec + (int64_t)size * 500000000 / RATE;
		due.tv_sec += ns / 1000000000;
		due.tv_nsec = ns % 1000000000;
		clock_nanosleep(CLOCK_MONOTONIC, TIMER_ABSTIME, &due, NULL);
		ring_put(ring, bytes, (size_t)size, stream_now_us());
		counter_feed(&counter, bytes, (size_t)size);
	}
	took_ns = cpu_ns() - took_ns;
	ring_end(ring);
	if (write(tell, &took_ns, sizeof took_ns) != sizeof took_ns)
		_exit(1);
	_exit(0);
}

/* Blocks of a look until the ring ends; samples in them, or -1. */
static int64_t read_all(struct ring *ring, struct stream *s)
{
	struct pollfd bell = { .fd = ring_bell(ring), .events = POLLIN };
	size_t n = look_samples(RATE, BINS, LOOK_US);
	int64_t samples = 0;
	struct block b;
	enum stream_result r;

	stream_attach(s, ring);
	stream_hold(s, RATE);
	stream_fresh(s, 0, stream_now_us());
	while ((r = stream_read(s, n, &b)) == STREAM_BLOCK || r == STREAM_LATER) {
		if (r == STREAM_LATER)
			poll(&bell, 1, 1000);
		else
			samples += (int64_t)n;
	}
	return r == STREAM_ENDED ? samples : -1;
}

/* ns a sample in each process. */
static int measure(int size, int seconds, double *reader, double *daemon)
{
	struct ring *ring = ring_create((size_t)(RING / size), (size_t)size);
	struct stream *s = stream_create();
	int64_t deliveries = (int64_t)seconds * RATE * 2 / size, samples = -1;
	double took_ns = 0, begun;
	int tell[2] = { -1, -1 }, memory, bell;
	pid_t child = -1;

	if (!ring || !s || pipe(tell) < 0)
		goto done;
	memory = dup(ring_memory(ring));
	bell = dup(ring_bell(ring));
	child = fork();
	if (child == 0)
		be_reader(memory, bell, size, deliveries, tell[1]);
	close(memory);
	close(bell);
	begun = cpu_ns();
	samples = child > 0 ? read_all(ring, s) : -1;
	*daemon = (cpu_ns() - begun) / (double)samples;
	if (samples > 0 && read(tell[0], &took_ns, sizeof took_ns) != sizeof took_ns)
		samples = -1;
	*reader = took_ns / ((double)deliveries * size / 2);
done:
	if (child > 0)
		waitpid(child, NULL, 0);
	close(tell[0]);
	close(tell[1]);
	stream_destroy(s);
	ring_destroy(ring);
	return samples > 0 ? 0 : -1;
}

/* As many looks, out of a row too long for the nearest caches: copied, and transformed. */
static int measure_work(int seconds, double *copy, double *look)
{
	size_t n = look_samples(RATE, BINS, LOOK_US), room = 64;
	struct channeliser *c = channeliser_create(RATE, BINS, n);
	uint8_t *from = malloc(2 * n * room), *to = malloc(2 * n);
	int looks = seconds * 1000000 / LOOK_US;
	unsigned seen = 0;

	if (!c || !from || !to)
		return -1;
	fill(from, 2 * n * room);
	double begun = cpu_ns();
	for (int i = 0; i < looks; i++) {
		memcpy(to, from + 2 * n * ((size_t)i % room), 2 * n);
		seen += to[i % 100];            /* else it is never copied */
	}
	*copy = (cpu_ns() - begun) / ((double)looks * (double)n);
	begun = cpu_ns();
	for (int i = 0; i < looks; i++)
		channeliser_look(c, &(struct block){ .iq = from + 2 * n * ((size_t)i % room),
			.format = SAMPLE_CU8, .n = n, .rate_hz = RATE });
	*look = (cpu_ns() - begun) / ((double)looks * (double)n);
	free(from);
	free(to);
	channeliser_destroy(c);
	return seen == 1 ? -1 : 0;
}

int main(int argc, char **argv)
{
	int seconds = argc > 1 ? atoi(argv[1]) : 5;
	double copy, look;

	if (seconds < 1 || measure_work(seconds, &copy, &look) < 0) {
		fprintf(stderr, "usage: see the head of tests/bench/bench_seam.c\n");
		return 2;
	}
	printf("%-42s %9s %9s %9s %9s\n", "", "ns a", "share of", "times", "times");
	printf("%-42s %9s %9s %9s %9s\n", "", "sample", "a core", "copying", "a look");
	printf("%-42s %9.3f %8.2f%% %9.1f %9.3f\n", "copied once", copy, copy * RATE * 1e-7, 1.0,
	       copy / look);
	printf("%-42s %9.3f %8.2f%% %9.1f %9.3f\n", "transformed: a look at 1920 bins", look,
	       look * RATE * 1e-7, look / copy, 1.0);
	for (size_t i = 0; i < sizeof sizes / sizeof sizes[0]; i++) {
		double each[2];
		if (measure(sizes[i], seconds, &each[0], &each[1]) < 0) {
			fprintf(stderr, "bench_seam: no stream of %d bytes a delivery\n", sizes[i]);
			return 1;
		}
		for (int k = 0; k < 2; k++)
			printf("%5d bytes a delivery, %-18s %9.3f %8.2f%% %9.1f %9.3f\n", sizes[i],
			       k == 0 ? "reader's process" : "daemon", each[k], each[k] * RATE * 1e-7,
			       each[k] / copy, each[k] / look);
	}
	return 0;
}
