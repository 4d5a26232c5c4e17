/* How large a survey grows, what writing it costs, and how much goes to the disk: an invented
 * busy night, look by look, through the real track and outbox into a real survey. Only the
 * judging of samples is left out.
 *
 * bench_record CHANNELS NIGHTS FILE [HOURS]    adds nights to FILE, and prints a line for each
 *
 * A night is 12 hours. One channel in forty is in use, by traffic of its own: overs of 4 s on
 * the mean, exchanges now and then; one in twenty of these never goes off. Strong ones blind
 * their neighbours. Each hop is swept once every 35 ms x hops, as a dongle does. */
#include <inttypes.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <time.h>

#include "daemon/ears.h"
#include "daemon/outbox.h"
#include "dsp/dice.h"
#include "dsp/seats.h"
#include "store/picture.h"

#define SEED      UINT64_C(20261126)
#define NIGHT_US  INT64_C(1772308800000000)     /* 2026-02-28T20:00:00Z */
#define BAND_ROOM 400
#define VISIT_US  35000
#define LOOK_US   20000
#define COMMIT_US 5000000
#define USED      40            /* one channel in so many */
#define ALWAYS    20            /* one of these in so many never goes off */

struct user {
	int32_t band, channel;
	int64_t turns_us;               /* on or off until then */
	bool    on, always;
	double  level_db, off_s;
};

struct world {
	struct band     *bands;
	int              n_bands;
	struct hop_plan  hops;
	struct user     *users;         /* by band and channel */
	int              n_users;
	int             *first_user;    /* [hops + 1]          */
	enum verdict    *verdict;
	double          *floor_dbfs;
	struct finding   finding[FINDINGS_MAX];
	struct dice      dice;
};

static double cpu_s(void)
{
	struct timespec t;

	clock_gettime(CLOCK_PROCESS_CPUTIME_ID, &t);
	return (double)t.tv_sec + (double)t.tv_nsec * 1e-9;
}

/* A line of /proc/self/io. */
static int64_t io_bytes(const char *name)
{
	char line[80];
	int64_t n = 0;
	FILE *f = fopen("/proc/self/io", "r");

	while (f && fgets(line, sizeof line, f))
		if (strncmp(line, name, strlen(name)) == 0)
			n = atoll(line + strlen(name) + 1);
	if (f)
		fclose(f);
	return n;
}

static void make_bands(struct world *w, int channels)
{
	w->n_bands = (channels + BAND_ROOM - 1) / BAND_ROOM;
	w->bands = calloc((size_t)w->n_bands, sizeof *w->bands);
	for (int i = 0; i < w->n_bands; i++) {
		struct band *b = &w->bands[i];
		int left = channels - i * BAND_ROOM;
		snprintf(b->id, sizeof b->id, "band-%d", i);
		snprintf(b->name, sizeof b->name, "Band %d", i);
		snprintf(b->service, sizeof b->service, "business");
		b->raster = (struct raster){ { FREQ_HZ(100000000).thirds + i * FREQ_HZ(6000000).thirds },
					     FREQ_HZ(12500), left < BAND_ROOM ? left : BAND_ROOM };
		b->mode = MODE_NFM;
		b->width_hz = 11000;
	}
}

static void add_user(struct world *w, const struct span *s)
{
	struct user *u = &w->users[w->n_users++];

	*u = (struct user){ .band = s->band, .turns_us = NIGHT_US,
			    .channel = s->first + (int32_t)(dice_unit(&w->dice) * (s->count - 1)),
			    .always = dice_unit(&w->dice) < 1.0 / ALWAYS,
			    .level_db = dice_between(&w->dice, 5, 45),
			    .off_s = exp(dice_between(&w->dice, log(60), log(6000))) };
}

static void make_users(struct world *w, int channels)
{
	w->users = calloc((size_t)channels, sizeof *w->users);
	w->first_user = calloc((size_t)w->hops.n + 1, sizeof *w->first_user);
	w->verdict = calloc((size_t)(4 * channels) + 16, sizeof *w->verdict);
	w->floor_dbfs = calloc((size_t)w->hops.n_spans + 1, sizeof *w->floor_dbfs);
	for (int h = 0; h < w->hops.n; h++) {
		w->first_user[h] = w->n_users;
		for (int i = 0; i < w->hops.hops[h].n_spans; i++)
			for (int n = 0; n < w->hops.hops[h].spans[i].count / USED; n++)
				add_user(w, &w->hops.hops[h].spans[i]);
	}
	w->first_user[w->hops.n] = w->n_users;
}

/* On in exchanges: a pause of a few seconds follows most overs. */
static bool is_on(struct world *w, struct user *u, int64_t now_us)
{
	while (u->turns_us < now_us && !u->always) {
		double off = dice_unit(&w->dice) < 0.7 ? 3 : u->off_s;
		u->on = !u->on;
		u->turns_us += (int64_t)(1e6 * dice_exponential(&w->dice, u->on ? 4 : off));
	}
	return u->on || u->always;
}

static void blind(struct world *w, const struct hop *h, const struct user *u, int away)
{
	int seat = seats_of(h, u->band, u->channel + away);

	if (seat >= 0 && w->verdict[seat] == VERDICT_IDLE)
		w->verdict[seat] = VERDICT_BLIND;
}

static struct judged judge(struct world *w, int hop, const struct look *l)
{
	const struct hop *h = &w->hops.hops[hop];
	struct judged j = { .verdict = w->verdict, .finding = w->finding, .seats = hop_seats(h) };

	for (int i = 0; i < j.seats; i++)
		w->verdict[i] = VERDICT_IDLE;
	for (int i = w->first_user[hop]; i < w->first_user[hop + 1]; i++) {
		struct user *u = &w->users[i];
		int seat = seats_of(h, u->band, u->channel);
		if (!is_on(w, u, l->start_us) || w->verdict[seat] == VERDICT_BUSY)
			continue;
		double db = fmax(3, u->level_db + dice_normal(&w->dice));
		w->verdict[seat] = VERDICT_BUSY;
		w->finding[j.findings++] = (struct finding){
			.band = u->band, .channel = u->channel, .seat = seat,
			.last_slice = l->slices - 1, .power = 1e-6 * pow(10, db / 10), .floor = 1e-6,
			.offset_hz = 100 * dice_normal(&w->dice), .width_hz = 10000 };
		for (int away = 1; away < u->level_db / 15; away++) {
			blind(w, h, u, away);
			blind(w, h, u, -away);
		}
	}
	return j;
}

/* What was spent on the record alone. */
struct cost {
	double  add_s, commit_s, longest_s;
	int64_t commits, looks;
};

struct desk {
	struct track  *track;
	struct outbox *outbox;
	struct survey *survey;
};

static int commit(struct desk *d, struct cost *c, struct fault *why)
{
	double begun = cpu_s();

	if (outbox_commit(d->outbox, d->survey, true, why) < 0)
		return -1;
	double took = cpu_s() - begun;
	c->commit_s += took;
	c->longest_s = fmax(c->longest_s, took);
	c->commits++;
	return 0;
}

static int tidy(struct desk *d, struct cost *c, int64_t before_us, struct fault *why)
{
	double begun = cpu_s();
	int more;

	while ((more = picture_tidy(d->survey, before_us - HOUR_US, before_us, why)) > 0)
		;
	c->commit_s += cpu_s() - begun;
	return more;
}

static int keep_night(struct world *w, struct desk *d, struct look *l, int64_t from_us, int64_t us,
		      struct cost *c, struct fault *why)
{
	int64_t committed = from_us, hour = from_us / HOUR_US;
	int hop = 0;

	for (int64_t now = from_us; now < from_us + us; now += VISIT_US, c->looks++) {
		l->start_us = l->mono_us = now;
		if (now / HOUR_US != hour) {
			hour = now / HOUR_US;
			if (commit(d, c, why) < 0 || tidy(d, c, hour * HOUR_US, why) < 0)
				return -1;
		}
		struct judged j = judge(w, hop, l);
		double begun = cpu_s();
		outbox_looked(d->outbox, &(struct outbox_look){ hop, l, &j, true, w->floor_dbfs });
		c->add_s += cpu_s() - begun;
		track_look(d->track, &w->hops.hops[hop], l, &j);
		if (now - committed >= COMMIT_US) {
			committed = now;
			if (commit(d, c, why) < 0)
				return -1;
		}
		hop = (hop + 1) % w->hops.n;
	}
	track_end(d->track);
	return commit(d, c, why) < 0 ? -1 : tidy(d, c, (hour + 1) * HOUR_US, why);
}

static int night(struct world *w, const char *path, int number, int64_t us, struct fault *why)
{
	int64_t from_us = NIGHT_US + number * 24 * HOUR_US, wrote = io_bytes("wchar:");
	int64_t disk = io_bytes("write_bytes:");
	size_t samples = look_samples(2400000, 1920, LOOK_US);
	struct channeliser *like = channeliser_create(2400000, 1920, samples);
	struct look l = *channeliser_like(like);
	struct run_row run = { .start_us = from_us, .rate_hz = 2400000, .dwell_us = LOOK_US };
	struct track_rules rules = { .hang_us = 500000, .fill_us = 8000,
				     .revisit_us = (int64_t)VISIT_US * w->hops.n };
	struct desk d = { .survey = survey_write(path, &run, w->bands, w->n_bands, why) };
	struct cost c = { 0 };
	struct stat st;

	l.length_us = l.span_us = LOOK_US;
	l.good = l.slices;
	if (!d.survey)
		return -1;
	for (int i = 0; i < w->n_users; i++)
		w->users[i].turns_us = from_us;
	d.outbox = outbox_create(run.id, w->bands, w->n_bands, &w->hops);
	d.track = track_create(&rules, w->bands, w->n_bands, outbox_ended, outbox_touched, d.outbox);
	int result = keep_night(w, &d, &l, from_us, us, &c, why);
	survey_close(d.survey);
	track_destroy(d.track);
	outbox_destroy(d.outbox);
	channeliser_destroy(like);
	if (result < 0 || stat(path, &st) < 0)
		return -1;
	printf("%5d hops  night %2d  %8.2f MB  commits %5" PRId64 ": %6.1f s CPU, %4.2f %% of a core, longest "
	       "%5.1f ms; strips and accounts %5.1f s; wrote %7.1f MB, to disk %7.1f MB\n", w->hops.n,
	       number + 1, (double)st.st_size * 1e-6, c.commits, c.commit_s,
	       100 * c.commit_s / ((double)us * 1e-6), 1000 * c.longest_s, c.add_s,
	       (double)(io_bytes("wchar:") - wrote) * 1e-6,
	       (double)(io_bytes("write_bytes:") - disk) * 1e-6);
	fflush(stdout);
	return 0;
}

int main(int argc, char **argv)
{
	struct world w = { .dice = dice_of(SEED, 0) };
	struct fault why = { 0 };

	if (argc < 4 || atoi(argv[1]) < USED || atoi(argv[2]) < 1) {
		fprintf(stderr, "usage: see the head of tests/bench/bench_record.c\n");
		return 2;
	}
	make_bands(&w, atoi(argv[1]));
	if (hop_plan_sweep(&w.hops, w.bands, w.n_bands, 2400000) < 0)
		return 1;
	make_users(&w, atoi(argv[1]));
	for (int i = 0; i < w.hops.n_spans; i++)
		w.floor_dbfs[i] = -60;
	for (int i = 0; i < atoi(argv[2]); i++)
		if (night(&w, argv[3], i, argc > 4 ? atoi(argv[4]) * HOUR_US : 12 * HOUR_US, &why) < 0) {
			fprintf(stderr, "bench_record: %s\n", why.text);
			return 1;
		}
	return 0;
}
