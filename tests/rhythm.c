#include "tests/rhythm.h"

#include <math.h>

#define SQUELCH_DB 8.0          /* 2 dB over the tools' own: an over at its edge may count or not */
#define NEAR_HZ    6250.0       /* an emission so near is somebody's               */
#define SKIRT_HZ   100e3
#define STRONG_DB  30.0         /* over the noise in 12.5 kHz                      */
#define RHYTHMS    500          /* watches, begun at other moments                 */
#define CYCLE_US   INT64_C(96000000)
#define SWEEP_US   INT64_C(2000000)
#define SWEEPS     3
#define LOOK_US    20000

double truth_hz(const struct truth *t, const struct emitter *e)
{
	const struct town *town = night_town(t->night);
	double ppm = e->role == SENDER_BIRDIE ? town->crystal_ppm + town->warm_ppm : 0;

	return freq_to_hz(e->frequency) * (1 + ppm * 1e-6);
}

static bool is_met(const struct truth *t, const struct emitter *e, const struct over *o, int count,
		   int64_t us)
{
	int i = over_after(o, count, us);

	return us >= t->from_us && us < t->to_us && i < count && o[i].start_us <= us + LOOK_US / 2 &&
	       e->level_dbm + o[i].level_db - town_noise_dbm(night_town(t->night), e, us) >= SQUELCH_DB;
}

static int met_from(const struct truth *t, const struct emitter *e, const struct over *o, int count,
		    int64_t phase_us)
{
	int met = 0;

	for (int64_t at = t->from_us - phase_us; at < t->to_us; at += CYCLE_US) {
		bool on = false;
		for (int k = 0; k < SWEEPS && !on; k++)
			on = is_met(t, e, o, count, at + k * SWEEP_US);
		met += on;
	}
	return met;
}

struct met truth_met(const struct truth *t, const struct emitter *e)
{
	struct met m = { .least = 1000000 };
	int count;
	const struct over *o = night_overs(t->night, (int)(e - night_town(t->night)->emitters), &count);

	for (int i = 0; i < RHYTHMS; i++) {
		int met = met_from(t, e, o, count, CYCLE_US * i / RHYTHMS);
		m.least = met < m.least ? met : m.least;
		m.missed += met == 0 ? 1.0 / RHYTHMS : 0;
	}
	return m;
}

const struct emitter *truth_sender(const struct truth *t, double hz)
{
	const struct emitter *best = NULL;

	for (int i = 0; i < night_town(t->night)->n_emitters; i++) {
		const struct emitter *e = &night_town(t->night)->emitters[i];
		double reach = e->role == SENDER_BIRDIE ? TRUTH_BIRDIE_HZ :
			NEAR_HZ + (e->role == SENDER_NOISE ? e->wander_hz : 0);
		double off = fabs(truth_hz(t, e) - hz);
		reach = fmax(reach, freq_to_hz(e->step) / 2);
		if (off <= fmax(reach, freq_to_hz(e->width) / 2) &&
		    (!best || off < fabs(truth_hz(t, best) - hz)))
			best = e;
	}
	return best;
}

bool truth_requires(const struct truth *t, const struct emitter *e)
{
	return e->role != SENDER_NOISE && (e->role == SENDER_BIRDIE || truth_met(t, e).least >= 2);
}

bool truth_strong(const struct truth *t, double hz)
{
	const struct town *town = night_town(t->night);

	for (int i = 0; i < town->n_emitters; i++)
		if (fabs(freq_to_hz(town->emitters[i].frequency) - hz) < SKIRT_HZ &&
		    town->emitters[i].level_dbm - town->noise_dbm > STRONG_DB)
			return true;
	return false;
}
