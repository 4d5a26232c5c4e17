#include "dsp/band.h"

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
