#ifndef BANDCENSUS_TOOLS_PANORAMA_H
#define BANDCENSUS_TOOLS_PANORAMA_H

#include "tools/plan/census.h"
#include "tools/night.h"

/* The pictures of all bands over the time of a census, channel by channel: cells as in
 * store/strip.h, at the daemon's own threshold whatever the squelch. */
struct panorama {
	int64_t   from_us, cell_us;     /* UTC; whole minutes                     */
	int       cells;                /* 1 .. PANORAMA_MOST                     */
	int64_t   kept_us;              /* longest cell the survey keeps; 0: none */
	int       bands;
	uint8_t **band;                 /* each [channels][cells]                 */
};

#define PANORAMA_MOST 1440

/* Of the part of a survey that the census is of. Owned until panorama_free; -1 with why. */
int panorama_read(struct survey *s, const struct narrowed *part, const struct census *c, struct panorama *out,
		  struct fault *why);
void panorama_free(struct panorama *p);         /* zeroed is fine */

static inline const uint8_t *panorama_channel(const struct panorama *p, int band, int32_t channel)
{
	return p->band[band] + (size_t)channel * (size_t)p->cells;
}

/* A channel by the place's time of day, all days together: of each part the strongest. */
#define PANORAMA_PARTS 96               /* quarters of an hour */
void panorama_day(const struct panorama *p, const struct census *c, int band, int32_t channel,
		  uint8_t out[PANORAMA_PARTS]);

#endif
