#include "daemon/watch.h"

#include <inttypes.h>
#include <stdlib.h>
#include <stdio.h>
#include <string.h>

#include "daemon/log.h"
#include "daemon/outbox.h"

#define LEARN_LOOKS   128       /* what the passband is learnt from                      */
#define PLACES_ENOUGH 4         /* hops from which a passband shows through the signals  */
#define STREAM_LOOK_US 10000    /* a recording is cut into looks of this length          */
#define STEP_US       1000000   /* a clock that moves this much against itself stepped   */
#define FILL_US       8000      /* a hole this short in an over counts as on             */
#define REST_US       1000000   /* so long a signal may go unnoticed                     */
#define EARS          2         /* transform lengths: one for fine rasters, one for others */

/* Waits before asking a lost source again, in seconds; the last for ever after. */
static const int back_off_s[] = { 1, 2, 5, 10, 30 };

struct state {
	const struct watch *n;
	struct ear   *ear[EARS];
	int           ear_bins[EARS];
	struct track *track;
	struct outbox *outbox;
	bool         *open;
	int64_t       start_mono;       /* of the first look that counts; -1: none yet */
	int64_t       now_mono, now_us; /* end of the last block                       */
	int64_t       committed_mono, hour;
	int64_t       sweep_us;         /* how long the last sweep took                */
	int64_t       lost_us;          /* when the source was lost, or 0              */
	int           tries;
	int64_t       offset_us;        /* UTC less mono, of the last block            */
	int64_t       sweeps;
	bool          over;
};

int64_t watch_look_us(const struct station *s, const struct source_about *about)
{
	return about->tunable ? s->dwell_us : STREAM_LOOK_US;
}

static struct ear *ear_for(struct state *s, const struct hop *hop)
{
	for (int i = 0; i < EARS; i++)
		if (s->ear_bins[i] == hop->bins)
			return s->ear[i];
	return NULL;
}

static int seats(const struct hop *h)
{
	int n = 0;
	for (int i = 0; i < h->n_spans; i++)
		n += h->spans[i].count;
	return n;
}

static int make_ears(struct state *s, int max_seats, struct fault *why)
{
	const struct watch *n = s->n;

	for (int i = 0; i < n->hops->n; i++) {
		const struct hop *h = &n->hops->hops[i];
		int k = 0;
		while (k < EARS && s->ear_bins[k] && s->ear_bins[k] != h->bins)
			k++;
		if (k == EARS)
			return fault_set(why, FAULT_FATAL, "hops need more than %d transform lengths", EARS);
		if (s->ear_bins[k])
			continue;
		s->ear_bins[k] = h->bins;
		s->ear[k] = ear_create(&(struct ear_wants){
			.rate_hz = h->rate_hz, .bins = h->bins,
			.samples = look_samples(h->rate_hz, h->bins,
						watch_look_us(n->station, n->about)),
			.sense = { n->station->false_alarm, n->station->margin_db },
			.bands = n->bands, .n_bands = n->n_bands, .max_seats = max_seats,
			.one_place = n->hops->n < PLACES_ENOUGH });
		if (!s->ear[k])
			return fault_set(why, FAULT_FATAL, "no memory to listen with");
	}
	return 0;
}

static int prepare(struct state *s, struct fault *why)
{
	const struct watch *n = s->n;
	int most = 0;

	for (int i = 0; i < n->hops->n; i++)
		if (seats(&n->hops->hops[i]) > most)
			most = seats(&n->hops->hops[i]);
	s->outbox = outbox_create(n->run, n->bands, n->n_bands, n->hops);
	s->open = calloc((size_t)most + 1, sizeof *s->open);
	int64_t look_us = watch_look_us(n->station, n->about);
	struct track_rules rules = {
		.hang_us = n->station->hang_us, .fill_us = FILL_US,
		.revisit_us = n->about->tunable ? n->hops->n * (look_us + RETUNE_US) : look_us,
	};
	s->track = track_create(&rules, n->bands, n->n_bands, outbox_ended, outbox_touched, s->outbox);
	if (!s->outbox || !s->open || !s->track)
		return fault_set(why, FAULT_FATAL, "no memory for the survey");
	return make_ears(s, most, why);
}

static void finish(struct state *s)
{
	for (int i = 0; i < EARS; i++)
		ear_destroy(s->ear[i]);
	track_destroy(s->track);
	outbox_destroy(s->outbox);
	free(s->open);
}

/* Tunes and reads one look's samples. Returns an enum source_result. */
static int fetch(struct state *s, const struct hop *h, struct block *b, struct fault *why)
{
	const struct watch *n = s->n;
	struct tuning to = { h->centre, h->rate_hz, n->station->ppm,
			     (int)(n->station->gain_db * 10 + 0.5) };

	if (n->ops->tune(n->source, &to, why) < 0)
		return SOURCE_FAULT;
	size_t samples = ear_samples(ear_for(s, h));
	int got = n->ops->read(n->source, samples, b, why);
	if (got == SOURCE_BLOCK && b->n < samples)
		return SOURCE_END;      /* the tail of a recording, shorter than a look */
	return got;
}

/* Lets time pass in steps short enough to notice a signal; how much did. */
static int64_t let_pass(struct state *s, int64_t us)
{
	int64_t passed = 0;

	while (passed < us && !*s->n->stop) {
		int64_t step = us - passed < REST_US ? us - passed : REST_US;
		s->n->ops->rest(s->n->source, step);
		passed += step;
	}
	return passed;
}

/* A source that went away: once in the log and in the survey, however long. */
static int wait_for_source(struct state *s, const struct fault *lost, struct fault *why)
{
	if (lost->kind != FAULT_RETRY) {
		*why = *lost;
		return -1;
	}
	if (s->tries == 0) {
		progress_clear(s->n->progress);
		log_line(LOG_WARNING, "source is lost: %s, trying again", lost->text);
		s->lost_us = s->now_us;
	}
	int last = (int)(sizeof back_off_s / sizeof back_off_s[0]) - 1;
	int64_t passed = let_pass(s, back_off_s[s->tries < last ? s->tries : last] * INT64_C(1000000));
	s->now_mono += passed;
	s->now_us += passed;
	s->tries++;
	return 0;
}

static void watch_clock(struct state *s, const struct block *b)
{
	int64_t offset = b->start_us - b->mono_us, moved = offset - s->offset_us;
	char text[100];

	if (s->start_mono >= 0 && llabs(moved) >= STEP_US) {
		snprintf(text, sizeof text, "the computer's clock was stepped by %+.1f s",
			 (double)moved * 1e-6);
		progress_clear(s->n->progress);
		log_line(LOG_WARNING, "clock stepped: by=%+.1fs", (double)moved * 1e-6);
		outbox_incident(s->outbox, "clock", b->start_us, 0, text);
	}
	s->offset_us = offset;
}

static void source_is_here(struct state *s, const struct block *b)
{
	char text[100];

	if (s->tries > 0) {
		snprintf(text, sizeof text, "the source was away for %.0f s",
			 (double)(b->start_us - s->lost_us) * 1e-6);
		progress_clear(s->n->progress);
		log_line(LOG_NOTICE, "source is back: away=%.0fs tries=%d",
			 (double)(b->start_us - s->lost_us) * 1e-6, s->tries);
		outbox_incident(s->outbox, "lost", s->lost_us, b->start_us, text);
		s->tries = 0;
	}
	watch_clock(s, b);
	s->now_us = b->start_us + (int64_t)((double)b->n * 1e6 / b->rate_hz);
	s->now_mono = b->mono_us + (s->now_us - b->start_us);
}

static int learn(struct state *s, struct fault *why)
{
	const struct watch *n = s->n;
	int64_t looks = n->about->length_us && !n->about->tunable ?
		n->about->length_us / watch_look_us(n->station, n->about) : 0;
	int64_t stride = looks > LEARN_LOOKS ? looks / LEARN_LOOKS : 1;
	struct block b;
	struct fault lost;

	for (int64_t i = 0; i < LEARN_LOOKS * stride && !*n->stop; i++) {
		const struct hop *h = &n->hops->hops[i % n->hops->n];
		int got = fetch(s, h, &b, &lost);
		if (got == SOURCE_END)
			break;
		if (got == SOURCE_FAULT && wait_for_source(s, &lost, why) < 0)
			return -1;
		if (got == SOURCE_FAULT)
			continue;
		source_is_here(s, &b);
		if (i % stride == 0)
			ear_learn(ear_for(s, h), &b);
	}
	for (int i = 0; i < EARS; i++)
		if (s->ear[i])
			ear_settle(s->ear[i]);
	return n->about->tunable ? 0 : n->ops->restart(n->source, why);
}

static int commit(struct state *s, struct fault *why)
{
	if (outbox_commit(s->outbox, s->n->survey, why) < 0) {
		if (why->kind != FAULT_RETRY)
			return -1;
		progress_clear(s->n->progress);
		log_line(LOG_WARNING, "survey can't be written: %s, trying again", why->text);
	}
	s->committed_mono = s->now_mono;
	return 0;
}

static void hourly_line(struct state *s)
{
	struct outbox_sum sum = outbox_sum(s->outbox);

	progress_clear(s->n->progress);
	if (!s->n->progress->shown)
		log_line(LOG_INFO, "hour done: looks=%" PRId64 " transmissions=%" PRId64 " sweeps=%" PRId64
			 " revisit=%.2fs", sum.looks, sum.transmissions, s->sweeps,
			 (double)s->sweep_us * 1e-6);
}

/* Judges one block and hands on what it showed. */
static int hear(struct state *s, int hop, const struct block *b, struct fault *why)
{
	const struct hop *h = &s->n->hops->hops[hop];
	struct ear *ear = ear_for(s, h);
	enum kind votes[FINDINGS_MAX];

	if (outbox_hour_turns(s->outbox, b->start_us)) {
		if (commit(s, why) < 0)
			return -1;
		hourly_line(s);
	}
	track_open(s->track, h, b->mono_us, s->open);
	bool soon = track_soon(s->track, h, b->mono_us);
	const struct judged *j = ear_listen(ear, b, h, s->open);
	const struct look *l = ear_look(ear);
	if (!look_holds(l))
		return 0;       /* not looked */
	outbox_looked(s->outbox, hop, l, soon, j->overload, ear);
	for (int i = 0; i < j->findings; i++)
		votes[i] = track_wants_word(s->track, j->finding[i].band, j->finding[i].channel) ?
			ear_word(ear, b, &j->finding[i]) : KIND_UNKNOWN;
	track_look(s->track, h, l, j, votes);
	return 0;
}

static bool time_is_up(const struct state *s)
{
	return *s->n->stop || s->over ||
	       (s->n->for_us && s->start_mono >= 0 && s->now_mono - s->start_mono >= s->n->for_us);
}

static int sweep(struct state *s, struct fault *why)
{
	const struct watch *n = s->n;
	struct block b;
	struct fault lost;

	int64_t began = -1;

	for (int i = 0; i < n->hops->n && !time_is_up(s); i++) {
		int got = fetch(s, &n->hops->hops[i], &b, &lost);
		if (got == SOURCE_END) {
			s->over = true;
			break;
		}
		if (got == SOURCE_FAULT) {
			if (wait_for_source(s, &lost, why) < 0)
				return -1;
			i--;
			continue;
		}
		source_is_here(s, &b);
		if (s->start_mono < 0)
			s->start_mono = s->committed_mono = b.mono_us;
		if (i == 0)
			began = b.mono_us;
		if (hear(s, i, &b, why) < 0)
			return -1;
		progress_at(n->progress, s->now_mono - s->start_mono);
	}
	s->sweeps++;
	if (began >= 0)
		s->sweep_us = s->now_mono - began;
	return 0;
}

/* After a spell of sweeps the dongle may cool: not looked, and said so by the
 * looked time. */
static void rest(struct state *s)
{
	const struct station *st = s->n->station;

	if (st->rest_us > 0 && s->n->about->tunable && s->sweeps % st->sweeps_per_spell == 0 &&
	    !time_is_up(s))
		let_pass(s, st->rest_us);
}

static void warm_up(struct state *s)
{
	const struct watch *n = s->n;
	char text[100];

	if (!n->about->tunable || n->station->warm_up_us == 0)
		return;
	snprintf(text, sizeof text, "the crystal warmed up for %.0f min before the first look",
		 (double)n->station->warm_up_us / 60e6);
	log_line(LOG_INFO, "warming up: minutes=%.0f", (double)n->station->warm_up_us / 60e6);
	outbox_incident(s->outbox, "warm-up", n->about->start_us,
			n->about->start_us + n->station->warm_up_us, text);
	let_pass(s, n->station->warm_up_us);
}

static int go_on(struct state *s, struct fault *why)
{
	warm_up(s);
	if (learn(s, why) < 0)
		return -1;
	while (!time_is_up(s)) {
		if (sweep(s, why) < 0)
			return -1;
		if (s->n->about->tunable && !s->over)
			track_revisit(s->track, s->sweep_us);
		if (s->now_mono - s->committed_mono >= s->n->station->commit_us && commit(s, why) < 0)
			return -1;
		rest(s);
	}
	return 0;
}

/* What was heard is kept, also when the source failed for good. */
static int close_books(struct state *s, struct fault *why)
{
	const struct watch *n = s->n;

	track_end(s->track);
	if (outbox_commit(s->outbox, n->survey, why) < 0 || survey_begin(n->survey, why) < 0)
		return -1;
	if (survey_end_run(n->survey, n->run, s->now_us, why) < 0 ||
	    survey_commit(n->survey, why) < 0)
		goto undo;
	return 0;
undo:
	survey_rollback(n->survey);
	return -1;
}

int watch_run(const struct watch *n, struct fault *why)
{
	struct state s = { .n = n, .start_mono = -1, .now_us = n->about->start_us };
	struct fault late;
	int result = -1;

	if (prepare(&s, why) < 0)
		goto done;
	result = go_on(&s, why);
	if (s.tries > 0)
		outbox_incident(s.outbox, "lost", s.lost_us, s.now_us,
				"the source was lost and did not come back");
	if (result < 0)
		outbox_incident(s.outbox, "stopped", s.now_us, 0, why->text);
	if (close_books(&s, result < 0 ? &late : why) < 0)
		result = -1;
	progress_clear(n->progress);
	if (result == 0)
		hourly_line(&s);
done:
	finish(&s);
	return result;
}
