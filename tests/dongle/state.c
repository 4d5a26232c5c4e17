#include "tests/dongle/state.h"

#include <errno.h>
#include <fcntl.h>
#include <math.h>
#include <string.h>
#include <sys/mman.h>
#include <sys/syscall.h>
#include <time.h>
#include <unistd.h>

#include "store/town.h"

/* By the system call: the C library's function may be our own. */
int64_t state_real_us(void)
{
	struct timespec t;
	syscall(SYS_clock_gettime, CLOCK_MONOTONIC, &t);
	return (int64_t)t.tv_sec * 1000000 + t.tv_nsec / 1000;
}

/* The town's own mishaps as mischief. */
static void add_event(struct scenario *s, const struct event *e, double from_s)
{
	struct mischief *m;

	if (e->what != EVENT_LOST && e->what != EVENT_CLOCK)
		return;
	m = scenario_mischief(s, e->what == EVENT_LOST ? MISCHIEF_VANISH : MISCHIEF_CLOCK);
	if (!m)
		return;
	m->at = (double)e->from_us * 1e-6 - from_s;
	m->for_s = e->what == EVENT_LOST ? (double)(e->until_us - e->from_us) * 1e-6 : 0;
	m->value = e->step_s;
}

/* The part of the night to begin with, and what the town has in store. */
static int read_town(struct state *s, struct fault *why)
{
	struct scenario *c = &s->scenario;
	struct town town;

	if (!*c->town)
		return 0;
	if (town_read(c->town, &town, why) < 0)
		return -1;
	if (c->start_us == 0)
		c->start_us = town.start_us;
	s->night_us = c->start_us - town.start_us;
	for (int i = 0; c->town_events && i < town.n_events; i++)
		add_event(c, &town.events[i], (double)s->night_us * 1e-6);
	town_free(&town);
	return 0;
}

static void begin(struct state *s)
{
	for (int i = 0; i < s->scenario.n_dongles; i++) {
		chip_reset(&s->dongles[i].chip, s->scenario.dongles[i].serial);
		tuner_reset(&s->dongles[i].tuner);
	}
	s->began_us = state_real_us();
	s->utc_us = s->scenario.start_us;
	if (s->utc_us == 0) {
		struct timespec t;
		syscall(SYS_clock_gettime, CLOCK_REALTIME, &t);
		s->utc_us = (int64_t)t.tv_sec * 1000000 + t.tv_nsec / 1000;
	}
	s->magic = STATE_MAGIC;
}

struct state *state_create(const char *path, const struct scenario *c, struct fault *why)
{
	int fd = open(path, O_RDWR | O_CREAT | O_TRUNC | O_CLOEXEC, 0600);
	struct state *s = MAP_FAILED;

	if (fd >= 0 && ftruncate(fd, sizeof *s) == 0)
		s = mmap(NULL, sizeof *s, PROT_READ | PROT_WRITE, MAP_SHARED, fd, 0);
	if (fd >= 0)
		close(fd);
	if (s == MAP_FAILED) {
		fault_set(why, FAULT_INPUT, "%s: can't be made: %s", path, strerror(errno));
		return NULL;
	}
	s->scenario = *c;
	if (read_town(s, why) < 0) {
		state_unmap(s);
		return NULL;
	}
	begin(s);
	return s;
}

struct state *state_map(const char *path)
{
	int fd = open(path, O_RDWR | O_CLOEXEC);
	struct state *s = MAP_FAILED;

	if (fd < 0)
		return NULL;
	if (lseek(fd, 0, SEEK_END) == (off_t)sizeof *s)
		s = mmap(NULL, sizeof *s, PROT_READ | PROT_WRITE, MAP_SHARED, fd, 0);
	close(fd);
	if (s == MAP_FAILED)
		return NULL;
	if (s->magic == STATE_MAGIC)
		return s;
	state_unmap(s);
	return NULL;
}

void state_unmap(struct state *s)
{
	if (s)
		munmap(s, sizeof *s);
}

/* ---- the clock ---- */

/* Without leaps. */
static int64_t running_us(const struct state *s)
{
	double real_us = (double)(state_real_us() - s->began_us);
	return s->began_us + (int64_t)(real_us * s->scenario.speed);
}

int64_t state_now_us(const struct state *s)
{
	return running_us(s) + s->leap_us;
}

static int64_t elapsed_us(const struct state *s, int64_t at_us)
{
	return at_us - s->began_us;
}

double state_elapsed_s(const struct state *s)
{
	return (double)elapsed_us(s, state_now_us(s)) * 1e-6;
}

int64_t state_utc_us(struct state *s, int64_t at_us)
{
	int64_t utc = s->utc_us + elapsed_us(s, at_us);

	for (int i = 0; i < s->scenario.n_mischief; i++) {
		const struct mischief *m = &s->scenario.mischief[i];
		if (m->kind == MISCHIEF_CLOCK &&
		    (double)elapsed_us(s, at_us) * 1e-6 >= m->at)
			utc += llround(m->value * 1e6);
	}
	return utc;
}

void state_leap_to(struct state *s, int64_t us)
{
	int64_t leap = s->leap_us, from = state_now_us(s), wanted = us - running_us(s);

	while (wanted > leap)
		if (atomic_compare_exchange_weak(&s->leap_us, &leap, wanted)) {
			s->leapt_from_us = from;
			s->leapt_to_us = us;
			s->leaps++;
			return;
		}
}

void state_hasten_to(struct state *s, int64_t us)
{
	int64_t leap = s->leap_us, wanted = us - running_us(s);

	while (wanted > leap)
		if (atomic_compare_exchange_weak(&s->leap_us, &leap, wanted)) {
			s->hastened_us += wanted - leap;
			return;
		}
}

void state_spend(struct state *s, int64_t us)
{
	s->leap_us += us;
}

/* ---- the crystal ---- */

double state_crystal_ppm(const struct state *s, int dongle, int64_t at_us)
{
	const struct scenario_dongle *d = &s->scenario.dongles[dongle];
	double t = (double)(elapsed_us(s, at_us) + s->night_us) * 1e-6;
	double left = d->warm_up_s > 0 ? exp(-4 * t / d->warm_up_s) : 0;

	return d->ppm + d->warm_ppm + (d->cold_ppm - d->warm_ppm) * left;
}

double state_true_centre_hz(const struct state *s, int dongle)
{
	const struct reception *r = &s->dongles[dongle].now;
	double ppm = state_crystal_ppm(s, dongle, state_now_us(s));

	return (r->lo_hz - r->if_hz) * (1 + ppm * 1e-6);
}

/* ---- mischief ---- */

static double reached(const struct state *s, int dongle, enum mischief_when when)
{
	const struct counters *c = &s->dongles[dongle].count;

	switch (when) {
	case WHEN_BYTES:
		return (double)c->bytes;
	case WHEN_RETUNES:
		return (double)c->retunes;
	case WHEN_OPENS:
		return (double)c->opens;
	default:
		return state_elapsed_s(s);
	}
}

static bool under_way(struct state *s, int dongle, int i)
{
	const struct mischief *m = &s->scenario.mischief[i];
	struct mischief_state *now = &s->mischief[i];
	int64_t began = now->began_us;

	if (m->dongle >= 0 && m->dongle != dongle)
		return false;
	if (began == 0) {
		if (reached(s, dongle, (enum mischief_when)m->when) < m->at)
			return false;
		int64_t at = state_now_us(s);
		if (m->when == WHEN_TIME)       /* it may have been noticed late */
			at = s->began_us + llround(m->at * 1e6);
		if (atomic_compare_exchange_strong(&now->began_us, &began, at)) {
			began = at;
			if (m->kind == MISCHIEF_VANISH)
				for (int d = 0; d < s->scenario.n_dongles; d++)
					if (m->dongle < 0 || m->dongle == d) {
						s->dongles[d].generation++;
						s->dongles[d].detached = false;
					}
		}
	}
	return (m->times == 0 || now->used < m->times) &&
	       (m->for_s == 0 || (double)(state_now_us(s) - began) * 1e-6 < m->for_s);
}

static int find(struct state *s, int dongle, enum mischief_kind kind)
{
	for (int i = 0; i < s->scenario.n_mischief; i++)
		if (s->scenario.mischief[i].kind == (int)kind && under_way(s, dongle, i))
			return i;
	return -1;
}

const struct mischief *mischief_now(struct state *s, int dongle, enum mischief_kind kind)
{
	int i = find(s, dongle, kind);
	return i < 0 ? NULL : &s->scenario.mischief[i];
}

const struct mischief *mischief_use(struct state *s, int dongle, enum mischief_kind kind)
{
	int i = find(s, dongle, kind);

	if (i < 0)
		return NULL;
	s->mischief[i].used++;
	return &s->scenario.mischief[i];
}
