#include "tests/test.h"

#include <complex.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "daemon/source.h"
#include "daemon/town.h"
#include "store/bandplan.h"

#define SEED   UINT64_C(20260217)
#define MIN_US INT64_C(60000000)
#define HOUR_US INT64_C(3600000000)
#define RATE   2400000
#define LOOK   48000

#define CONFIG_DIR SOURCE_ROOT "/config"

/* The town, and one night in it. */
struct world {
	struct town   town;
	struct night *night;
};

static int build_world(void **state)
{
	struct world *w = calloc(1, sizeof *w);
	struct fault why;

	assert_non_null(w);
	if (town_read(CONFIG_DIR "/harlow-ferry.conf", &w->town, &why) < 0)
		fail_msg("%s", why.text);
	w->night = night_create(&w->town, SEED);
	assert_non_null(w->night);
	*state = w;
	return 0;
}

static int drop_world(void **state)
{
	struct world *w = *state;

	night_destroy(w->night);
	town_free(&w->town);
	free(w);
	return 0;
}

static const struct over *overs_of(const struct world *w, const char *name, int *n)
{
	int at = town_emitter(&w->town, name);

	if (at < 0)
		fail_msg("the town has no \"%s\"", name);
	return night_overs(w->night, at, n);
}

/* An over of o that lasts all of [from, to]. */
static bool covered(const struct over *o, int n, int64_t from, int64_t to)
{
	int i = over_after(o, n, from);

	return i < n && o[i].start_us <= from && o[i].end_us >= to;
}


/* ---- the table ---- */

static void every_emitter_on_a_channel(void **state)
{
	struct world *w = *state;
	struct bandplan plan;
	struct fault why;
	char text[FREQ_TEXT];

	if (bandplan_read(CONFIG_DIR "/bands-harlow-ferry.conf", &plan, &why) < 0)
		fail_msg("%s", why.text);
	for (int i = 0; i < w->town.n_emitters; i++) {
		const struct emitter *e = &w->town.emitters[i];
		const struct band *home = NULL;
		if (e->role != ROLE_EMITTER)
			continue;
		for (int b = 0; b < plan.n_bands; b++) {
			const struct raster *r = &plan.bands[b].raster;
			int32_t c = raster_nearest(r, e->frequency);
			if (c >= 0 && raster_centre(r, c).thirds == e->frequency.thirds)
				home = &plan.bands[b];
		}
		if (!home)
			fail_msg("%s on %s is on no channel", e->name, freq_format(text,
										   e->frequency));
		if ((int)home->mode != e->mode)
			fail_msg("%s is %s in band %s", e->name, mode_name((enum mode)e->mode),
				 home->id);
		if (home->raster.step.thirds != e->step.thirds)
			fail_msg("%s: its step is not that of band %s", e->name, home->id);
	}
	assert_int_equal(plan.n_never, 2);
	bandplan_free(&plan);
}

static const struct {
	const char *why;
	const char *line;       /* after a good head */
	const char *says;
} bad_towns[] = {
	{ "an input of nobody",
		"emitters = ( { name = \"A\"; service = \"fire\"; frequency = \"150 MHz\";"
	  " level = \"-90 dBm\"; input_of = \"B\"; } );", ":6: \"B\" is not an emitter" },
	{ "hours that are none",
		"emitters = ( { name = \"A\"; service = \"fire\"; frequency = \"150 MHz\";"
	  " level = \"-90 dBm\"; continuous = true; busy = \"7-25\"; } );",
		  ":6: busy is \"7-25\"" },
	{ "an emitter that is never on",
		"emitters = ( { name = \"A\"; service = \"fire\"; frequency = \"150 MHz\";"
	  " level = \"-90 dBm\"; } );", ":6: \"A\" is never on" },
	{ "an event that ends before it begins",
		"emitters = ( ); events = ( { what = \"lost\"; from = \"23:00\";"
	  " until = \"22:00\"; } );", ":6: until is \"22:00\"" },
	{ "a time that is none",
		"emitters = ( ); events = ( { what = \"lost\"; from = \"24:00\"; } );",
	  ":6: from \"24:00\"" },
	{ "an event of nobody",
		"emitters = ( ); events = ( { what = \"over\"; emitter = \"A\"; from = \"21:00\";"
	  " until = \"22:00\"; } );", ":6: emitter is \"A\"" },
};

static void refused_towns(void **state)
{
	char path[] = "/tmp/bandcensus-town-XXXXXX";
	int fd = mkstemp(path);

	(void)state;
	assert_true(fd >= 0);
	close(fd);
	for (size_t i = 0; i < sizeof bad_towns / sizeof bad_towns[0]; i++) {
		struct fault why = { 0 };
		struct town t;
		FILE *f = fopen(path, "w");
		assert_non_null(f);
		fprintf(f,
			"kind = \"town\";\nname = \"x\"; start = \"2026-02-17T20:00:00Z\";\nlength = \"12 h\";\n"
			"noise = \"-118 dBm\";\ncrystal = \"0 ppm\";\n%s\n", bad_towns[i].line);
		fclose(f);
		if (town_read(path, &t, &why) == 0)
			fail_msg("%s: was taken", bad_towns[i].why);
		if (why.kind != FAULT_INPUT || !strstr(why.text, bad_towns[i].says))
			fail_msg("%s: \"%s\" lacks \"%s\"", bad_towns[i].why, why.text,
				 bad_towns[i].says);
	}
	unlink(path);
}


/* ---- the night ---- */

/* Overs of many nights in one stretch of hours against the table's rate. The
 * count of n exchanges of geometric length has variance n (2 m^2 - m). */
static const struct {
	const char *name;
	int         from, to;           /* hours after 20:00 */
	double      share;              /* of the busy rate  */
	const char *why;
} rates[] = {
	{ "Street Works",        4,  9, 1,    "busy 00-05 as the table says" },
	{ "Rail Yard",           4,  9, 1,    "long exchanges, busy after midnight" },
	{ "Rail Yard",          10, 12, 0.2,  "a fifth outside the busy hours" },
	{ "Bakery Vans",         6, 10, 1,    "busy 02-06" },
	{ "Bakery Vans",         0,  5, 0,    "silent otherwise" },
	{ "Packet Node",         0, 12, 1,    "data, all night" },
	{ "Ship Identity Data",  0, 12, 1,    "thousands of bursts" },
	{ "Pager North",         3, 11, 0.4,  "four tenths at night" },
	{ "Fire Dispatch",       0,  1, 1,    "before the fire" },
	{ "Fire Dispatch",       3, 10, 0.4,  "after it" },
};

static void overs_an_hour(void **state)
{
	struct world *w = *state;
	enum { NIGHTS = 12 };

	double got[sizeof rates / sizeof rates[0]] = { 0 };
	for (int k = 0; k < NIGHTS; k++) {
		struct world v = { .town = w->town, .night = night_create(&w->town,
									  SEED + (uint64_t)k) };
		assert_non_null(v.night);
		for (size_t i = 0; i < sizeof rates / sizeof rates[0]; i++) {
			int n;
			const struct over *o = overs_of(&v, rates[i].name, &n);
			for (int j = 0; j < n; j++)
				got[i] += o[j].start_us >= rates[i].from * HOUR_US &&
					o[j].start_us < rates[i].to * HOUR_US;
		}
		night_destroy(v.night);
	}
	for (size_t i = 0; i < sizeof rates / sizeof rates[0]; i++) {
		const struct emitter *e = &w->town.emitters[town_emitter(&w->town, rates[i].name)];
		double want = e->rate * rates[i].share * (rates[i].to - rates[i].from) * NIGHTS;
		double sigma = sqrt(want * (2 * e->exchange - 1));
		if (fabs(got[i] - want) > 4 * sigma + 0.5)
			fail_msg("seed %llu, %s (%s): %g overs in %d nights, want %.0f within %.0f",
				 (unsigned long long)SEED, rates[i].name, rates[i].why, got[i],
					 NIGHTS, want, 4 * sigma);
	}
}

static void the_fire_triples_dispatch(void **state)
{
	struct world *w = *state;
	double got = 0, fireground = 0, elsewhere = 0;

	for (int k = 0; k < 20; k++) {
		struct world v = { .town = w->town, .night = night_create(&w->town,
									  SEED + (uint64_t)k) };
		int n;
		const struct over *o = overs_of(&v, "Fire Dispatch", &n);
		for (int j = 0; j < n; j++)
			got += o[j].start_us >= 100 * MIN_US && o[j].start_us < 120 * MIN_US;
		o = overs_of(&v, "Fireground 1", &n);
		if (n == 0 || o[0].start_us != 100 * MIN_US)
			fail_msg("seed %llu: nobody at the fire at 21:40",
				 (unsigned long long)SEED + (unsigned)k);
		for (int j = 0; j < n; j++)
			if (o[j].start_us >= 100 * MIN_US && o[j].end_us <= 170 * MIN_US)
				fireground++;
			else
				elsewhere++;
		night_destroy(v.night);
	}
	/* Three times 24 an hour in the 20 minutes to 22:00, 20 nights: 480, exchanges of 4. */
	if (fabs(got - 480) > 4 * sqrt(480 * 7))
		fail_msg("seed %llu: %g overs of Fire Dispatch during the fire, want 480",
			 (unsigned long long)SEED, got);
	assert_true(elsewhere == 0);
	/* The one surely there and 110 an hour in the 80 minutes of it that are busy hours. */
	if (fireground < 20 * 60 || fireground > 20 * 250)
		fail_msg("seed %llu: %g overs of Fireground 1", (unsigned long long)SEED,
			 fireground);
}

static void overs_ascend_and_never_overlap(void **state)
{
	struct world *w = *state;

	for (int i = 0; i < w->town.n_emitters; i++) {
		int n;
		const struct over *o = night_overs(w->night, i, &n);
		for (int j = 0; j < n; j++) {
			if (o[j].start_us < 0 || o[j].talk_us <= o[j].start_us ||
			    o[j].end_us < o[j].talk_us ||
			    o[j].end_us > w->town.length_us)
				fail_msg("%s: over %d is inside out", w->town.emitters[i].name, j);
			if (j > 0 && o[j].start_us < o[j - 1].end_us)
				fail_msg("%s: over %d starts in the one before",
					 w->town.emitters[i].name, j);
		}
	}
}

static void same_seed_same_night(void **state)
{
	struct world *w = *state;
	struct night *again = night_create(&w->town, SEED), *other = night_create(&w->town,
										  SEED + 1);
	int n, m, k, differ = 0;

	for (int i = 0; i < w->town.n_emitters; i++) {
		const struct over *a = night_overs(w->night, i, &n), *b = night_overs(again, i, &m);
		const struct over *c = night_overs(other, i, &k);
		assert_int_equal(n, m);
		for (int j = 0; j < n; j++)
			if (a[j].start_us != b[j].start_us || a[j].end_us != b[j].end_us ||
			    a[j].level_db != b[j].level_db ||
			    a[j].seed != b[j].seed)
				fail_msg("%s: over %d differs in a second night of the same seed",
					 w->town.emitters[i].name, j);
		differ += n != k || (n > 0 && a[0].seed != c[0].seed);
	}
	assert_true(differ > 40);
	night_destroy(again);
	night_destroy(other);
}

static const struct {
	const char *input, *repeater;
	double      chance;
} inputs[] = {
	{ "Police Dispatch In", "Police Dispatch Out", 0.4 },
	{ "Taxi In", "Taxi Out", 0.33 },
	{ "Ham 2m In", "Ham 2m Out", 0.3 },
};

static void inputs_while_the_talker_keys(void **state)
{
	struct world *w = *state;

	for (size_t i = 0; i < sizeof inputs / sizeof inputs[0]; i++) {
		int n, m;
		const struct over *in = overs_of(w, inputs[i].input, &n), *out = overs_of(w,
											  inputs[i].repeater, &m);
		for (int j = 0; j < n; j++) {
			int k = over_after(out, m, in[j].start_us);
			if (k == m || out[k].start_us != in[j].start_us ||
			    out[k].talk_us != in[j].end_us)
				fail_msg("%s: over %d is not that of a talker", inputs[i].input, j);
		}
		double want = m * inputs[i].chance, sigma = sqrt(want * (1 - inputs[i].chance));
		if (fabs(n - want) > 4 * sigma)
			fail_msg("seed %llu: %s heard %d of %d times", (unsigned long long)SEED,
				 inputs[i].input, n, m);
	}
}

static void ships_speak_in_the_gaps(void **state)
{
	struct world *w = *state;
	int n, m;
	const struct over *ship = overs_of(w, "Ship Side", &n), *shore = overs_of(w,
										  "Coast Station",
										  &m);

	assert_true(n > 10);
	for (int j = 0; j < n; j++) {
		int k = over_after(shore, m, ship[j].start_us);
		if (k < m && shore[k].start_us < ship[j].end_us)
			fail_msg("ship over %d is on while the shore talks", j);
	}
}

static void ghosts_need_both_parents(void **state)
{
	struct world *w = *state;
	int n, a, b;
	const struct over *g = overs_of(w, "Ghost 146.800", &n);
	const struct over *north = overs_of(w, "Pager North", &a), *south = overs_of(w,
										     "Pager South",
										     &b);
	int64_t ghost_us = 0, both_us = 0;

	assert_true(n > 20);
	for (int j = 0; j < n; j++) {
		if (!covered(north, a, g[j].start_us, g[j].end_us) || !covered(south, b,
									       g[j].start_us,
									       g[j].end_us))
			fail_msg("ghost %d without both its parents", j);
		ghost_us += g[j].end_us - g[j].start_us;
	}
	for (int j = 0; j < a; j++)
		for (int k = over_after(south, b, north[j].start_us); k < b &&
		     south[k].start_us < north[j].end_us; k++) {
			int64_t from = north[j].start_us > south[k].start_us ? north[j].start_us
				: south[k].start_us;
			int64_t to = north[j].end_us < south[k].end_us ? north[j].end_us
				: south[k].end_us;
			both_us += to - from;
		}
	assert_int_equal(ghost_us, both_us);
}

static const struct {
	const char *why, *name;
	int64_t     from_min, to_min;   /* after 20:00 */
	bool        on;
} moments[] = {
	{ "the taxi's microphone is stuck",         "Taxi Out",        312, 331, true },
	{ "the first bulletin",                     "Coast Station",   333, 336, true },
	{ "the second bulletin",                    "Coast Station",   573, 576, true },
	{ "trunk control until it moves",           "Trunk Control A",   0, 420, true },
	{ "and after it has come back",             "Trunk Control A", 480, 720, true },
	{ "the other in between",                   "Trunk Control B", 420, 480, true },
	{ "not a minute more",                      "Trunk Control B", 480, 720, false },
	{ "the air ducts from 01:00",               "Distant Weather", 300, 600, true },
	{ "and not before",                         "Distant Weather",   0, 300, false },
	{ "the balloon flies at midnight",          "Weather Balloon", 180, 300, true },
	{ "the club sleeps",                        "Flying Club",       0, 720, false },
	{ "weather never stops",                    "Weather Station",   0, 720, true },
};

static void what_happens_when(void **state)
{
	struct world *w = *state;

	for (size_t i = 0; i < sizeof moments / sizeof moments[0]; i++) {
		int n;
		const struct over *o = overs_of(w, moments[i].name, &n);
		int64_t from = moments[i].from_min * MIN_US, to = moments[i].to_min * MIN_US;
		int k = over_after(o, n, from);
		bool on = moments[i].on ? covered(o, n, from, to) : k < n && o[k].start_us < to;
		if (on != moments[i].on)
			fail_msg("%s: %s %s", moments[i].why, moments[i].name, on ? "was heard"
				 : "was not on throughout");
	}
	int n;
	night_clicks(w->night, &n);
	/* 20 a minute less the clicks' own lengths, 20 minutes: 394 expected. */
	if (abs(n - 394) > 80)
		fail_msg("seed %llu: %d clicks", (unsigned long long)SEED, n);
}

static const struct {
	const char *why;
	double      minute, ppm, slack;
} crystal[] = {
	{ "cold",                     0,  40, 0.001 },
	{ "warm, nearly",            20,  33, 0.2 },
	{ "and ever after",         600,  33, 0.001 },
};

static void the_dongle_warms_up(void **state)
{
	struct world *w = *state;

	for (size_t i = 0; i < sizeof crystal / sizeof crystal[0]; i++)
		if (fabs(town_crystal_ppm(&w->town,
					  (int64_t)(crystal[i].minute * 60e6)) - crystal[i].ppm) > crystal[i].slack)
			fail_msg("%s: %g ppm", crystal[i].why,
				 town_crystal_ppm(&w->town, (int64_t)(crystal[i].minute * 60e6)));
}


/* ---- what is heard ---- */

static void *open_town(const char *truth)
{
	struct fault why;
	struct source_request q = { .arg = CONFIG_DIR "/harlow-ferry.conf", .seed = SEED,
		.truth_path = truth };
	void *s = source_town.open(&q, &why);

	if (!s)
		fail_msg("%s", why.text);
	return s;
}

static void tune_to(void *s, double mhz, double ppm, int gain_tenth_db)
{
	struct fault why;
	struct tuning t = { freq_from_hz(mhz * 1e6), RATE, ppm, gain_tenth_db };

	if (source_town.tune(s, &t, &why) < 0)
		fail_msg("%s", why.text);
}

static struct block read_look(void *s, size_t n)
{
	struct fault why;
	struct block b;

	if (source_town.read(s, n, &b, &why) != SOURCE_BLOCK)
		fail_msg("no block: %s", why.text);
	assert_int_equal(b.n, n);
	return b;
}

/* Moves the clock to that long after 20:00. */
static void wait_until(void *s, int64_t us)
{
	struct block b = read_look(s, 2400);
	struct source_about a;

	source_town.about(s, &a);
	source_town.rest(s, us - (b.mono_us - a.start_us) - 1000);
}

static double complex sample_of(const struct block *b, size_t i)
{
	const uint8_t *p = b->iq;

	return p[2 * i] - 127.5 + (p[2 * i + 1] - 127.5) * I;
}

/* Mean power between two offsets, LSB^2: plain transforms of 480 Hann windows,
 * 5 kHz bins, no overlap. */
static double band_power(const struct block *b, double low_hz, double high_hz)
{
	enum { N = 480 };
	double sum = 0;
	double complex w[N], turn[N];

	for (int i = 0; i < N; i++) {
		w[i] = 0.5 - 0.5 * cos(2 * M_PI * i / N);
		turn[i] = cexp(-2 * M_PI * I * i / N);
	}
	for (int bin = (int)ceil(low_hz * N / RATE); bin < (int)ceil(high_hz * N / RATE); bin++)
		for (size_t at = 0; at + N <= b->n; at += N) {
			double complex x = 0;
			for (int i = 0; i < N; i++)
				x += w[i] * sample_of(b,
						      at + (size_t)i) * turn[((bin + N) % N) * i % N];
			sum += creal(x * conj(x));
		}
	/* Sum of w^2 is 3/8 N. */
	return sum / ((double)(b->n / N) * N * N * 0.375);
}

static double db(double x)
{
	return 10 * log10(x);
}

static const struct {
	const char *why;
	double      mhz;                /* quiet here               */
	int64_t     minute;
	double      low_hz, high_hz;    /* measured from the centre */
	int         gain_tenth_db;
	double      rise_db, droop_db;  /* of the antenna's noise   */
} quiet[] = {
	{ "1 LSB a rail at 29.7 dB",              200.3,  60, 1e5, 3e5, 297, 0, 0 },
	{ "the other side is the same",           200.3,  60, -3e5, -1e5, 297, 0, 0 },
	{ "half a dB less at 0.75 MHz",           200.3,  60, 7.4e5, 7.6e5, 297, 0, 0.5 },
	{ "3 dB less at the edge",                200.3,  60, 1.17e6, 1.2e6, 297, 0, 2.8 },
	{ "10 dB more gain",                      200.3,  60, 1e5, 3e5, 397, 0, 0 },
	{ "5 dB less: the converter's own shows", 200.3,  60, 1e5, 3e5, 247, 0, 0 },
	{ "lamps raise the air band at night",    130.3, 240, 1e5, 3e5, 297, 8, 0 },
	{ "not in the evening",                   130.3, 120, 1e5, 3e5, 297, 0, 0 },
	{ "and not the others",                   200.3, 240, 1e5, 3e5, 297, 0, 0 },
};

static void noise_is_as_asked(void **state)
{
	(void)state;
	for (size_t i = 0; i < sizeof quiet / sizeof quiet[0]; i++) {
		void *s = open_town(NULL);
		tune_to(s, quiet[i].mhz, 33, quiet[i].gain_tenth_db);
		wait_until(s, quiet[i].minute * MIN_US);
		double power = 0;
		enum { LOOKS = 4 };
		for (int k = 0; k < LOOKS; k++) {
			struct block b = read_look(s, LOOK);
			power += band_power(&b, quiet[i].low_hz, quiet[i].high_hz) / LOOKS;
		}
		/* Both rails, in that part of the rate: the antenna's, the converter's 0.25
		 * LSB, and rounding to whole numbers, 1/12. */
		double antenna = pow(10, (quiet[i].rise_db - quiet[i].droop_db) / 10 +
				     (quiet[i].gain_tenth_db - 297) / 100.0);
		double want = 2 * (antenna + 0.0625 + 1.0 / 12) * (quiet[i].high_hz - quiet[i].low_hz) / RATE;
		if (fabs(db(power / want)) > 0.2)
			fail_msg("seed %llu, %s: %.2f dB off", (unsigned long long)SEED,
				 quiet[i].why, db(power / want));
		source_town.close(s);
	}
}

/* One line's power and offset, by mixing it to nothing and measuring the phase
 * between two halves. */
static double line_of(const struct block *b, double offset_hz, double *found_hz)
{
	double complex half[2] = { 0, 0 };

	for (size_t i = 0; i < b->n; i++)
		half[i / ((b->n + 1) / 2)] += sample_of(b,
							i) * cexp(-2 * M_PI * I * offset_hz * (double)i / RATE);
	*found_hz = offset_hz + carg(half[1] * conj(half[0])) / (2 * M_PI) / ((double)b->n / 2 / RATE);
	double complex sum = 0;
	for (size_t i = 0; i < b->n; i++)
		sum += sample_of(b, i) * cexp(-2 * M_PI * I * *found_hz * (double)i / RATE);
	return creal(sum * conj(sum)) / ((double)b->n * (double)b->n);
}

/* Noise in the whole rate is 2 LSB^2 at 29.7 dB: -118 dBm and 192 times 12.5 kHz. */
static double level_dbm(double power)
{
	return db(power / 2) - 118 + db(192);
}

static const struct {
	const char *why;
	const char *name;
	double      centre_mhz;
	int         gain_tenth_db;
	double      ppm;
	double      level_dbm;          /* at the socket's scale and 29.7 dB     */
	double      shift_hz;           /* where it seems to be, off its nominal */
} tones[] = {
	{ "a beacon's carrier",                     "Nav Beacon",         113.1, 297, 33, -81, 0 },
	{ "10 dB less gain",                        "Nav Beacon",         113.1, 197, 33, -91, 0 },
	{ "3 ppm not corrected for: it seems low",  "Nav Beacon",         113.1, 297, 30, -81,
		-3e-6 * 113.4e6 },
	{ "a birdie without correction stays",      "Dongle Birdie 432",  431.8, 297, 0, -101, 0 },
	{ "with it, it follows",                    "Dongle Birdie 432",  431.8, 297, 33, -101,
		33e-6 * 432e6 },
	{ "another one",                            "Dongle Birdie 172",  172.6, 397, 33, -98,
		33e-6 * 172.8e6 },
};

static void levels_and_offsets(void **state)
{
	struct world *w = *state;

	for (size_t i = 0; i < sizeof tones / sizeof tones[0]; i++) {
		int at = town_emitter(&w->town, tones[i].name);
		void *s = open_town(NULL);
		assert_true(at >= 0);
		tune_to(s, tones[i].centre_mhz, tones[i].ppm, tones[i].gain_tenth_db);
		wait_until(s, 200 * MIN_US);
		double offset = freq_to_hz(w->town.emitters[at].frequency) - tones[i].centre_mhz * 1e6 +
				tones[i].shift_hz + night_offset_hz(w->night, at, 200 * MIN_US);
		struct block b = read_look(s, 5 * LOOK);
		double found, level = 0;
		/* From 1 ms, which can't be misled by 250 Hz, and from ever more. */
		found = offset;
		for (b.n = 2400; b.n <= 5 * LOOK; b.n *= 10)
			level = level_dbm(line_of(&b, found, &found));
		if (fabs(found - offset) > 20)
			fail_msg("seed %llu, %s: %.1f Hz off", (unsigned long long)SEED,
				 tones[i].why, found - offset);
		if (fabs(level - tones[i].level_dbm) > 0.5)
			fail_msg("seed %llu, %s: %.2f dBm", (unsigned long long)SEED, tones[i].why,
				 level);
		source_town.close(s);
	}
}

/* The power of voice, data and broadcast, over what the same place holds. */
static const struct {
	const char *why, *name;
	double      centre_mhz, half_hz;
	double      slack_db;
	double      over_db;            /* sidebands that are not the carrier's level */
} widths[] = {
	{ "narrow FM",   "Weather Station", 162.1,  12500, 0.5, 0 },
	{ "AM speech adds its sidebands", "Aerodrome Info", 126.0, 10000, 0.5, 0.3 },
	{ "data",        "Trunk Control A", 856.0,  15000, 0.5, 0 },
	{ "broadcast",   "FM Weak",         102.8, 120000, 0.5, 0 },
};

static void whole_powers(void **state)
{
	struct world *w = *state;

	for (size_t i = 0; i < sizeof widths / sizeof widths[0]; i++) {
		int at = town_emitter(&w->town, widths[i].name), n;
		const struct over *o = night_overs(w->night, at, &n);
		void *s = open_town(NULL);
		tune_to(s, widths[i].centre_mhz, 33, 297);
		wait_until(s, 100 * MIN_US);
		double power = 0,
			offset = freq_to_hz(w->town.emitters[at].frequency) - widths[i].centre_mhz * 1e6;
		enum { LOOKS = 20 };
		for (int k = 0; k < LOOKS; k++) {
			struct block b = read_look(s, LOOK);
			power += band_power(&b, offset - widths[i].half_hz,
					    offset + widths[i].half_hz) / LOOKS;
			source_town.rest(s, 100000);
		}
		power -= 2 * (1 + 0.0625 + 1.0 / 12) * 2 * widths[i].half_hz / RATE;
		double want = w->town.emitters[at].level_dbm + o[0].level_db + widths[i].over_db;
		/* At 0.3 to 0.4 MHz the passband takes less than 0.1 dB. */
		if (fabs(level_dbm(power) - want) > widths[i].slack_db)
			fail_msg("seed %llu, %s: %.2f dBm, want %.2f", (unsigned long long)SEED,
				 widths[i].why,
				 level_dbm(power), want);
		source_town.close(s);
	}
}

static void blocks_join_up(void **state)
{
	void *s = open_town(NULL);
	double was = 0, jump = 0;

	(void)state;
	/* A birdie's phase over thirty blocks while parked on it is one straight line. */
	tune_to(s, 431.9, 33, 397);
	wait_until(s, 200 * MIN_US);
	for (int k = 0; k < 30; k++) {
		struct block b = read_look(s, LOOK);
		double complex sum = 0;
		for (size_t i = 0; i < b.n; i++)
			sum += sample_of(&b, i) * cexp(-2 * M_PI * I * (1e5 + 33e-6 * 432e6) *
						       ((double)k * LOOK + (double)i) / RATE);
		if (k > 0)
			jump = fmax(jump, fabs(remainder(carg(sum) - was, 2 * M_PI)));
		was = carg(sum);
	}
	/* 0.3 rad is what 2.4 Hz turn in 20 ms, and noise adds. */
	if (jump > 0.3)
		fail_msg("seed %llu: phase jumps by %.2f rad between blocks",
			 (unsigned long long)SEED, jump);
	source_town.close(s);
}

static void ghosts_fall_three_for_one(void **state)
{
	struct world *w = *state;
	int at = town_emitter(&w->town, "Ghost 146.800"), n;
	const struct over *o = night_overs(w->night, at, &n);
	double power[2];
	int k = 0;

	(void)w;
	while (o[k].end_us - o[k].start_us < 2000000 || o[k].start_us < 30 * MIN_US)
		k++;
	for (int i = 0; i < 2; i++) {
		void *s = open_town(NULL);
		tune_to(s, 146.5, 33, i ? 347 : 297);
		wait_until(s, o[k].start_us + 100000);
		struct block b = read_look(s, 10 * LOOK);
		power[i] = band_power(&b, 285e3, 315e3) - band_power(&b, 400e3, 430e3);
		source_town.close(s);
	}
	if (fabs(db(power[1] / power[0]) - 15) > 1.5)
		fail_msg("seed %llu: 5 dB of gain raise it by %.1f dB", (unsigned long long)SEED,
			 db(power[1] / power[0]));
}

static void the_pager_clips(void **state)
{
	struct world *w = *state;
	int n, k = 0;
	const struct over *o = overs_of(w, "Pager North", &n);
	void *s = open_town(NULL);

	while (o[k].end_us - o[k].start_us < 1000000)
		k++;
	tune_to(s, 152.3, 33, 297);
	wait_until(s, o[k].start_us + 100000);
	struct block b = read_look(s, LOOK);
	assert_true(block_clipped(&b) > 0.5);
	/* The same moment without it. */
	source_town.restart(s, NULL);
	tune_to(s, 148.3, 33, 297);
	wait_until(s, o[k].start_us + 100000);
	b = read_look(s, LOOK);
	assert_true(block_clipped(&b) == 0);
	source_town.close(s);
}


/* ---- the source ---- */

static void same_calls_same_bytes(void **state)
{
	void *a = open_town(NULL), *b = open_town(NULL);

	(void)state;
	for (int round = 0; round < 2; round++) {
		for (int k = 0; k < 3; k++) {
			tune_to(a, 162.0 + k, 33, 297);
			tune_to(b, 162.0 + k, 33, 297);
			struct block x = read_look(a, 10000), y = read_look(b, 10000);
			assert_int_equal(x.start_us, y.start_us);
			assert_memory_equal(x.iq, y.iq, 20000);
		}
		/* One goes back to the start, the other is a new one: the same night. */
		assert_int_equal(source_town.restart(a, NULL), 0);
		source_town.close(b);
		b = open_town(NULL);
	}
	source_town.close(a);
	source_town.close(b);
}

static void time_passes(void **state)
{
	void *s = open_town(NULL);
	struct source_about about;

	(void)state;
	source_town.about(s, &about);
	assert_true(about.virtual_clock && about.tunable);
	assert_int_equal(about.length_us, 12 * HOUR_US);
	tune_to(s, 162.0, 33, 297);
	struct block b = read_look(s, LOOK);
	assert_int_equal(b.start_us, about.start_us + 15000);   /* a retune takes 15 ms */
	assert_int_equal(b.mono_us, b.start_us);
	b = read_look(s, 100);
	assert_int_equal(b.start_us, about.start_us + 35000);
	source_town.rest(s, 1000000);
	b = read_look(s, 100);
	assert_int_equal(b.start_us, about.start_us + 1035041);
	source_town.close(s);
}

static void the_clock_is_stepped(void **state)
{
	void *s = open_town(NULL);
	struct source_about about;

	(void)state;
	source_town.about(s, &about);
	tune_to(s, 162.0, 33, 297);
	wait_until(s, 450 * MIN_US - 10000);
	struct block b = read_look(s, LOOK);
	assert_int_equal(b.start_us, b.mono_us);
	b = read_look(s, LOOK);
	assert_int_equal(b.mono_us, about.start_us + 450 * MIN_US + 10000);
	assert_int_equal(b.start_us, b.mono_us - 40000000);
	source_town.close(s);
}

static void the_dongle_drops_off(void **state)
{
	void *s = open_town(NULL);
	struct fault why = { 0 };
	struct block b;
	int lost = 0;

	(void)state;
	tune_to(s, 162.0, 33, 297);
	wait_until(s, 370 * MIN_US - 10000);
	assert_int_equal(source_town.read(s, LOOK, &b, &why),
			 SOURCE_FAULT);    /* in the middle of a look */
	assert_int_equal(why.kind, FAULT_RETRY);
	assert_non_null(strstr(why.text, "lost"));
	while (source_town.read(s, LOOK, &b, &why) == SOURCE_FAULT && lost < 1000) {
		source_town.rest(s, 10000000);
		lost++;
	}
	/* Four minutes in steps of 10 s and what the read took. */
	if (lost < 21 || lost > 24)
		fail_msg("%d faults in four minutes", lost);
	source_town.close(s);
}

static void the_night_ends(void **state)
{
	void *s = open_town(NULL);
	struct fault why;
	struct block b;

	(void)state;
	tune_to(s, 162.0, 33, 297);
	wait_until(s, 12 * HOUR_US - 5000);
	assert_int_equal(source_town.read(s, LOOK, &b, &why), SOURCE_BLOCK);
	assert_int_equal(b.n, 12000);
	assert_int_equal(source_town.read(s, LOOK, &b, &why), SOURCE_END);
	assert_int_equal(source_town.read(s, LOOK, &b, &why), SOURCE_END);
	source_town.close(s);
}

static void refused_tunings(void **state)
{
	static const struct {
		const char *why;
		double      mhz;
		int32_t     rate;
	} cases[] = {
		{ "too slow", 100, 225000 },
		{ "too fast", 100, 3200001 },
		{ "below the tuner", 20, RATE },
		{ "above it", 1800, RATE },
	};
	void *s = open_town(NULL);
	struct fault why;
	struct block b;

	(void)state;
	assert_int_equal(source_town.read(s, LOOK, &b, &why), SOURCE_FAULT);    /* not tuned yet */
	for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
		struct tuning t = { freq_from_hz(cases[i].mhz * 1e6), cases[i].rate, 0, 297 };
		if (source_town.tune(s, &t, &why) == 0 || why.kind != FAULT_INPUT)
			fail_msg("%s: was taken", cases[i].why);
	}
	source_town.close(s);
}

/* Carriers up, from the night itself. */
static int carriers(const struct world *w)
{
	int count = 0;

	for (int i = 0; i < w->town.n_emitters; i++) {
		int n;
		const struct over *o = night_overs(w->night, i, &n);
		for (int j = 0; j < n; j++)
			count += j == 0 || o[j - 1].end_us != o[j].start_us;
	}
	return count;
}

static void the_truth_is_told(void **state)
{
	struct world *w = *state;
	char path[] = "/tmp/bandcensus-truth-XXXXXX", line[512], hz[64];
	int fd = mkstemp(path), lines = 0, stepped = 0, air = 0;

	assert_true(fd >= 0);
	close(fd);
	source_town.close(open_town(path));
	FILE *f = fopen(path, "r");
	assert_non_null(f);
	while (fgets(line, sizeof line, f)) {
		long long start, mono;
		double level, snr;
		if (*line == '#' || strncmp(line, "name,", 5) == 0)
			continue;
		lines++;
		if (sscanf(line,
			   "%*[^,],%*[^,],%63[^,],%*[^,],%*[^,],%*f,%lld,%*d,%lld,%*d,%lf,%lf", hz,
			   &start, &mono,
			   &level, &snr) != 5)
			fail_msg("line %d of the truth: %s", lines, line);
		if (start != mono && start != mono - 40000000)
			fail_msg("stamped %lld at %lld", start, mono);
		stepped += start != mono;
		if (strcmp(hz, "121308333.333") == 0)
			air++;
	}
	fclose(f);
	unlink(path);
	assert_int_equal(lines, carriers(w));
	assert_true(stepped > 1000 && air > 100);
	/* A folder that is not there. */
	struct fault why;
	struct source_request q = { .arg = CONFIG_DIR "/harlow-ferry.conf", .seed = SEED,
				    .truth_path = "/nowhere/at/all.csv" };
	assert_null(source_town.open(&q, &why));
	assert_int_equal(why.kind, FAULT_INPUT);
	assert_non_null(strstr(why.text, "/nowhere/at/all.csv"));
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(every_emitter_on_a_channel),
		cmocka_unit_test(refused_towns),
		cmocka_unit_test(overs_an_hour),
		cmocka_unit_test(the_fire_triples_dispatch),
		cmocka_unit_test(overs_ascend_and_never_overlap),
		cmocka_unit_test(same_seed_same_night),
		cmocka_unit_test(inputs_while_the_talker_keys),
		cmocka_unit_test(ships_speak_in_the_gaps),
		cmocka_unit_test(ghosts_need_both_parents),
		cmocka_unit_test(what_happens_when),
		cmocka_unit_test(the_dongle_warms_up),
		cmocka_unit_test(noise_is_as_asked),
		cmocka_unit_test(levels_and_offsets),
		cmocka_unit_test(whole_powers),
		cmocka_unit_test(blocks_join_up),
		cmocka_unit_test(ghosts_fall_three_for_one),
		cmocka_unit_test(the_pager_clips),
		cmocka_unit_test(same_calls_same_bytes),
		cmocka_unit_test(time_passes),
		cmocka_unit_test(the_clock_is_stepped),
		cmocka_unit_test(the_dongle_drops_off),
		cmocka_unit_test(the_night_ends),
		cmocka_unit_test(refused_tunings),
		cmocka_unit_test(the_truth_is_told),
	};
	return cmocka_run_group_tests(tests, build_world, drop_world);
}
