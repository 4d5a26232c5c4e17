#include "dsp/band.h"

#include <ctype.h>
#include <inttypes.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <strings.h>

static const char *const mode_names[MODE_COUNT] = { "none", "AM", "NFM", "WFM" };

const char *mode_name(enum mode m)
{
	return (unsigned)m < MODE_COUNT ? mode_names[m] : "none";
}

enum mode mode_named(const char *name)
{
	int m = 0;
	while (m < MODE_COUNT && strcasecmp(name, mode_names[m]) != 0)
		m++;
	return (enum mode)m;
}

struct freq band_low(const struct band *b)
{
	return (struct freq){ b->raster.first.thirds - b->raster.step.thirds / 2 };
}

struct freq band_high(const struct band *b)
{
	return (struct freq){ raster_last(&b->raster).thirds + b->raster.step.thirds / 2 };
}

double band_measured_hz(const struct band *b)
{
	double step = freq_to_hz(b->raster.step);
	return 0.6 * (b->width_hz > step ? b->width_hz : step);
}

#define SPLIT_MOST INT64_C(3000000000)

char *band_splits_text(const struct band *b, char out[BAND_SPLITS_TEXT])
{
	int n = 0;

	out[0] = '\0';
	for (int i = 0; i < BAND_SPLITS && b->split[i].thirds; i++)
		n += snprintf(out + n, (size_t)(BAND_SPLITS_TEXT - n), "%s%" PRId64, i ? " " : "",
			      b->split[i].thirds);
	return out;
}

int band_splits_parse(struct band *b, const char *text)
{
	struct freq split[BAND_SPLITS] = { 0 };

	for (int n = 0; *text; n++) {
		char *end;
		if (n == BAND_SPLITS || (!isdigit((unsigned char)*text) && *text != '-'))
			return -1;
		split[n].thirds = strtoll(text, &end, 10);
		if (end == text || split[n].thirds == 0 || split[n].thirds > SPLIT_MOST ||
		    split[n].thirds < -SPLIT_MOST || (*end && (*end != ' ' || !end[1])))
			return -1;
		text = *end ? end + 1 : end;
	}
	memcpy(b->split, split, sizeof split);
	return 0;
}
