#include "tools/plan/hazard.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>

/* A station has to be so strong for a plain set to hear its image (50 dB of rejection and 10 dB
 * to open on it: common practice). */
#define IMAGE_DB 60.0

static bool near(struct freq a, struct freq b, double within_hz)
{
	return fabs(freq_to_hz((struct freq){ a.thirds - b.thirds })) <= within_hz;
}

static bool on_birdie(const struct receiver *r, struct freq f, double half_hz,
		      char out[HAZARD_TEXT])
{
	char mhz[FREQ_TEXT];

	for (int i = 0; i < r->birdies; i++)
		if (near(r->birdie[i], f, half_hz)) {
			snprintf(out, HAZARD_TEXT,
				 "your set hears itself on %s MHz: it may stop there for nothing",
				 freq_format_mhz(mhz, r->birdie[i]));
			return true;
		}
	return false;
}

/* The strongest channel an image here could be of; NULL: none. */
static const struct channel *imaged(const struct receiver *r, const struct census *c, struct freq f,
				    double half_hz)
{
	const struct channel *worst = NULL;

	for (int i = 0; i < c->channels; i++) {
		const struct channel *ch = &c->channel[i];
		if (ch->peak_db < IMAGE_DB || (worst && ch->peak_db <= worst->peak_db))
			continue;
		for (int k = 0; k < r->ifs; k++) {
			struct freq away = { 2 * r->first_if[k].thirds };
			if (near(ch->centre, (struct freq){ f.thirds + away.thirds }, half_hz) ||
			    near(ch->centre, (struct freq){ f.thirds - away.thirds }, half_hz))
				worst = ch;
		}
	}
	return worst;
}

bool hazard_at(const struct receiver *r, const struct census *c, struct freq landed, enum mode mode,
	       char out[HAZARD_TEXT])
{
	double half_hz = r->filter_hz[mode] / 2;
	const struct channel *ch;
	char mhz[FREQ_TEXT];

	out[0] = '\0';
	if (on_birdie(r, landed, half_hz, out))
		return true;
	ch = imaged(r, c, landed, half_hz);
	if (!ch)
		return false;
	snprintf(out, HAZARD_TEXT,
		 "your set may hear %s MHz here too: its image, twice its first IF away",
		 freq_format_mhz(mhz, ch->centre));
	return true;
}
