#include "tools/panorama.h"

#include <stdlib.h>
#include <string.h>

#include "store/picture.h"

/* Cells are as short as they can be and not be too many. */
static int64_t cell_for(int64_t span_us)
{
	static const int minutes[] = { 1, 2, 3, 5, 10, 15, 30, 60, 120, 180, 360, 720 };

	for (size_t i = 0; i < sizeof minutes / sizeof minutes[0]; i++)
		if (span_us / (minutes[i] * STRIP_MINUTE_US) < PANORAMA_MOST)
			return minutes[i] * STRIP_MINUTE_US;
	return (span_us / STRIP_DAY_US / PANORAMA_MOST + 1) * STRIP_DAY_US;
}

static bool of_site(const void *site, int64_t run)
{
	return site_has(site, run);
}

/* Which of the survey's bands became that one of the census. */
static int survey_band(const struct survey *s, const struct narrowed *part, int band)
{
	const struct band *all;
	int n = survey_bands(s, &all), i = 0;

	while (i < n && part->band_of[i] != band)
		i++;
	return i;
}

/* What begins or ends outside the part was not looked at. */
static bool within(const struct narrowed *part, const struct panorama *p, int64_t cell)
{
	int64_t at_us = p->from_us + cell * p->cell_us;

	return at_us + p->cell_us > part->since_us && at_us < part->until_us;
}

/* The survey has all channels of a cell together. */
static int read_band(struct survey *s, const struct narrowed *part, struct panorama *p, int band,
		     size_t channels, struct fault *why)
{
	size_t cells = (size_t)p->cells;
	uint8_t *mixed = malloc(channels * cells), *out = calloc(channels, cells);
	int64_t kept_us = 0;
	int result = -1;

	p->band[band] = out;
	if (!mixed || !out)
		fault_set(why, FAULT_FATAL, "no memory for the picture");
	else
		result = picture_read_of(s, survey_band(s, part, band), p->from_us,
					 p->from_us + p->cells * p->cell_us, p->cell_us, of_site,
					 &part->site, mixed, &kept_us, why);
	for (size_t i = 0; result == 0 && i < cells; i++)
		for (size_t k = 0; k < channels && within(part, p, (int64_t)i); k++)
			out[k * cells + i] = mixed[i * channels + k];
	if (kept_us > p->kept_us)
		p->kept_us = kept_us;
	free(mixed);
	return result;
}

int panorama_read(struct survey *s, const struct narrowed *part, const struct census *c,
		  struct panorama *out, struct fault *why)
{
	*out = (struct panorama){ .cell_us = cell_for(c->end_us - c->start_us) };
	out->from_us = c->start_us - c->start_us % out->cell_us;
	out->cells = (int)((c->end_us - out->from_us + out->cell_us - 1) / out->cell_us);
	if (out->cells < 1)
		out->cells = 1;
	out->band = calloc((size_t)c->bands + 1, sizeof *out->band);
	if (!out->band)
		return fault_set(why, FAULT_FATAL, "no memory for the picture");
	out->bands = c->bands;
	for (int b = 0; b < c->bands; b++)
		if (read_band(s, part, out, b, (size_t)c->band[b].raster.count, why) < 0)
			return -1;
	return 0;
}

void panorama_free(struct panorama *p)
{
	for (int b = 0; b < p->bands; b++)
		free(p->band[b]);
	free(p->band);
}

void panorama_day(const struct panorama *p, const struct census *c, int band, int32_t channel,
		  uint8_t out[PANORAMA_PARTS])
{
	const int64_t part_us = STRIP_DAY_US / PANORAMA_PARTS;
	const uint8_t *cell = panorama_channel(p, band, channel);

	memset(out, STRIP_NOT_LOOKED, PANORAMA_PARTS);
	for (int i = 0; i < p->cells; i++) {
		int64_t local = census_local_us(c, p->from_us + i * p->cell_us);
		int64_t first = local / part_us, last = (local + p->cell_us - 1) / part_us;
		for (int64_t k = first; k <= last && k < first + PANORAMA_PARTS; k++)
			strip_join(&out[k % PANORAMA_PARTS], &cell[i], 1);
	}
}
