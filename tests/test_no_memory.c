#include "tests/test.h"

#include <stdbool.h>
#include <stdlib.h>

#include "dsp/click.h"
#include "dsp/crystal.h"
#include "dsp/deaf.h"
#include "dsp/drift.h"
#include "dsp/ear.h"
#include "dsp/inquiry.h"
#include "dsp/law.h"
#include "dsp/roll.h"
#include "dsp/track.h"
#include "dsp/window.h"
#include "dsp/zoom.h"
#include "tests/painted.h"

/* dsp cannot fail once created; that it may not be created it must say, and leave nothing
 * behind. What it asks for comes by here, by --wrap of the linker, which leaves no way to hand
 * anything over but these: */
static int allowed = -1;        /* so many more are given; -1: all */
static int asked, held;

void *__real_calloc(size_t n, size_t size);
void *__real_malloc(size_t size);
void *__real_aligned_alloc(size_t on, size_t size);
void  __real_free(void *p);
void *__wrap_calloc(size_t n, size_t size);
void *__wrap_malloc(size_t size);
void *__wrap_aligned_alloc(size_t on, size_t size);
void  __wrap_free(void *p);

static bool given(void)
{
	asked++;
	held += allowed != 0;
	return allowed < 0 || allowed-- > 0;
}

void *__wrap_calloc(size_t n, size_t size)
{
	return given() ? __real_calloc(n, size) : NULL;
}

void *__wrap_malloc(size_t size)
{
	return given() ? __real_malloc(size) : NULL;
}

void *__wrap_aligned_alloc(size_t on, size_t size)
{
	return given() ? __real_aligned_alloc(on, size) : NULL;
}

void __wrap_free(void *p)
{
	held -= p != NULL;
	__real_free(p);
}

/* One life of each; whether it could be created. */

static bool click(const struct painted *p)
{
	struct click *c = click_create(&p->look, 40, 400);
	click_destroy(c);
	return c;
}

static bool a_floor(const struct painted *p)
{
	struct floor *f = floor_create(&p->look, p->window, PAINTED_BINS / 2, true);
	floor_destroy(f);
	return f;
}

static bool detector(const struct painted *p)
{
	struct detector *d = detector_create(&(struct sense){ 1e-6, 3 }, &p->look, p->window, PAINTED_BINS / 2,
					     p->band, 1, PAINTED_SEATS);
	detector_destroy(d);
	return d;
}

static bool law(const struct painted *p)
{
	struct law law;
	return law_of_noise(&law, p->window, PAINTED_BINS, PAINTED_BINS / 2, 48, 0, 6);
}

static bool channeliser(const struct painted *p)
{
	struct channeliser *c = channeliser_create(PAINTED_RATE, p->look.bins, 12000);
	channeliser_destroy(c);
	return c;
}

static bool ear(const struct painted *p)
{
	struct ear *e = ear_create(&(struct ear_wants){
		.rate_hz = PAINTED_RATE, .bins = PAINTED_BINS, .samples = 12000, .sense = { 1e-6, 3 },
		.bands = p->band, .n_bands = 1, .max_seats = PAINTED_SEATS });
	ear_destroy(e);
	return e;
}

static bool sweep(const struct painted *p)
{
	struct hop_plan plan;
	bool done = hop_plan_sweep(&plan, p->band, 1, PAINTED_RATE) == 0;
	if (done)
		hop_plan_free(&plan);
	return done;
}

static bool fixed(const struct painted *p)
{
	struct hop_plan plan;
	bool done = hop_plan_fixed(&plan, p->band, 1, PAINTED_RATE, p->look.centre) == 0;
	if (done)
		hop_plan_free(&plan);
	return done;
}

static bool track(const struct painted *p)
{
	struct track *t = track_create(&(struct track_rules){ 0 }, p->band, 1, NULL, NULL, NULL);
	track_destroy(t);
	return t;
}

static bool deaf(const struct painted *p)
{
	struct deaf *d = deaf_create(p->hop.n_spans);
	deaf_destroy(d);
	return d;
}

static bool crystal(const struct painted *p)
{
	struct crystal *c = crystal_create(p->band, 1);
	crystal_destroy(c);
	return c;
}

static bool drift(const struct painted *p)
{
	struct drift *d = drift_create(p->band, 1);
	drift_destroy(d);
	return d;
}

static bool a_roll(const struct painted *p)
{
	struct roll *r = p ? roll_create() : NULL;
	roll_destroy(r);
	return r;
}

static bool reel(const struct painted *p)
{
	struct reel *r = reel_create(p->hop.rate_hz, 12000);
	reel_destroy(r);
	return r;
}

static bool zoom(const struct painted *p)
{
	struct zoom *z = zoom_create(p->hop.rate_hz, 12000, ZOOM_NARROW_HZ);
	zoom_destroy(z);
	return z;
}

static bool inquiry(const struct painted *p)
{
	struct inquiry *q = inquiry_create(p->hop.rate_hz, 12000);
	inquiry_destroy(q);
	return q;
}

static const struct {
	const char *why;
	bool      (*live)(const struct painted *p);
	int         least;              /* things it surely asks for */
} lives[] = {
	{ "click", click, 5 },       { "floor", a_floor, 8 },     { "detector", detector, 5 },
	{ "law", law, 3 },           { "channeliser", channeliser, 6 }, { "ear", ear, 20 },
	{ "sweep", sweep, 2 },       { "fixed hop", fixed, 2 },   { "track", track, 4 },
	{ "deaf", deaf, 2 },         { "crystal", crystal, 2 },   { "drift", drift, 1 },
	{ "roll", a_roll, 1 },       { "reel", reel, 2 },         { "zoom", zoom, 8 },
	{ "inquiry", inquiry, 100 },
};

static void what_has_no_memory_says_so_and_keeps_none(void **state)
{
	struct painted p;
	(void)state;

	painted_open(&p);
	for (size_t i = 0; i < sizeof lives / sizeof lives[0]; i++) {
		asked = held = 0;
		allowed = -1;
		assert_true(lives[i].live(&p));
		int all = asked;
		if (all < lives[i].least || held != 0)
			fail_msg("%s: asked %d times, kept %d", lives[i].why, all, held);
		/* Of hundreds alike a few will do. */
		for (int n = 0; n < all; n += n < 40 ? 1 : 37) {
			asked = held = 0;
			allowed = n;
			bool done = lives[i].live(&p);
			allowed = -1;
			if (done || held != 0)
				fail_msg("%s, given %d of %d: done %d, kept %d", lives[i].why, n, all, done, held);
		}
	}
	painted_close(&p);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(what_has_no_memory_says_so_and_keeps_none),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
