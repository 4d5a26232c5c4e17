#include "tests/test.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "tests/detect_world.h"
#include "tests/liquid_signals.h"

#define RATE 2400000
#define AIRS 4                  /* buffers of signals for each share of busy channels */

/* Hops with so many channels in use, 10 to 50 dB up, and which. */
struct crowd {
	struct bench   b;
	float complex *air[AIRS];
	bool          *used[AIRS];
	int32_t        seats;
};

static void crowd_open(struct crowd *c, double share, uint64_t seed)
{
	static const enum signal kinds[] = { SIGNAL_NFM, SIGNAL_AM, SIGNAL_4FSK, SIGNAL_CARRIER };

	bench_open(&c->b, 37500, 11000, MODE_NFM, RATE, (struct sense){ 1e-8, 3 }, seed);
	c->seats = c->b.hop->spans[0].count;
	for (int a = 0; a < AIRS; a++) {
		c->air[a] = calloc(c->b.block.n, sizeof **c->air);
		c->used[a] = calloc((size_t)c->seats, sizeof **c->used);
		assert_true(c->air[a] && c->used[a]);
		for (int32_t s = 0; s < c->seats; s++) {
			if (noise_uniform(&c->b.noise) >= share)
				continue;
			c->used[a][s] = true;
			signal_add(c->air[a], c->b.block.n, RATE, kinds[s % 4],
				   power_at(&c->b, 10 + 40 * noise_uniform(&c->b.noise)),
				   channel_hz(&c->b, s), noise_bits(&c->b.noise));
		}
	}
}

static void crowd_close(struct crowd *c)
{
	for (int a = 0; a < AIRS; a++) {
		free(c->air[a]);
		free(c->used[a]);
	}
	bench_close(&c->b);
}

/* Noise that rises by so many decibels from sample `from` on for n; neither need lie in
 * the look. */
static void add_click(struct bench *b, int64_t from, int64_t n, double rise_db)
{
	int64_t end = from + n, most = (int64_t)b->block.n;

	from = from < 0 ? 0 : from;
	end = end > most ? most : end;
	if (from < end)
		noise_add(&b->noise, b->iq + from, (size_t)(end - from),
			  NOISE * (pow(10, rise_db / 10) - 1));
}

static int opened_wrongly(const struct judged *j, const bool *used)
{
	int n = 0;
	for (int i = 0; i < j->findings; i++)
		n += !used[j->finding[i].channel];
	return n;
}

/* Clicks of 5 to 50 ms, some over the look's ends: the slices inside are marked, their
 * time is taken off, and no channel opens that is not in use. */
static const struct {
	const char *why;
	double      busy, rise_db;
} rows[] = {
	{ "an empty hop, 6 dB",       0,   6 },
	{ "an empty hop, 20 dB",      0,   20 },
	{ "an empty hop, 40 dB",      0,   40 },
	{ "a fifth in use, 6 dB",     0.2, 6 },
	{ "a fifth in use, 20 dB",    0.2, 20 },
	{ "a fifth in use, 40 dB",    0.2, 40 },
	{ "six in ten in use, 8 dB",  0.6, 8 },
	{ "six in ten in use, 20 dB", 0.6, 20 },
	{ "six in ten in use, 40 dB", 0.6, 40 },
};

struct tally {
	int inside, marked;             /* slices that lie in a click     */
	int outside, wrong;             /* that share nothing with one    */
	int opened, untold;             /* channels; looks of the old length despite a click */
};

static void one_click(struct crowd *c, int look, double rise_db, struct tally *t)
{
	struct bench *b = &c->b;
	int64_t most = (int64_t)b->block.n, n = noise_between(&b->noise, 5, 50) * RATE / 1000;
	/* A quarter of the look, at least, is quiet: what fills all of it is no click. */
	bool first = look % 2;
	int64_t from = noise_between(&b->noise, most / 4, most - most / 8);
	if (!first)
		from = noise_between(&b->noise, most / 8, most - most / 4) - n;

	fresh_noise(b);
	for (size_t i = 0; i < b->block.n; i++)
		b->iq[i] += c->air[look % AIRS][i];
	add_click(b, from, n, rise_db);
	const struct judged *j = listen(b);
	const struct look *l = b->look;
	double slice = (double)b->block.n / l->slices;
	int inside = 0;
	for (int s = 0; s < l->slices; s++) {
		double low = s * slice - 960, high = (s + 1) * slice + 960;
		if (low + 960 >= (double)from && high - 960 <= (double)(from + n)) {
			inside++;
			t->marked += l->spoilt[s];
		} else if (high < (double)from || low > (double)(from + n)) {
			t->outside++;
			t->wrong += l->spoilt[s];
		}
	}
	t->inside += inside;
	t->untold += inside > 1 && l->span_us > l->length_us * (l->slices - inside + 1) / l->slices;
	t->opened += look_holds(l) ? opened_wrongly(j, c->used[look % AIRS]) : 0;
}

static void clicks_are_marked_and_open_nothing(void **state)
{
	enum { LOOKS = 100 };
	struct crowd c;
	double open = -1;
	(void)state;

	for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
		struct tally t = { 0 };
		if (rows[i].busy != open) {
			if (open >= 0)
				crowd_close(&c);
			crowd_open(&c, rows[i].busy, 700 + i);
			open = rows[i].busy;
		}
		for (int look = 0; look < LOOKS; look++)
			one_click(&c, look, rows[i].rise_db, &t);
		printf("%-26s %5d of %5d slices marked, %d of %d wrongly, %d opened\n", rows[i].why,
		       t.marked, t.inside, t.wrong, t.outside, t.opened);
		if (t.marked < 0.995 * t.inside || t.wrong > 0.01 * t.outside || t.untold > 0 || t.opened > 0)
			fail_msg("%s: %d of %d slices marked, %d of %d wrongly, %d opened, %d not told"
				 " (seed %zu)", rows[i].why, t.marked, t.inside, t.wrong, t.outside,
				 t.opened, t.untold, 700 + i);
	}
	crowd_close(&c);
	fflush(stdout);
}

/* Signals that are keyed on in the middle of a look, hard or within 2 ms, one or several
 * at once, in empty and crowded hops: never a click. */
static void keying_is_no_click(void **state)
{
	static const struct {
		const char *why;
		double      busy, snr_db;
		int         keyed;
		double      ramp_ms, on_ms;
	} keyings[] = {
		{ "one",                        0,   50, 1, 2, 8 },
		{ "one, hard",                  0,   50, 1, 0, 8 },
		{ "one, hard and weaker",       0,   30, 1, 0, 8 },
		{ "one, hard, for 1.5 ms",      0,   50, 1, 0, 1.5 },
		{ "three at once, hard",        0,   40, 3, 0, 8 },
		{ "six at once",                0,   50, 6, 2, 8 },
		{ "one in a crowd, hard",       0.2, 50, 1, 0, 8 },
		{ "three in a crowd",           0.2, 50, 3, 2, 8 },
		{ "one in a great crowd, hard", 0.6, 50, 1, 0, 8 },
		{ "three in a great crowd",     0.6, 50, 3, 2, 8 },
	};
	enum { LOOKS = 100 };
	(void)state;

	for (size_t i = 0; i < sizeof keyings / sizeof keyings[0]; i++) {
		struct crowd c;
		int spoilt = 0;
		crowd_open(&c, keyings[i].busy, 750 + i);
		struct bench *b = &c.b;
		for (int look = 0; look < LOOKS; look++) {
			int64_t ramp = (int64_t)(keyings[i].ramp_ms * RATE / 1000);
			int64_t on = (int64_t)(keyings[i].on_ms * RATE / 1000);
			int64_t from = noise_between(&b->noise, 0, (int64_t)b->block.n - on);
			fresh_noise(b);
			for (size_t k = 0; k < b->block.n; k++)
				b->iq[k] += c.air[look % AIRS][k];
			for (int n = 0; n < keyings[i].keyed; n++) {
				double hz = channel_hz(b, (int32_t)noise_between(&b->noise, 0, c.seats - 1));
				double at = 2 * M_PI * hz / RATE, a = sqrt(power_at(b, keyings[i].snr_db));
				for (int64_t k = 0; k < on; k++) {
					double edge = fmin((double)k, (double)(on - 1 - k));
					double rise = edge < (double)ramp ?
						0.5 - 0.5 * cos(M_PI * edge / (double)ramp) : 1;
					b->iq[from + k] += (float complex)(a * rise * cexp(I * at * (double)k));
				}
			}
			listen(b);
			for (int s = 0; s < b->look->slices; s++)
				spoilt += b->look->spoilt[s];
		}
		if (spoilt > 0)
			fail_msg("%s: %d slices of %d looks are called clicks (seed %zu)", keyings[i].why,
				 spoilt, LOOKS, 750 + i);
		crowd_close(&c);
	}
}

static void as_bytes(const struct bench *b, uint8_t *bytes)
{
	const float *x = (const float *)b->iq;

	for (size_t k = 0; k < 2 * b->block.n; k++)
		bytes[k] = (uint8_t)fmin(fmax(rint(127.5 + 127.5 * (double)x[k]), 0), 255);
}

/* A transmitter next door that drives the converter past its range is keyed within the
 * look: then its beats rise everywhere at once, and that is overload, not a click. A
 * click that does so is still one. */
static void overload_is_no_click(void **state)
{
	static const struct {
		double loud;            /* amplitude of the transmitter over full scale; 0: none */
		double click_db;        /* 0: none                                               */
	} cases[] = { { 1.5, 0 }, { 4, 0 }, { 20, 0 }, { 0, 36 }, { 0, 40 }, { 0, 50 } };
	enum { LOOKS = 100 };
	(void)state;

	for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
		struct bench b;
		int spoilt = 0, opened = 0;
		bench_open(&b, 37500, 11000, MODE_NFM, RATE, (struct sense){ 1e-8, 3 }, 790 + i);
		int64_t n = (int64_t)b.block.n;
		uint8_t *bytes = malloc(2 * b.block.n);
		assert_non_null(bytes);
		for (int look = 0; look < LOOKS; look++) {
			int64_t from = noise_between(&b.noise, n / 4, n / 2);
			fresh_noise(&b);
			if (cases[i].loud > 0)
				signal_add(b.iq + from, (size_t)(n - from), RATE, SIGNAL_4FSK,
					   cases[i].loud * cases[i].loud, channel_hz(&b, 20), noise_bits(&b.noise));
			else
				add_click(&b, from, n / 4, cases[i].click_db);
			as_bytes(&b, bytes);
			struct block heard = b.block;
			heard.iq = bytes;
			heard.format = SAMPLE_CU8;
			const struct judged *j = listen_to(&b, &heard);
			opened += cases[i].loud > 0 ? 0 : j->findings;
			for (int s = 0; s < b.look->slices; s++)
				spoilt += b.look->spoilt[s];
		}
		if (cases[i].loud > 0 ? spoilt > 0 : spoilt < LOOKS * b.look->slices / 4 - LOOKS || opened > 0)
			fail_msg("%g times full scale, click of %g dB: %d slices of %d looks are called "
				 "clicks, %d opened (seed %zu)", cases[i].loud, cases[i].click_db, spoilt, LOOKS,
				 opened, 790 + i);
		free(bytes);
		bench_close(&b);
	}
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(clicks_are_marked_and_open_nothing),
		cmocka_unit_test(keying_is_no_click),
		cmocka_unit_test(overload_is_no_click),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
