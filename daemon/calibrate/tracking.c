#include "daemon/calibrate/tracking.h"

#include <inttypes.h>
#include <math.h>
#include <stdlib.h>

#include "daemon/log.h"
#include "dsp/drift.h"
#include "dsp/roll.h"

#define MOVES_PPM     1.0               /* so far a cold crystal goes during a hunt     */
#define WARM_US       INT64_C(1200000000)       /* it is warm after that                */
#define HUNT_LEAST_US INT64_C(40000000)
#define HUNT_MOST_US  INT64_C(120000000)
#define JUDGE_US      INT64_C(10000000)
#define LOOKS         5                 /* a carrier heard in fewer is no witness       */
#define HUNT_SURE_PPM 0.5               /* the rest comes with time                     */
#define ENOUGH_PPM    0.25
#define UNKNOWN_PPM   3.0               /* how sure the settings are, when nothing is told */
#define LOST_PPM      1.5               /* so unsure it is hunted for again, ...        */
#define AGAIN_PPM     20.0              /* ... so far around                            */
#define GLANCE_US     INT64_C(4000000)  /* lines of a hop are wanted that often         */

struct tracking {
	const struct watch *n;
	int                 post;
	struct ledger      *ledger;
	struct crystal     *crystal;
	struct roll        *roll;               /* while it hunts                       */
	struct drift       *drift;
	int64_t            *glanced;            /* [hops] mono                          */
	bool                begun;              /* the first hunt is over               */
	bool                known;              /* was told once                        */
	double              range_ppm, around_ppm;
	int64_t             hunt_us, judged_us; /* mono; hunt_us -1: does not           */
	int64_t             hour;
	struct line         line[LINES_MAX];
	struct heard        heard[ROLL_MAX];
	struct witness      witness[ROLL_MAX];
};

struct tracking *tracking_create(const struct watch *n, int post, struct ledger *l)
{
	struct tracking *t = calloc(1, sizeof *t);

	if (!t)
		return NULL;
	t->n = n;
	t->post = post;
	t->ledger = l;
	t->hunt_us = -1;
	t->range_ppm = CRYSTAL_RANGE_PPM;
	t->crystal = crystal_create(n->bands, n->n_bands);
	t->roll = roll_create();
	t->drift = drift_create(n->bands, n->n_bands);
	t->glanced = calloc((size_t)n->hops->n + 1, sizeof *t->glanced);
	if (!t->crystal || !t->roll || !t->drift || !t->glanced)
		goto fail;
	drift_begin(t->drift, n->station->ppm, UNKNOWN_PPM, false, 0);
	return t;
fail:
	tracking_destroy(t);
	return NULL;
}

void tracking_destroy(struct tracking *t)
{
	if (!t)
		return;
	crystal_destroy(t->crystal);
	roll_destroy(t->roll);
	drift_destroy(t->drift);
	free(t->glanced);
	free(t);
}

static const char *label(const struct tracking *t)
{
	return t->n->sources[t->post].about.label;
}

/* ---- the hunt ---- */

/* What the survey says of this run: readers need it to tell the receiver's own
 * lines. The books of the first receiver. */
static void enter_ppm(struct tracking *t, double ppm)
{
	struct fault why;

	if (t->post > 0)
		return;
	if (survey_begin(t->n->survey, &why) == 0 &&
	    survey_set_ppm(t->n->survey, t->n->run, ppm, &why) == 0 &&
	    survey_commit(t->n->survey, &why) == 0)
		return;
	survey_rollback(t->n->survey);
	log_line(LOG_WARNING, "crystal's error can't be written: %s", why.text);
}

static void told(struct tracking *t, const struct crystal_verdict *v, const struct look *l)
{
	const struct station *s = t->n->station;

	progress_clear(t->n->progress);
	log_line(
		LOG_NOTICE,
		"crystal told: source=\"%s\" ppm=%+.2f error=%.2f agree=%d bands=%d settings=%+.2f",
		label(t), v->ppm, v->error_ppm, v->agree, v->bands, s->ppm);
	ledger_incident(t->ledger, "crystal", l->start_us, 0,
			"%s: %+.2f ppm, +- %.2f, told by %d carriers "
			"in %d bands; the settings say %+.2f",
			label(t), v->ppm, v->error_ppm, v->agree, v->bands, s->ppm);
	bool moves = s->warm_up_us < WARM_US && !t->begun;
	drift_begin(t->drift, v->ppm, hypot(v->error_ppm, moves ? MOVES_PPM : 0), moves,
		    l->mono_us);
	t->known = true;
	enter_ppm(t, v->ppm);
}

static void not_told(struct tracking *t, const struct crystal_verdict *v, const struct look *l)
{
	double ppm = drift_state(t->drift).ppm;

	if (t->begun)
		return;
	progress_clear(t->n->progress);
	log_line(
		LOG_WARNING,
		"crystal not told: source=\"%s\" agree=%d bands=%d odds=%.3g, going on with %+.2f ppm",
		label(t), v->agree, v->bands, v->odds, ppm);
	ledger_incident(t->ledger, "crystal", l->start_us, 0,
			"%s: its error could not be told at first, "
			"taken for %+.2f ppm",
			label(t), ppm);
	drift_begin(t->drift, ppm, UNKNOWN_PPM, true, l->mono_us);
}

static struct crystal_verdict judge(struct tracking *t)
{
	const struct freqs *known = &t->n->station->references;
	struct crystal_verdict v;
	struct crystal_wants w = {
		.least_ppm = t->around_ppm - t->range_ppm, .most_ppm = t->around_ppm + t->range_ppm,
		.witnesses = CRYSTAL_WITNESSES, .bands = CRYSTAL_BANDS, .sure_ppm = HUNT_SURE_PPM,
		.reference = known->at, .references = known->n,
	};
	int n = roll_call(t->roll, LOOKS, t->heard);

	for (int i = 0; i < n; i++)
		t->witness[i] = t->heard[i].witness;
	crystal_judge(t->crystal, &w, t->witness, n, &v);
	return v;
}

/* Lines as if nothing were corrected for: meanwhile the correction may change. */
static void call(struct tracking *t, const struct look *l, int lines, double applied_ppm)
{
	for (int i = 0; i < lines; i++) {
		struct line line = t->line[i];
		if (crystal_own(line.hz, applied_ppm))
			continue;
		line.hz *= 1 - applied_ppm * 1e-6;
		roll_hear(t->roll, &line, l->mono_us);
	}
}

static void hunt(struct tracking *t, const struct look *l, int lines, double applied_ppm)
{
	if (t->hunt_us < 0) {
		t->hunt_us = t->judged_us = l->mono_us;
		roll_reset(t->roll);
	}
	call(t, l, lines, applied_ppm);
	int64_t for_us = l->mono_us - t->hunt_us;
	bool last = for_us >= HUNT_MOST_US;
	if (!last && (for_us < HUNT_LEAST_US || l->mono_us - t->judged_us < JUDGE_US))
		return;
	t->judged_us = l->mono_us;
	struct crystal_verdict v = judge(t);
	if (!last && (v.word != CRYSTAL_TOLD || v.error_ppm > ENOUGH_PPM))
		return;
	if (v.word == CRYSTAL_TOLD)
		told(t, &v, l);
	else
		not_told(t, &v, l);
	t->hunt_us = -1;
	t->begun = true;
}

/* ---- the chase ---- */

static void hourly(struct tracking *t, const struct look *l)
{
	struct drift_state d = drift_state(t->drift);
	int64_t hour = l->start_us / HOUR_US;

	if (hour == t->hour)
		return;
	t->hour = hour;
	ledger_incident(t->ledger, "crystal", l->start_us, 0,
			"%s: %+.2f ppm, +- %.2f, told by %d channels", label(t), d.ppm, d.error_ppm,
			d.channels);
	if (t->n->progress->shown)
		return;
	log_line(LOG_INFO,
		 "crystal: source=\"%s\" ppm=%+.2f error=%.2f channels=%d silent=%" PRId64 "s",
		 label(t), d.ppm, d.error_ppm, d.channels, (l->mono_us - d.told_us) / 1000000);
}

static bool unsure(const struct tracking *t)
{
	return drift_state(t->drift).error_ppm > LOST_PPM;
}

static void follow(struct tracking *t, const struct look *l, int lines, double applied_ppm)
{
	for (int i = 0; i < lines; i++)
		drift_hear(t->drift, &t->line[i], applied_ppm, l->mono_us);
	if (!drift_turn(t->drift, l->mono_us))
		return;
	hourly(t, l);
	if (!unsure(t)) {
		t->hunt_us = -1;
	} else if (t->hunt_us < 0 && t->known) {
		t->around_ppm = drift_state(t->drift).ppm;
		t->range_ppm = AGAIN_PPM;
	}
}

void tracking_look(struct tracking *t, int hop, const struct ear *ear, double *ppm)
{
	const struct look *l = ear_look(ear);

	/* A park shows the same again and again. */
	if (t->begun && l->mono_us - t->glanced[hop] < GLANCE_US)
		return;
	t->glanced[hop] = l->mono_us;
	int lines = ear_lines(ear, t->line);
	if (!t->begun || unsure(t))
		hunt(t, l, lines, *ppm);
	if (t->begun)
		follow(t, l, lines, *ppm);
	/* Whole hundredths, so that a tuning is only changed when it matters. */
	*ppm = rint(drift_state(t->drift).ppm * 100) / 100;
}

bool tracking_overhear(struct tracking *t, int hop, struct ear *ear, const struct block *b,
		       double *ppm)
{
	ear_overhear(ear, b);
	tracking_look(t, hop, ear, ppm);
	return !t->begun;
}
