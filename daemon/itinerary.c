#include "daemon/itinerary.h"

#include <math.h>
#include <stdio.h>

#include "daemon/watch.h"

/* Chance that an over of exponential length, mean_s on the average, is met at
 * all when a channel is looked at every revisit_s. */
static double met(double mean_s, double revisit_s)
{
	return mean_s / revisit_s * (1 - exp(-revisit_s / mean_s));
}

/* Measured on a whole night in the invented town: 12 hours, 12046 channels. */
#define TOWN_BYTES    2.5e6
#define TOWN_CHANNELS 12046.0

static void print_bands(const struct band *bands, int n_bands)
{
	char low[FREQ_TEXT], high[FREQ_TEXT], step[FREQ_TEXT];
	int channels = 0;

	for (int i = 0; i < n_bands; i++) {
		const struct band *b = &bands[i];
		freq_format_mhz(low, b->raster.first);
		freq_format_mhz(high, raster_last(&b->raster));
		snprintf(step, sizeof step, "%.4g kHz", freq_to_hz(b->raster.step) / 1000);
		printf("  %-16s %11s - %-11s MHz  %9s  %6d channels  %-4s %s\n", b->id, low, high, step,
		       b->raster.count, mode_name(b->mode), b->service);
		channels += b->raster.count;
	}
	printf("  in all %d channels in %d bands\n", channels, n_bands);
}

static void print_hops(const struct hop_plan *hops)
{
	char text[FREQ_TEXT];

	for (int i = 0; i < hops->n; i++) {
		int n = 0;
		for (int k = 0; k < hops->hops[i].n_spans; k++)
			n += hops->hops[i].spans[k].count;
		printf("  %3d  %12s MHz  %5d channels\n", i + 1,
		       freq_format_mhz(text, hops->hops[i].centre), n);
	}
}

void itinerary_print(const struct station *s, const struct band *bands, int n_bands,
		     const struct hop_plan *hops, int64_t look_us, bool tunable)
{
	int channels = 0;
	double look = (double)look_us * 1e-6, revisit = hops->n * (look + RETUNE_US * 1e-6);

	for (int i = 0; i < hops->n_spans; i++)
		channels += hops->spans[i].count;
	printf("station %s\nbands\n", s->name);
	print_bands(bands, n_bands);
	printf("hops: %d, covering %d channels at %.4g MS/s\n", hops->n, channels,
	       hops->n ? hops->hops[0].rate_hz * 1e-6 : 0);
	print_hops(hops);
	if (!tunable)
		return;         /* one place, one endless look */
	printf("look %.0f ms, retune about %.0f ms, so each channel is looked at every %.1f s\n",
	       look * 1000, RETUNE_US * 1e-3, revisit);
	if (s->rest_us)
		printf("after every %d sweeps a rest of %.0f s, which counts as not looked\n",
		       s->sweeps_per_spell, (double)s->rest_us * 1e-6);
	printf("chance to meet an over (exponential lengths): 2 s %.0f %%, 4 s %.0f %%, 8 s %.0f %%\n",
	       100 * met(2, revisit), 100 * met(4, revisit), 100 * met(8, revisit));
	printf("survey: about %.1f MB for 12 hours in a place as busy as the invented town\n",
	       TOWN_BYTES * 1e-6 * channels / TOWN_CHANNELS);
}
