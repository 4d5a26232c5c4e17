/* Challenges on the invented town, with two more faults that its tuner has not: a
 * line that rides with the centre, and an image from past the IF. */
#include "tests/town_world.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "daemon/challenge.h"
#include "daemon/dongle/synthesiser.h"
#include "dsp/dice.h"

#define PPM         33.0
#define GAIN_DDB    297
#define SPUR_HZ     351e3       /* from the centre, wherever that is               */
#define IMAGE_HZ    -550e3      /* from the centre of the first hop of 2 m         */
#define FAULTS_LSB  0.8         /* 20 dB over the noise in 7.5 kHz                 */
#define ASKED       8           /* looks between two sweeps at the most            */
#define SWEEPS      45          /* until crystal lines are known to be always on   */
#define OVERS       60          /* of the ghost that is mixed from pagers          */
#define FOUND_MOST  400

/* Stretches of the town that its faults are in, and their parents. */
enum {
	BAND_FM = 0, BAND_2M, BAND_PAGING, BAND_FIRE, BAND_PAGING_HIGH, BAND_TELEMETRY, BAND_70,
	BAND_460, BANDS
};
static const struct band bands[BANDS] = {
	[BAND_FM] = { "fm", "", "", { FREQ_HZ(94000000), FREQ_KHZ(100), 100 }, MODE_WFM, 180000 },
	[BAND_2M] = { "2m", "", "", { FREQ_HZ(144000000), FREQ_KHZ(5), 700 }, MODE_NFM, 16000 },
	[BAND_PAGING] = { "p", "", "", { FREQ_HZ(152000000), FREQ_HZ(2500), 300 }, MODE_NFM, 14000 },
	[BAND_FIRE] = { "f", "", "", { FREQ_HZ(154000000), FREQ_HZ(2500), 600 }, MODE_NFM, 11000 },
	[BAND_PAGING_HIGH] = { "q", "", "", { FREQ_HZ(158100000), FREQ_HZ(2500), 240 }, MODE_NFM, 14000 },
	[BAND_TELEMETRY] = { "t", "", "", { FREQ_HZ(172700000), FREQ_HZ(12500), 57 }, MODE_NFM, 9000 },
	[BAND_70] = { "70", "", "", { FREQ_HZ(431500000), FREQ_HZ(25000), 60 }, MODE_NFM, 16000 },
	[BAND_460] = { "b", "", "", { FREQ_HZ(460000000), FREQ_HZ(6250), 240 }, MODE_NFM, 11000 },
};

struct place {
	struct world      *w;
	void              *source;
	int64_t            began_us;
	struct hop_plan    hops;
	struct ear        *ear[2];
	int                bins[2];
	struct challenges *c;
	struct dice        dice;
	double             sent_hz;     /* who is mirrored: itself in no window */
	struct artefact_row found[FOUND_MOST];
	int                n_found;
};

/* What is added to whole steps is dithered anew, or its harmonics would be there too. */
static void add_line(struct place *p, struct block *b, double off_hz, double amplitude)
{
	uint8_t *iq = (uint8_t *)(uintptr_t)b->iq;
	double start = 1e-6 * (double)(b->mono_us % 1000000);

	for (size_t i = 0; i < b->n; i++) {
		double angle = 2 * M_PI * off_hz * (start + (double)i / RATE);
		double x = iq[2 * i] + amplitude * cos(angle) + dice_unit(&p->dice) - 0.5;
		double y = iq[2 * i + 1] + amplitude * sin(angle) + dice_unit(&p->dice) - 0.5;
		iq[2 * i] = (uint8_t)lround(fmin(255, fmax(0, x)));
		iq[2 * i + 1] = (uint8_t)lround(fmin(255, fmax(0, y)));
	}
}

static struct block visit(struct place *p, const struct visit *v)
{
	const struct hop *h = &p->hops.hops[v->hop];
	double centre = freq_to_hz(h->centre) + freq_to_hz(v->moved);
	double gain = pow(10, -v->lowered_tenth_db / 200.0);
	double image = centre + 2.0 * synthesiser_if_hz(RATE) - p->sent_hz;

	tune_to(p->source, centre / 1e6, PPM, GAIN_DDB - v->lowered_tenth_db);
	struct block b = read_look(p->source, look_samples(RATE, h->bins, 20000));
	if (h->spans[0].band == BAND_2M) {
		add_line(p, &b, SPUR_HZ, FAULTS_LSB * gain);
		if (fabs(image) < RATE / 2.0)
			add_line(p, &b, image, FAULTS_LSB * gain);
	}
	return b;
}

static void take_found(struct place *p, const struct onlooker *o)
{
	struct artefact_row row;

	while (o->found(o->self, &row)) {
		assert_true(p->n_found < FOUND_MOST);
		p->found[p->n_found++] = row;
	}
}

static void see(struct place *p, const struct visit *v, bool learn)
{
	const struct hop *h = &p->hops.hops[v->hop];
	struct ear *ear = p->ear[h->bins == p->bins[0] ? 0 : 1];
	struct block b = visit(p, v);
	struct sight s = { .visit = v, .hop = h, .ppm = PPM, .block = &b, .ear = ear };

	if (learn) {
		ear_learn(ear, &b);
		return;
	}
	if (v->kind == VISIT_CHALLENGE)
		ear_glance(ear, &b);
	else
		s.judged = ear_listen(ear, &b, h, NULL);
	s.look = ear_look(ear);
	struct onlooker o = challenges_onlooker(p->c);
	if (look_holds(s.look))
		o.see(o.self, &s);
	take_found(p, &o);
}

static void sweep(struct place *p, bool learn)
{
	struct challenger asker = challenges_asker(p->c);
	bool held[64];

	memset(held, 1, sizeof held);
	for (int i = 0; i < p->hops.n; i++)
		see(p, &(struct visit){ .kind = VISIT_SWEEP, .hop = i, .looks = 1 }, learn);
	for (int i = 0; i < ASKED && !learn; i++) {
		struct visit v = { .kind = VISIT_CHALLENGE, .looks = 1 };
		if (!asker.wants(asker.self, held, &v))
			break;
		see(p, &v, false);
	}
}

static void make_ears(struct place *p)
{
	for (int i = 0; i < p->hops.n; i++) {
		const struct hop *h = &p->hops.hops[i];
		int k = !p->bins[0] || p->bins[0] == h->bins ? 0 : 1;
		if (p->bins[k])
			continue;
		p->bins[k] = h->bins;
		p->ear[k] = ear_create(&(struct ear_wants){
			.rate_hz = RATE, .bins = h->bins, .samples = look_samples(RATE, h->bins, 20000),
			.sense = { 1e-8, 3 }, .bands = bands, .n_bands = BANDS, .max_seats = 1000 });
		assert_non_null(p->ear[k]);
	}
}

/* An hour into the night, all of its 45 sweeps, then the ghost's overs. */
static void survey(struct place *p)
{
	int n;
	const struct over *o = overs_of(p->w, "Ghost 146.800", &n);

	tune_to(p->source, 100, PPM, GAIN_DDB);
	wait_until(p->source, HOUR_US);
	for (int i = 0; i < 8; i++)
		sweep(p, true);
	ear_settle(p->ear[0]);
	ear_settle(p->ear[1]);
	for (int i = 0; i < SWEEPS; i++)
		sweep(p, false);
	for (int i = over_after(o, n, HOUR_US + 5 * MIN_US), k = 0; i < n && k < OVERS; i++) {
		struct block b = read_look(p->source, 2400);
		if (o[i].end_us - o[i].start_us < 2500000 || b.mono_us - p->began_us > o[i].start_us)
			continue;
		wait_until(p->source, o[i].start_us + 50000);
		for (int s = 0; s < 3; s++)
			sweep(p, false);
		k++;
	}
}

static int build(void **state)
{
	struct place *p = calloc(1, sizeof *p);
	struct source_about about;
	void *world;

	assert_non_null(p);
	world_build(&world);
	p->w = world;
	p->dice = dice_of(SEED, 1);
	p->source = open_town(NULL);
	source_town.about(p->source, &about);
	p->began_us = about.start_us;
	assert_int_equal(hop_plan_sweep(&p->hops, bands, BANDS, RATE), 0);
	for (int i = 0; i < p->hops.n && p->sent_hz == 0; i++)
		if (p->hops.hops[i].spans[0].band == BAND_2M)
			p->sent_hz = freq_to_hz(p->hops.hops[i].centre) +
				     2.0 * synthesiser_if_hz(RATE) - IMAGE_HZ;
	make_ears(p);
	p->c = challenges_create(&(struct challenge_wants){ bands, BANDS, &p->hops });
	assert_non_null(p->c);
	survey(p);
	*state = p;
	return 0;
}

static int drop(void **state)
{
	struct place *p = *state;
	void *world = p->w;

	challenges_destroy(p->c);
	ear_destroy(p->ear[0]);
	ear_destroy(p->ear[1]);
	hop_plan_free(&p->hops);
	source_town.close(p->source);
	world_drop(&world);
	free(p);
	return 0;
}

static double row_hz(const struct artefact_row *r)
{
	return freq_to_hz(raster_centre(&bands[r->band].raster, r->channel));
}

/* The cause found within so many hertz, or "". */
static const char *cause_at(const struct place *p, double hz, double within_hz)
{
	for (int i = 0; i < p->n_found; i++)
		if (fabs(row_hz(&p->found[i]) - hz) <= within_hz)
			return p->found[i].cause;
	return "";
}

#define SHOWN (1 + PPM * 1e-6)

static const struct {
	const char *why;
	double      hz, within_hz;
	const char *cause;
} faults[] = {
	{ "5 x 28.8 MHz", 144e6 * SHOWN, 5e3, "birdie" },
	{ "6 x 28.8 MHz, hardly on a channel", 172.8e6 * SHOWN, 7e3, "birdie" },
	{ "15 x 28.8 MHz, amid two channels", 432e6 * SHOWN, 13e3, "birdie" },
	{ "16 x 28.8 MHz", 460.8e6 * SHOWN, 4e3, "birdie" },
	{ "both pagers together", 146.8e6, 5e3, "product" },
	{ "both FM transmitters", 101.9e6, 50e3, "product" },
};

static void faults_are_found_out(void **state)
{
	struct place *p = *state;

	for (size_t i = 0; i < sizeof faults / sizeof faults[0]; i++) {
		const char *got = cause_at(p, faults[i].hz, faults[i].within_hz);
		if (strcmp(got, faults[i].cause) != 0)
			fail_msg("%s: found to be \"%s\", not %s (seed %llu)", faults[i].why, got,
				 faults[i].cause, (unsigned long long)SEED);
	}
}

static void the_tuners_own_are_found_out(void **state)
{
	struct place *p = *state;
	double centre = p->sent_hz - 2.0 * synthesiser_if_hz(RATE) + IMAGE_HZ;

	assert_string_equal(cause_at(p, centre + SPUR_HZ, 5e3), "spur");
	assert_string_equal(cause_at(p, centre + IMAGE_HZ, 5e3), "image");
}

static bool is_fault(const struct place *p, double hz)
{
	for (size_t i = 0; i < sizeof faults / sizeof faults[0]; i++)
		if (fabs(faults[i].hz - hz) <= 3 * faults[i].within_hz)
			return true;
	for (int i = 0; i < p->hops.n; i++) {
		double off = hz - freq_to_hz(p->hops.hops[i].centre);
		if (fabs(off - SPUR_HZ) < 5e3 || fabs(off - IMAGE_HZ) < 5e3)
			return true;
	}
	return false;
}

static void nobody_real_is_condemned(void **state)
{
	struct place *p = *state;
	int real = 0;

	if (getenv("TELL"))
		for (int i = 0; i < p->n_found; i++)
			print_message("%10.4f %-8s %s\n", row_hz(&p->found[i]) / 1e6, p->found[i].cause,
				      p->found[i].text);
	for (int i = 0; i < p->n_found; i++) {
		const struct artefact_row *r = &p->found[i];
		bool is_real = strcmp(r->cause, CAUSE_REAL) == 0;
		if (!is_real && !is_fault(p, row_hz(r)))
			fail_msg("%.4f MHz is called %s: %s (seed %llu)", row_hz(r) / 1e6, r->cause,
				 r->text, (unsigned long long)SEED);
		if (is_real && is_fault(p, row_hz(r)))
			fail_msg("%.4f MHz is called real: %s (seed %llu)", row_hz(r) / 1e6, r->text,
				 (unsigned long long)SEED);
		real += is_real;
	}
	assert_true(real >= 5);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(nobody_real_is_condemned),
		cmocka_unit_test(faults_are_found_out),
		cmocka_unit_test(the_tuners_own_are_found_out),
	};
	return cmocka_run_group_tests(tests, build, drop);
}
