#include "tests/test.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "dsp/ear.h"
#include "tests/noise.h"

#define RATE    1000000
#define NOISE   1e-4
#define HOPS    60              /* looks elsewhere from which the passband is learnt */
#define SWEEPS  4
#define SECONDS 60
#define SEED    40

/* A minute of looks without a pause at one hop, where one carrier never goes off and
 * another is keyed, while the receiver's gain creeps up by 3 dB. */
static const struct band band = {
	.id = "test", .mode = MODE_NFM, .width_hz = 11000,
	.raster = { FREQ_KHZ(150000), { 37500 }, 60 },
};

enum { STEADY = 12, KEYED = 40 };

struct park {
	struct hop_plan plan;
	struct ear     *ear;
	float _Complex *iq;
	bool           *open;
	struct block    block;
	struct noise    noise;
	int32_t         seats;
};

static void park_open(struct park *p, bool one_place)
{
	*p = (struct park){ .noise = { SEED } };
	assert_int_equal(hop_plan_sweep(&p->plan, &band, 1, RATE), 0);
	const struct hop *h = &p->plan.hops[0];
	p->seats = h->spans[0].count;
	assert_true(p->seats > KEYED);
	struct ear_wants w = {
		.rate_hz = RATE, .bins = h->bins, .samples = look_samples(RATE, h->bins, 20000),
		.sense = { 1e-6, 3 }, .bands = &band, .n_bands = 1, .max_seats = p->seats,
		.one_place = one_place,
	};
	p->ear = ear_create(&w);
	p->iq = calloc(w.samples, sizeof *p->iq);
	p->open = calloc((size_t)p->seats, sizeof *p->open);
	assert_true(p->ear && p->iq && p->open);
	p->block = (struct block){ .iq = p->iq, .format = SAMPLE_CF32, .n = w.samples, .rate_hz = RATE,
				   .centre = h->centre };
}

static void park_close(struct park *p)
{
	ear_destroy(p->ear);
	hop_plan_free(&p->plan);
	free(p->iq);
	free(p->open);
}

static void add_tone(struct park *p, int32_t channel, double ratio)
{
	struct freq at = raster_centre(&band.raster, channel);
	double hz = freq_to_hz((struct freq){ at.thirds - p->block.centre.thirds });

	tone_add(p->iq, p->block.n, ratio * NOISE * band_measured_hz(&band) / RATE, hz, RATE,
		 6 * noise_uniform(&p->noise));
}

static void hear_air(struct park *p, double gain, bool steady, bool keyed)
{
	memset(p->iq, 0, p->block.n * sizeof *p->iq);
	noise_add(&p->noise, p->iq, p->block.n, NOISE);
	if (steady)
		add_tone(p, STEADY, 100);
	if (keyed)
		add_tone(p, KEYED, 30);
	for (size_t i = 0; i < p->block.n; i++)
		p->iq[i] *= (float)sqrt(gain);
}

/* What was wrong in a minute of looks. */
struct tally {
	int    looks, steady, keyed_on, keyed_off, on, others;
	double worst_db;                /* floor of any channel, the mean of a second */
};

static void note_floors(const struct park *p, double gain, double *sum)
{
	for (int32_t c = 0; c < p->seats; c++)
		sum[c] += 10 * log10(ear_floor(p->ear, 0, c) /
				     (gain * NOISE * band_measured_hz(&band) / RATE));
}

static struct tally minute(struct park *p, bool learning)
{
	struct tally t = { 0 };
	double off[64] = { 0 };
	int per_second = (int)(RATE / p->block.n);

	for (int look = 0; look < SECONDS * per_second; look++, t.looks++) {
		double gain = pow(10, 0.3 * look / (SECONDS * per_second));
		bool keyed = look / (3 * per_second) % 2;       /* three seconds on, three off */
		hear_air(p, gain, true, keyed);
		const struct hop *h = &p->plan.hops[0];
		const struct judged *j = learning ? ear_listen(p->ear, &p->block, h, p->open) :
						    ear_listen_on(p->ear, &p->block, h, p->open);
		for (int32_t c = 0; c < p->seats; c++) {
			bool busy = p->open[c] = j->verdict[c] == VERDICT_BUSY;
			t.others += busy && c != STEADY && c != KEYED;
		}
		t.steady += p->open[STEADY];
		t.on += keyed;
		t.keyed_on += keyed && p->open[KEYED];
		t.keyed_off += !keyed && p->open[KEYED];
		note_floors(p, gain, off);
		for (int32_t c = 0; look % per_second == per_second - 1 && c < p->seats; c++) {
			t.worst_db = fmax(t.worst_db, fabs(off[c] / per_second));
			off[c] = 0;
		}
	}
	return t;
}

/* A tuner comes from a sweep and learns nothing while it stays; a recording never moves,
 * and learns all the time. */
static void a_minute_at_one_hop(void **state)
{
	static const struct {
		const char *why;
		bool        one_place;
		double      floor_db;
	} rows[] = {
		{ "a park between sweeps", false, 0.25 },
		{ "a recording",           true,  0.6 },
	};
	(void)state;

	for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
		struct park p;
		park_open(&p, rows[i].one_place);
		/* In the sweeps the steady one is heard at its own hop only. */
		for (int look = 0; look < HOPS * SWEEPS; look++) {
			hear_air(&p, 1, rows[i].one_place || look % HOPS == 0, rows[i].one_place && look % 2);
			ear_learn(p.ear, &p.block);
		}
		ear_settle(p.ear);
		struct tally t = minute(&p, rows[i].one_place);
		printf("%-24s steady %d of %d, keyed %d of %d and %d off, others %d, floor %.2f dB\n",
		       rows[i].why, t.steady, t.looks, t.keyed_on, t.on, t.keyed_off, t.others, t.worst_db);
		if (t.steady < t.looks || t.keyed_on < t.on || t.keyed_off > 0 || t.others > 2 ||
		    t.worst_db > rows[i].floor_db)
			fail_msg("%s: steady %d of %d, keyed %d of %d and %d off, others %d, floor %.2f dB off "
				 "(seed %d)", rows[i].why, t.steady, t.looks, t.keyed_on, t.on, t.keyed_off,
				 t.others, t.worst_db, SEED);
		park_close(&p);
	}
	fflush(stdout);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(a_minute_at_one_hop),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
