/* Nights for measuring how surveys are read: invented rows, the same for the same seed.
 *
 *     bench_nights FOLDER NIGHTS CHANNELS OVERS [APART]
 *
 * writes FOLDER/night-01.survey and so on: twelve bands, twelve hours from 20:00, each channel
 * looked at every 4 s, and so many overs a night on one channel in twenty (or APART), some of them
 * far busier than others. */
#include <inttypes.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "store/strip.h"
#include "store/survey.h"
#include "tests/noise.h"

#define BANDS      12
#define HOURS      12
#define SPAN       160          /* channels of a hop */
#define LOOK_US    20000
#define REVISIT_US INT64_C(4000000)
#define MONDAY_US  INT64_C(1767643200000000)    /* 2026-01-05T20:00:00Z */
#define SEED       20260105

struct ground {
	struct band  band[BANDS];
	int          channels;          /* of each band */
	int          overs;
	int          apart;             /* one channel in so many is in use */
	struct noise dice;
};

static void must(int result, const struct fault *why)
{
	if (result < 0) {
		fprintf(stderr, "bench_nights: %s\n", why->text);
		exit(1);
	}
}

static void lay_bands(struct ground *g)
{
	for (int b = 0; b < BANDS; b++) {
		struct band *of = &g->band[b];
		snprintf(of->id, sizeof of->id, "band-%d", b);
		snprintf(of->name, sizeof of->name, "Band %d", b);
		snprintf(of->service, sizeof of->service, "business");
		of->raster = (struct raster){ { INT64_C(3000000) * (150 + 25 * b) }, { 37500 }, g->channels };
		of->mode = MODE_NFM;
		of->width_hz = 11000;
	}
}

static void cover(struct ground *g, struct survey *s, const struct run_row *run, struct fault *why)
{
	const int64_t looks = HOUR_US / REVISIT_US;
	uint8_t *cells = calloc(60, (size_t)g->channels), *packed = malloc(strip_room(60 * (size_t)g->channels));

	for (int b = 0; b < BANDS; b++)
		for (int h = 0; h < HOURS; h++) {
			int64_t hour = run->start_us + h * HOUR_US;
			for (int f = 0; f < g->channels; f += SPAN) {
				struct coverage_row c = {
					.run = run->id, .hour = hour, .band = b, .first = f,
					.count = f + SPAN > g->channels ? g->channels - f : SPAN,
					.looks = looks, .pairs = looks - 1, .looked_us = looks * LOOK_US,
					.floor_ddb_sum = -640 * looks, .floor_low_ddb = -645, .floor_high_ddb = -635,
				};
				must(survey_add_coverage(s, &c, why), why);
			}
			for (size_t i = 0; i < 60 * (size_t)g->channels; i++)
				cells[i] = noise_uniform(&g->dice) < 0.003 ? 20 : STRIP_QUIET;
			size_t n = strip_pack(cells, 60 * (size_t)g->channels, packed);
			struct strip_row row = { run->id, b, hour, STRIP_MINUTE_US, 60, { packed, n } };
			must(survey_add_strip(s, &row, why), why);
		}
	free(cells);
	free(packed);
}

/* Of those in use the first ones are most. */
static int32_t pick_channel(struct ground *g)
{
	int in_use = g->channels / g->apart + 1;
	double u = noise_uniform(&g->dice);

	return (int32_t)((int)(u * u * in_use) * g->apart % g->channels);
}

static void talk(struct ground *g, struct survey *s, const struct run_row *run, struct fault *why)
{
	for (int i = 0; i < g->overs; i++) {
		int64_t first = run->start_us + (int64_t)(noise_uniform(&g->dice) * (HOURS * (double)HOUR_US - 1e8));
		int64_t looks = 1 + (int64_t)(-1.5 * log1p(-noise_uniform(&g->dice)));
		int level = (int)noise_between(&g->dice, 8, 50);
		int32_t band = (int32_t)noise_between(&g->dice, 0, BANDS - 1), channel = pick_channel(g);
		struct transmission_row t = {
			.run = run->id, .band = band, .channel = channel, .first_us = first,
			.last_us = first + (looks - 1) * REVISIT_US + LOOK_US, .before_us = REVISIT_US,
			.after_us = REVISIT_US, .busy_us = looks * LOOK_US, .looks = looks,
			.level_ddb = 10 * level, .peak_ddb = 10 * level + 15, .floor_ddb = -640,
			.offset_hz = (int32_t)noise_between(&g->dice, -300, 300), .width_hz = 9000,
			.kind = KIND_NFM, .confidence = 900, .tone_ddhz = channel % 3 ? 0 : 1000,
		};
		struct activity_row a = {
			.run = run->id, .hour = first / HOUR_US * HOUR_US, .band = band, .channel = channel,
			.busy_looks = looks, .busy_us = looks * LOOK_US, .openings = 1, .held = looks - 1,
		};
		a.level[level] = a.busy_us;
		a.level_looks[level] = looks;
		must(survey_add_transmission(s, &t, why), why);
		must(survey_add_activity(s, &a, why), why);
	}
}

static void write_night(struct ground *g, const char *folder, int night)
{
	char path[4096];
	struct fault why = { 0 };
	struct run_row run = {
		.start_us = MONDAY_US + night * 24 * HOUR_US, .station = "bench", .source = "invented",
		.version = "0", .rate_hz = 2400000, .gain_ddb = 297, .ppm = 33, .dwell_us = LOOK_US,
		.pfa = 1e-8, .margin_db = 3,
	};

	snprintf(path, sizeof path, "%s/night-%02d.survey", folder, night + 1);
	g->dice = (struct noise){ SEED + (uint64_t)night };
	struct survey *s = survey_write(path, &run, g->band, BANDS, &why);
	must(s ? survey_begin(s, &why) : -1, &why);
	cover(g, s, &run, &why);
	talk(g, s, &run, &why);
	must(survey_end_run(s, run.id, run.start_us + HOURS * HOUR_US, &why), &why);
	must(survey_commit(s, &why), &why);
	survey_close(s);
}

int main(int argc, char **argv)
{
	static struct ground g;

	if (argc < 5) {
		fprintf(stderr, "bench_nights FOLDER NIGHTS CHANNELS OVERS [APART]\n");
		return 2;
	}
	g.channels = atoi(argv[3]) / BANDS;
	g.overs = atoi(argv[4]);
	g.apart = argc > 5 ? atoi(argv[5]) : 20;
	lay_bands(&g);
	for (int n = 0; n < atoi(argv[2]); n++)
		write_night(&g, argv[1], n);
	return 0;
}
