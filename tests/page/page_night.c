/* A night whose names would like to be mark-up, and a list of licences that would too:
 *
 *     page_night FOLDER
 *
 * writes FOLDER/night.survey, list.csv and interests.conf. Four hours from 2026-01-01T00:00Z, of which nobody looked from
 * minute 125 to 129. On fire's channel 186 there are overs in the minutes 1, 11, 21 ... 231, 30 dB
 * over the noise; what pages.js knows of the rest it asks of bandcensus channels. */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "store/strip.h"
#include "tests/night_world.h"

#define MINUTES 240
#define TALKER  186

static const char hostile[] = "<script>hurt=1</script>&amp;\"'\xe2\x80\xae";

static void must(int result, const struct fault *why)
{
	if (result < 0) {
		fprintf(stderr, "page_night: %s\n", why->text);
		exit(1);
	}
}

static void put(const char *folder, const char *name, const char *text)
{
	char path[4096];

	snprintf(path, sizeof path, "%s/%s", folder, name);
	FILE *to = fopen(path, "w");
	if (!to || fputs(text, to) < 0 || fclose(to) != 0) {
		perror(path);
		exit(1);
	}
}

static void add(struct survey *s, struct world_over o, struct fault *why)
{
	struct transmission_row t = world_transmission(&o);
	struct activity_row a = world_activity(&o);

	must(survey_add_transmission(s, &t, why), why);
	must(survey_add_activity(s, &a, why), why);
}

static void talk(struct survey *s, int32_t band, int32_t channel, int exchanges, enum kind kind,
		 struct fault *why)
{
	for (int e = 0; e < exchanges; e++)
		for (int k = 0; k < 3; k++)
			add(s, (struct world_over){ band, channel, 60 + e * 600 + 7 * k, 5, 300, 0, 9000,
						    kind, 0 }, why);
}

static void draw(struct survey *s, const struct run_row *run, int b, int32_t channels, struct fault *why)
{
	uint8_t *cells = malloc((size_t)channels * 60), *packed = malloc(strip_room((size_t)channels * 60));

	for (int h = 0; h < MINUTES / 60; h++) {
		memset(cells, STRIP_QUIET, (size_t)channels * 60);
		for (int m = 0; m < 60; m++) {
			uint8_t *cell = cells + m * channels;
			if (h * 60 + m >= 125 && h * 60 + m < 130)
				memset(cell, STRIP_NOT_LOOKED, (size_t)channels);
			else if (b == WORLD_AIR && h == 0)      /* a part of the line that the first eight make */
				cell[3] = STRIP_NOT_LOOKED;
			else if (b == WORLD_FIRE && (h * 60 + m) % 10 == 1)
				cell[TALKER] = STRIP_HEARD + 30;
		}
		struct strip_row row = { run->id, b, NIGHT_US + h * HOUR_US, STRIP_MINUTE_US, 60,
					 { packed, strip_pack(cells, (size_t)channels * 60, packed) } };
		must(survey_add_strip(s, &row, why), why);
	}
	free(cells);
	free(packed);
}

static void fill(struct survey *s, struct run_row *run, struct fault *why)
{
	struct incident_row lost = { .run = run->id, .at_us = NIGHT_US + 125 * STRIP_MINUTE_US,
				     .until_us = NIGHT_US + 130 * STRIP_MINUTE_US, .what = "lost" };

	snprintf(lost.text, sizeof lost.text, "%s", hostile);
	must(survey_begin(s, why), why);
	for (int b = 0; b < WORLD_BANDS; b++) {
		for (int h = 0; h < MINUTES / 60; h++) {
			struct coverage_row c = world_coverage(b, h);
			must(survey_add_coverage(s, &c, why), why);
		}
		draw(s, run, b, world_band[b].raster.count, why);
	}
	talk(s, WORLD_FIRE, TALKER, 24, KIND_NFM, why);
	talk(s, WORLD_AIR, 397, 20, KIND_AM, why);
	for (int32_t k = 0; k < 20; k++)
		talk(s, WORLD_BUSINESS, 20 * k, 1 + k % 7, k % 3 ? KIND_NFM : KIND_DATA, why);
	talk(s, WORLD_PAGING, 100, 24, KIND_DATA, why);
	must(survey_add_incident(s, &lost, why), why);
	must(survey_end_run(s, run->id, run->end_us, why), why);
	must(survey_commit(s, why), why);
}

int main(int argc, char **argv)
{
	struct run_row run = night_run(4);
	struct band band[WORLD_BANDS];
	struct fault why = { 0 };
	char path[4096];

	if (argc != 2)
		return 2;
	memcpy(band, world_band, sizeof band);
	snprintf(band[WORLD_FIRE].name, sizeof band[0].name, "%s", hostile);
	snprintf(run.station, sizeof run.station, "%s", hostile);
	snprintf(path, sizeof path, "%s/night.survey", argv[1]);
	struct survey *s = survey_write(path, &run, band, WORLD_BANDS, &why);
	must(s ? 0 : -1, &why);
	fill(s, &run, &why);
	survey_close(s);
	put(argv[1], "list.csv", "154.235,\"<img src=http://example.invalid/ onerror=hurt=1>\"\n"
	    "154.235,\"'\"\"><svg onload=hurt=1>\"\n");
	put(argv[1], "interests.conf",
	    "kind = \"interests\";\nknown = ( { frequency = \"154.235 MHz\"; service = \"fire\"; "
	    "name = \"</b><script>hurt=1</script>\"; } );\n");
	return 0;
}
