/* Measures our chain beside bare FFTW, contender after contender, pass after pass.
 *
 * bench_chain time PASSES WISDOM       lines "CONTENDER HOP LOOK_MS NS_A_SAMPLE" (CPU time)
 * bench_chain listen HOP               128 looks listened to, for a profiler
 * bench_chain bare BINS PLAN WISDOM    as many transforms, planned as bare_name says
 * bench_chain wisdom BINS              the best plan as text, after some seconds
 * bench_chain samples FILE             a second of the hop "air", for other programs
 */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>

#include "dsp/ear.h"
#include "tests/bench/bare.h"
#include "tests/bench/ground.h"

/* Looks of one length at one hop, and all that takes them. */
struct course {
	enum ground_name    which;
	int64_t             look_us;
	const struct ground *ground;
	size_t              n;
	struct channeliser *channeliser;
	struct floor       *floor;
	struct detector    *detector;
	struct ear         *ear;
	struct bare        *bare[BARE_PLANS];
};

/* 10 ms is how a stream without end is cut, 20 ms a usual dwell. */
static const struct {
	enum ground_name which;
	int64_t          look_us;
} courses[] = {
	{ GROUND_AIR, 20000 }, { GROUND_FINE, 20000 }, { GROUND_AIR, 10000 }, { GROUND_FINE, 10000 },
	{ GROUND_QUIET, 20000 }, { GROUND_BROADCAST, 20000 },
};

#define COURSES ((int)(sizeof courses / sizeof courses[0]))

/* CPU time of this thread: what others do on the machine counts only where they
 * slow the core down. */
static double cpu_ns(void)
{
	struct timespec t;

	clock_gettime(CLOCK_THREAD_CPUTIME_ID, &t);
	return (double)t.tv_sec * 1e9 + (double)t.tv_nsec;
}

static void report(const char *contender, const struct course *c, double ns, int looks)
{
	printf("%s %s %d %.4f\n", contender, ground_title(c->which), (int)(c->look_us / 1000),
	       ns / ((double)looks * (double)c->n));
}

static void course_close(struct course *c)
{
	ear_destroy(c->ear);
	detector_destroy(c->detector);
	floor_destroy(c->floor);
	channeliser_destroy(c->channeliser);
	for (int p = 0; p < BARE_PLANS; p++)
		bare_destroy(c->bare[p]);
}

static int course_open(struct course *c, const struct grounds *g, enum ground_name which,
		       int64_t look_us)
{
	*c = (struct course){ .which = which, .look_us = look_us, .ground = &g->ground[which] };
	c->n = look_samples(BENCH_RATE_HZ, c->ground->bins, look_us);
	c->ear = ear_create(&(struct ear_wants){
		.rate_hz = BENCH_RATE_HZ, .bins = c->ground->bins, .samples = c->n,
		.sense = { g->false_alarm, g->margin_db },
		.bands = g->bands, .n_bands = g->n_bands, .max_seats = g->max_seats });
	return c->ear ? 0 : -1;
}

/* What the ear is made of, once more, to be timed by itself. */
static int course_parts(struct course *c, const struct grounds *g, const char *wisdom)
{
	c->channeliser = channeliser_create(BENCH_RATE_HZ, c->ground->bins, c->n);
	if (!c->channeliser)
		return -1;
	const struct spectrum *s = channeliser_spectrum(c->channeliser);
	const struct look *like = channeliser_like(c->channeliser);
	c->floor = floor_create(like, spectrum_window(s), spectrum_hop(s), false);
	c->detector = detector_create(&(struct sense){ g->false_alarm, g->margin_db }, like,
				      spectrum_window(s), spectrum_hop(s), g->bands, g->n_bands,
				      g->max_seats);
	for (int p = 0; p < BARE_PLANS; p++) {
		c->bare[p] = bare_create(c->ground->bins, p, wisdom);
		if (!c->bare[p])
			return -1;
	}
	return c->floor && c->detector ? 0 : -1;
}

/* A floor is made from looks at many hops, as in a survey, where one hop's signals
 * do not pass for the passband. */
static void learn(struct course *c, const struct grounds *g)
{
	for (int i = 0, learnt = 0; learnt < BENCH_LEARNT; i++) {
		const struct ground *at = &g->ground[i % GROUNDS];
		if (at->bins != c->ground->bins)
			continue;
		struct block b = ground_block(at, c->n, i / GROUNDS);
		ear_learn(c->ear, &b);
		if (c->floor)
			floor_learn(c->floor, channeliser_look(c->channeliser, &b));
		learnt++;
	}
}

static void time_bare(struct course *c)
{
	int transforms = channeliser_like(c->channeliser)->transforms;

	for (int p = 0; p < BARE_PLANS; p++) {
		double begun = cpu_ns();
		for (int i = 0; i < BENCH_LEARNT; i++)
			bare_run(c->bare[p], transforms);
		report(bare_name(p), c, cpu_ns() - begun, BENCH_LEARNT);
	}
}

static void time_look(struct course *c)
{
	double begun = cpu_ns();

	for (int i = 0; i < BENCH_LEARNT; i++) {
		struct block b = ground_block(c->ground, c->n, i);
		channeliser_look(c->channeliser, &b);
	}
	report("look", c, cpu_ns() - begun, BENCH_LEARNT);
}

/* The last look of as many makes the floor's shape anew: all its costs are in. */
static void listen(struct course *c)
{
	for (int i = 0; i < BENCH_LEARNT; i++) {
		struct block b = ground_block(c->ground, c->n, i);
		ear_listen(c->ear, &b, c->ground->hop, NULL);
	}
}

static void time_listen(struct course *c)
{
	double begun = cpu_ns();

	listen(c);
	report("listen", c, cpu_ns() - begun, BENCH_LEARNT);
}

/* What follows the spectrum, stage by stage. */
static void time_stages(struct course *c)
{
	double floor_ns = 0, judge_ns = 0;

	for (int i = 0; i < BENCH_LEARNT; i++) {
		struct block b = ground_block(c->ground, c->n, i);
		struct look *l = channeliser_look(c->channeliser, &b);
		double begun = cpu_ns();
		floor_learn(c->floor, l);
		floor_judge(c->floor, l);
		double judged = cpu_ns();
		detector_judge(c->detector, l, c->floor, c->ground->hop, NULL);
		floor_ns += judged - begun;
		judge_ns += cpu_ns() - judged;
	}
	report("floor", c, floor_ns, BENCH_LEARNT);
	report("judge", c, judge_ns, BENCH_LEARNT);
}

static int time_town(struct course *c, struct grounds *g, struct fault *why)
{
	struct block b;
	double begun = cpu_ns();

	if (c->look_us != BENCH_LOOK_US)
		return 0;
	for (int i = 0; i < BENCH_KEPT; i++)
		if (grounds_visit(g, c->ground, &b, why) < 0)
			return -1;
	report("town", c, cpu_ns() - begun, BENCH_KEPT);
	return 0;
}

static int time_all(struct grounds *g, int passes, const char *wisdom, struct fault *why)
{
	struct course c[COURSES] = { 0 };
	int result = -1;

	for (int i = 0; i < COURSES; i++)
		if (course_open(&c[i], g, courses[i].which, courses[i].look_us) < 0 ||
		    course_parts(&c[i], g, wisdom) < 0) {
			fault_set(why, FAULT_FATAL, "no memory to listen with");
			goto done;
		}
	for (int pass = 0; pass < passes; pass++)
		for (int i = 0; i < COURSES; i++) {
			learn(&c[i], g);
			time_bare(&c[i]);
			time_look(&c[i]);
			time_listen(&c[i]);
			time_stages(&c[i]);
			if (time_town(&c[i], g, why) < 0)
				goto done;
		}
	result = 0;
done:
	for (int i = 0; i < COURSES; i++)
		course_close(&c[i]);
	return result;
}

static int do_time(char **argument, struct fault *why)
{
	struct grounds g;
	int result = grounds_make(&g, why);

	if (result == 0)
		result = time_all(&g, atoi(argument[0]), argument[1], why);
	grounds_free(&g);
	return result;
}

static int do_listen(char **argument, struct fault *why)
{
	struct grounds g;
	struct course c = { 0 };
	int which = 0, result = grounds_make(&g, why);

	while (which < GROUNDS && strcmp(ground_title(which), argument[0]) != 0)
		which++;
	if (result < 0)
		goto done;
	result = -1;
	if (which == GROUNDS) {
		fault_set(why, FAULT_INPUT, "%s: no such hop", argument[0]);
		goto done;
	}
	if (course_open(&c, &g, which, BENCH_LOOK_US) < 0) {
		fault_set(why, FAULT_FATAL, "no memory to listen with");
		goto done;
	}
	learn(&c, &g);
	listen(&c);
	printf("%d\n", BENCH_LEARNT);
	result = 0;
done:
	course_close(&c);
	grounds_free(&g);
	return result;
}

static int do_bare(char **argument, struct fault *why)
{
	int bins = atoi(argument[0]), plan = 0, result = -1;

	while (plan < BARE_PLANS && strcmp(bare_name(plan), argument[1]) != 0)
		plan++;
	if (plan == BARE_PLANS)
		return fault_set(why, FAULT_INPUT, "%s: no such plan", argument[1]);
	struct channeliser *c = channeliser_create(BENCH_RATE_HZ, bins,
		look_samples(BENCH_RATE_HZ, bins, BENCH_LOOK_US));
	struct bare *b = bare_create(bins, plan, argument[2]);
	if (!b || !c) {
		fault_set(why, FAULT_FATAL, "no memory for transforms");
		goto done;
	}
	for (int i = 0; i < BENCH_LEARNT; i++)
		bare_run(b, channeliser_like(c)->transforms);
	printf("%d\n", BENCH_LEARNT);
	result = 0;
done:
	bare_destroy(b);
	channeliser_destroy(c);
	return result;
}

static int do_wisdom(char **argument, struct fault *why)
{
	if (bare_wisdom(atoi(argument[0])) < 0)
		return fault_set(why, FAULT_FATAL, "no memory for transforms");
	return 0;
}

static int do_samples(char **argument, struct fault *why)
{
	struct grounds g;
	FILE *f = NULL;
	int result = grounds_make(&g, why);

	if (result < 0)
		goto done;
	const struct ground *air = &g.ground[GROUND_AIR];
	f = fopen(argument[0], "wb");
	if (!f || fwrite(air->iq, 2, air->n * BENCH_KEPT, f) != air->n * BENCH_KEPT)
		result = fault_set(why, FAULT_FATAL, "%s: can't be written", argument[0]);
	else
		printf("%zu\n", air->n);
done:
	if (f && fclose(f) != 0 && result == 0)
		result = fault_set(why, FAULT_FATAL, "%s: can't be written", argument[0]);
	grounds_free(&g);
	return result;
}

static const struct {
	const char *name;
	int         arguments;
	int       (*run)(char **argument, struct fault *why);
} verbs[] = {
	{ "time", 2, do_time },
	{ "listen", 1, do_listen },
	{ "bare", 3, do_bare },
	{ "wisdom", 1, do_wisdom },
	{ "samples", 1, do_samples },
};

int main(int argc, char **argv)
{
	struct fault why;

	for (size_t i = 0; argc > 1 && i < sizeof verbs / sizeof verbs[0]; i++) {
		if (strcmp(argv[1], verbs[i].name) != 0 || argc != 2 + verbs[i].arguments)
			continue;
		if (verbs[i].run(argv + 2, &why) == 0)
			return 0;
		fprintf(stderr, "bench_chain: %s\n", why.text);
		return fault_exit(&why);
	}
	fprintf(stderr, "usage: see the head of tests/bench/bench_chain.c\n");
	return 2;
}
