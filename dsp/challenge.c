#include "dsp/challenge.h"

#include <math.h>
#include <stdio.h>

#define CRYSTAL_HZ  28.8e6
#define SURE_SIGMA  3.0
#define STEADY_DB   3.0         /* both ends of a trial agree this well, and 3 sigma: the  */
				/* fading of a quarter of a second is less (common practice) */
#define LEVEL_DB    6.0         /* passband and spread between two places in the window    */
#define GONE_DB     6.0         /* what went should have stood this far over what can hide */
#define STEEP       1.5         /* times the gain: between the 1 of a signal and the 2 and 3 */
				/* of products                                             */
#define STEEPEST    4.0         /* and what fell farther was off just then                 */
#define STEPS_DB    1.5         /* a gain table is true to about this                      */
#define PLACE_HZ    400.0       /* a line is found again within this, or ...               */
#define PLACE_WIDE  0.3         /* ... this share of a modulated one's width               */
#define BARE        0.9         /* share in one line of what is not modulated              */
#define ALWAYS      0.95        /* of the looks                                            */
#define ALWAYS_LOOKS 20
#define SPREAD_DB   2.5         /* levels of a crystal's line keep within this             */
#define CHANCE      0.001       /* that a line keeps to its parents by luck                */
#define ALIAS_FADES 4           /* bursts miss a look, but not always the moved one        */

static const double factors[MOVES] = {
	[MOVE_STAYS] = 0, [MOVE_RIDES] = 1, [MOVE_MIRRORS] = 2, [MOVE_BACK] = -1, [MOVE_TRIPLE] = 3,
};

double move_factor(enum move m)
{
	return factors[m];
}

int challenge_multiple(double hz, double applied_ppm, double error_hz, double *off_hz)
{
	double shown = CRYSTAL_HZ * (1 + applied_ppm * 1e-6), n = round(hz / shown);

	*off_hz = hz - n * shown;
	return n >= 1 && fabs(*off_hz) <= error_hz ? (int)n : 0;
}

/* ---- one trial ---- */

static double sigma(const struct sighting *a, const struct sighting *b)
{
	return SURE_SIGMA * hypot(a->sigma_db, b->sigma_db);
}

bool trial_counts(const struct trial *t)
{
	return t->home.seen && t->again.seen &&
	       fabs(t->home.power_db - t->again.power_db) <= STEADY_DB + sigma(&t->home, &t->again);
}

bool trial_broke(const struct trial *t)
{
	return t->home.seen && t->again.tried && !t->again.seen &&
	       t->home.power_db - t->again.power_db > sigma(&t->home, &t->again);
}

static double usual_db(const struct trial *t)
{
	return 0.5 * (t->home.power_db + t->again.power_db);
}

/* Something of about its level where it should have gone. */
static bool found(const struct evidence *e, const struct trial *t, enum move m)
{
	const struct sighting *s = &t->moved[m];
	double at = t->home.hz + factors[m] * t->shift_hz;

	return s->seen && fabs(s->power_db - usual_db(t)) <= LEVEL_DB + sigma(s, &t->home) &&
	       fabs(s->hz - at) <= fmax(PLACE_HZ, PLACE_WIDE * e->wide_hz);
}

/* It should have been plain where it was, and was not, or far weaker. */
static bool faded(const struct trial *t)
{
	const struct sighting *s = &t->moved[MOVE_STAYS];

	if (!s->tried)
		return false;
	return usual_db(t) - s->power_db > (s->seen ? LEVEL_DB : GONE_DB) + sigma(s, &t->home);
}

static void move_of(const struct evidence *e, const struct trial *t, struct ruling *r)
{
	r->shift_hz = t->shift_hz;
	if (found(e, t, MOVE_STAYS)) {
		r->moved[MOVE_STAYS]++;
		return;
	}
	if (!faded(t))
		return;
	r->faded++;
	for (enum move m = MOVE_RIDES; m < MOVES; m++)
		r->moved[m] += found(e, t, m);
}

/* How far it fell with the gain. One that went is known to have fallen at least
 * so far. */
static void fall_of(const struct trial *t, struct ruling *r)
{
	const struct sighting *w = &t->weaker;
	double fall = usual_db(t) - w->power_db, doubt = sigma(w, &t->home);

	if (!w->tried || t->less_db <= 0)
		return;
	if (fall - doubt > STEEPEST * t->less_db + STEPS_DB)
		r->gone++;
	else if (fall - doubt > STEEP * t->less_db + STEPS_DB)
		r->steep++;
	else if (w->seen && fall + doubt < STEEP * t->less_db)
		r->plain++;
	else
		return;
	r->less_db += t->less_db;
	r->fall_db += fall;
	r->fell++;
}

/* ---- all of them ---- */

static void add_up(const struct evidence *e, struct ruling *r, double *spread_db)
{
	double low = INFINITY, high = -INFINITY;

	for (int i = 0; i < e->trials; i++) {
		const struct trial *t = &e->trial[i];
		if (!trial_counts(t))
			continue;
		r->trials++;
		r->over_db += 0.5 * (t->home.over_db + t->again.over_db);
		r->line += 0.5 * (t->home.line + t->again.line);
		low = fmin(low, usual_db(t) + SURE_SIGMA * t->home.sigma_db);
		high = fmax(high, usual_db(t) - SURE_SIGMA * t->home.sigma_db);
		move_of(e, t, r);
		fall_of(t, r);
	}
	if (r->trials > 0) {
		r->over_db /= r->trials;
		r->line /= r->trials;
	}
	if (r->fell > 0) {
		r->less_db /= r->fell;
		r->fall_db /= r->fell;
	}
	r->share_on = e->looks > 0 ? (double)e->on / e->looks : 0;
	*spread_db = fmax(0, high - low);      /* beyond what measuring does */
}

/* Twice is no accident: a real one would have to be off the air, and another on
 * it at just the right place, in two single looks. */
static enum ruling_word by_move(const struct ruling *r)
{
	static const enum ruling_word meaning[MOVES] = {
		[MOVE_RIDES] = RULING_SPUR, [MOVE_MIRRORS] = RULING_IMAGE,
		[MOVE_BACK] = RULING_HARMONIC, [MOVE_TRIPLE] = RULING_HARMONIC,
	};

	for (enum move m = MOVE_RIDES; m < MOVES && r->moved[MOVE_STAYS] == 0; m++)
		if (r->moved[m] >= 2 && r->moved[m] == r->faded)
			return meaning[m];
	return RULING_UNSURE;
}

/* Heard so often with its parents, and never without, that it is no chance. */
static bool keyed_by_parents(const struct evidence *e)
{
	return e->parents > 0 && e->without == 0 && e->with > 0 &&
	       pow(fmax(e->parents_share, 1e-3), e->with) < CHANCE;
}

/* Once is no proof: what comes in bursts may be off in the one look that matters.
 * But then trials break as well. */
#define PRODUCT_KEYED   4
#define PRODUCT_PARENTS 5
#define PRODUCT_ALONE   6       /* nobody known to make it */
#define BROKEN_SHARE    0.125

static bool product(const struct evidence *e, const struct ruling *r)
{
	int needed = e->parents == 0 ? PRODUCT_ALONE :
		     keyed_by_parents(e) ? PRODUCT_KEYED : PRODUCT_PARENTS;

	return r->steep >= needed && r->plain + r->gone + r->faded + e->without == 0 &&
	       e->broken <= BROKEN_SHARE * r->steep;
}

static bool always_bare(const struct evidence *e, const struct ruling *r, double spread_db)
{
	return e->looks >= ALWAYS_LOOKS && r->share_on >= ALWAYS && r->trials >= 2 &&
	       r->line >= BARE && spread_db <= SPREAD_DB;
}

struct ruling challenge_judge(const struct evidence *e)
{
	struct ruling r = { 0 };
	double spread_db;

	add_up(e, &r, &spread_db);
	r.multiple = challenge_multiple(e->hz, e->applied_ppm, e->show_error_hz,
					&r.multiple_off_hz);
	bool bare = always_bare(e, &r, spread_db), stays = r.moved[MOVE_STAYS] >= 2 && r.faded == 0;

	if (by_move(&r) != RULING_UNSURE)
		r.is = by_move(&r);
	else if (r.multiple && bare && stays && r.steep == 0)
		r.is = RULING_BIRDIE;
	else if (product(e, &r))
		r.is = RULING_PRODUCT;
	else if (e->beyond_hz > 0 && r.faded >= ALIAS_FADES && r.moved[MOVE_STAYS] == 0)
		r.is = RULING_ALIAS;
	/* A bare line that never goes off may still be made in here. */
	else if (stays && r.plain >= 2 && r.steep == 0 && !bare && !(r.multiple && r.line >= BARE))
		r.is = RULING_REAL;
	return r;
}

/* ---- for people ---- */

static void tell_parents(const struct evidence *e, char *out, size_t size)
{
	if (e->parents == 2)
		snprintf(out, size, "2 x %.4f - %.4f MHz, ", e->parent_hz[0] / 1e6,
			 e->parent_hz[1] / 1e6);
	else if (e->parents == 3)
		snprintf(out, size, "%.4f + %.4f - %.4f MHz, ", e->parent_hz[0] / 1e6,
			 e->parent_hz[1] / 1e6, e->parent_hz[2] / 1e6);
	else
		snprintf(out, size, "mixed from stronger ones, ");
}

static void tell_birdie(const struct evidence *e, const struct ruling *r, char *out, size_t size)
{
	(void)e;
	snprintf(out, size,
		 "%d times the crystal's 28.8 MHz (%+.0f Hz), bare, on %.0f %% of the "
		 "time, stays when the centre moves",
		 r->multiple, r->multiple_off_hz, 100 * r->share_on);
}

static void tell_spur(const struct evidence *e, const struct ruling *r, char *out, size_t size)
{
	(void)e;
	snprintf(out, size, "went along when the centre moved %+.0f kHz, %d of %d times",
		 r->shift_hz / 1e3, r->moved[MOVE_RIDES], r->trials);
}

static void tell_image(const struct evidence *e, const struct ruling *r, char *out, size_t size)
{
	(void)e;
	snprintf(out, size, "went %+.0f kHz when the centre moved %+.0f kHz, as mirror images do, "
		 "%d of %d times", 2 * r->shift_hz / 1e3, r->shift_hz / 1e3, r->moved[MOVE_MIRRORS],
		 r->trials);
}

static void tell_harmonic(const struct evidence *e, const struct ruling *r, char *out, size_t size)
{
	(void)e;
	snprintf(out, size,
		 "went the wrong way when the centre moved %+.0f kHz, as by a harmonic "
		 "of the tuner's oscillator, %d of %d times",
		 r->shift_hz / 1e3, r->faded, r->trials);
}

static void tell_alias(const struct evidence *e, const struct ruling *r, char *out, size_t size)
{
	snprintf(out, size, "went when the centre moved %+.0f kHz, %d of %d times: folded in from "
		 "%.4f MHz", r->shift_hz / 1e3, r->faded, r->trials, e->beyond_hz / 1e6);
}

static void tell_product(const struct evidence *e, const struct ruling *r, char *out, size_t size)
{
	char parents[64];

	tell_parents(e, parents, sizeof parents);
	snprintf(out, size, "%sfell %.0f dB or more for %.0f dB less gain, %d of "
		 "%d times", parents, r->fall_db, r->less_db, r->steep, r->trials);
}

static void tell_plain(const struct evidence *e, const struct ruling *r, char *out, size_t size)
{
	(void)e;
	snprintf(out, size,
		 "stayed when the centre moved %+.0f kHz, %d of %d times, and fell "
		 "%.0f dB for %.0f dB less gain",
		 r->shift_hz / 1e3, r->moved[MOVE_STAYS], r->trials, r->fall_db, r->less_db);
}

static const struct {
	const char *name;
	bool        is_false;
	void      (*tell)(const struct evidence *e, const struct ruling *r, char *out, size_t size);
} words[RULING_WORDS] = {
	[RULING_UNSURE] = { "unsure", false, tell_plain },
	[RULING_REAL] = { "real", false, tell_plain },
	[RULING_BIRDIE] = { "birdie", true, tell_birdie },
	[RULING_SPUR] = { "spur", true, tell_spur },
	[RULING_IMAGE] = { "image", true, tell_image },
	[RULING_HARMONIC] = { "harmonic", true, tell_harmonic },
	[RULING_ALIAS] = { "alias", true, tell_alias },
	[RULING_PRODUCT] = { "product", true, tell_product },
};

const char *ruling_name(enum ruling_word w)
{
	return words[w].name;
}

bool ruling_false(enum ruling_word w)
{
	return words[w].is_false;
}

char *challenge_tell(const struct evidence *e, const struct ruling *r, char *out, size_t size)
{
	words[r->is].tell(e, r, out, size);
	return out;
}
