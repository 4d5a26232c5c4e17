#include "dsp/ear.h"

#include <stdlib.h>

struct ear {
	struct ear_wants    wants;
	struct channeliser *channeliser;
	struct floor       *floor;
	struct detector    *detector;
	struct look        *look;
	double              freedom;    /* of three bins */
};

struct ear *ear_create(const struct ear_wants *w)
{
	struct ear *e = calloc(1, sizeof *e);
	if (!e)
		return NULL;
	e->wants = *w;
	e->channeliser = channeliser_create(w->rate_hz, w->bins, w->samples);
	if (!e->channeliser)
		goto fail;
	const struct spectrum *s = channeliser_spectrum(e->channeliser);
	const struct look *like = channeliser_like(e->channeliser);
	e->floor = floor_create(like, spectrum_window(s), spectrum_hop(s), w->one_place);
	e->detector = detector_create(&w->sense, like, spectrum_window(s), spectrum_hop(s),
				      w->bands, w->n_bands, w->max_seats);
	e->freedom = window_freedom(spectrum_window(s), w->bins, spectrum_hop(s), like->transforms,
				    0, 3);
	if (!e->floor || !e->detector)
		goto fail;
	return e;
fail:
	ear_destroy(e);
	return NULL;
}

void ear_destroy(struct ear *e)
{
	if (!e)
		return;
	channeliser_destroy(e->channeliser);
	floor_destroy(e->floor);
	detector_destroy(e->detector);
	free(e);
}

size_t ear_samples(const struct ear *e)
{
	return e->wants.samples;
}

const struct look *ear_glance(struct ear *e, const struct block *b)
{
	e->look = channeliser_look(e->channeliser, b);
	return e->look;
}

void ear_learn(struct ear *e, const struct block *b)
{
	e->look = channeliser_look(e->channeliser, b);
	floor_learn(e->floor, e->look);
}

void ear_overhear(struct ear *e, const struct block *b)
{
	e->look = channeliser_look(e->channeliser, b);
	floor_learn(e->floor, e->look);
	floor_judge(e->floor, e->look);
}

int ear_lines(const struct ear *e, struct line out[LINES_MAX])
{
	return lines_find(e->look, e->floor, e->freedom, out);
}

void ear_settle(struct ear *e)
{
	floor_settle(e->floor);
}

static const struct judged *judge(struct ear *e, const struct hop *hop, const bool *open)
{
	floor_judge(e->floor, e->look);
	return detector_judge(e->detector, e->look, e->floor, hop, open);
}

const struct judged *ear_listen(struct ear *e, const struct block *b, const struct hop *hop,
				const bool *open)
{
	ear_learn(e, b);
	return judge(e, hop, open);
}

const struct judged *ear_listen_on(struct ear *e, const struct block *b, const struct hop *hop,
				   const bool *open)
{
	ear_glance(e, b);
	return judge(e, hop, open);
}

const struct look *ear_look(const struct ear *e)
{
	return e->look;
}

void ear_forget(struct ear *e)
{
	floor_forget(e->floor);
}

double ear_noise(const struct ear *e)
{
	return floor_level(e->floor);
}

double ear_floor(const struct ear *e, int32_t band, int32_t channel)
{
	const struct band *b = &e->wants.bands[band];
	struct freq at = raster_centre(&b->raster, channel);
	double off = freq_to_hz((struct freq){ at.thirds - e->look->centre.thirds });
	double half = band_measured_hz(b) / 2;

	return floor_power(e->floor, look_edge(e->look, off - half),
			   look_edge(e->look, off + half));
}
