#include "dsp/inquiry.h"

#include <complex.h>
#include <math.h>
#include <stdlib.h>

#include "dsp/discriminator.h"
#include "dsp/zoom.h"

#define WIDE_HZ    60000.0      /* from this width on it is broadcast FM, or no signal       */
#define WIDE_PASS  200000.0     /* what is heard of it                                       */
#define PASS       1.25         /* of the measured width: room for what is off its channel   */
#define LEAST_HZ   5000.0
#define TAIL       1.2          /* swing over its peak: a code's is 1, a tone's less         */
#define SEAM_US    200          /* blocks' times agree to that                               */
#define PLACES     (INQUIRY_CHANNELS + INQUIRY_WIDE)

/* One channel listened to. The last few places are for wide ones. */
struct place {
	bool                 taken;
	int32_t              band, channel;
	double               pass_hz;
	int64_t              heard;     /* number of the block it was last heard in */
	struct zoom         *zoom;
	struct sketch       *sketch;
	struct discriminator detector;
	struct subtone      *subtone;   /* NULL: a wide place                       */
};

struct inquiry {
	struct reel  *reel;
	struct place  place[PLACES];
	float        *hz;
	size_t        n;
	int32_t       rate_hz;
	int64_t       blocks, end_us;   /* blocks that followed on each other or not */
	struct freq   centre;
};

static bool place_create(struct inquiry *q, struct place *p, bool wide)
{
	p->zoom = zoom_create(q->rate_hz, q->n, wide ? ZOOM_WIDE_HZ : ZOOM_NARROW_HZ);
	p->sketch = sketch_create();
	if (!p->zoom || !p->sketch)
		return false;
	if (!wide)
		p->subtone = subtone_create(zoom_rate(p->zoom));
	return wide || p->subtone;
}

struct inquiry *inquiry_create(int32_t rate_hz, size_t n)
{
	struct inquiry *q = calloc(1, sizeof *q);
	if (!q)
		return NULL;
	q->rate_hz = rate_hz;
	q->n = n;
	q->reel = reel_create(rate_hz, n);
	/* No zoom gives more than one value for every sample. */
	q->hz = malloc((n + 1) * sizeof *q->hz);
	if (!q->reel || !q->hz)
		goto fail;
	for (int i = 0; i < PLACES; i++)
		if (!place_create(q, &q->place[i], i >= INQUIRY_CHANNELS))
			goto fail;
	return q;
fail:
	inquiry_destroy(q);
	return NULL;
}

void inquiry_destroy(struct inquiry *q)
{
	if (!q)
		return;
	for (int i = 0; i < PLACES; i++) {
		zoom_destroy(q->place[i].zoom);
		sketch_destroy(q->place[i].sketch);
		subtone_destroy(q->place[i].subtone);
	}
	reel_destroy(q->reel);
	free(q->hz);
	free(q);
}

void inquiry_load(struct inquiry *q, const struct block *b)
{
	bool follows = !b->gap && b->centre.thirds == q->centre.thirds &&
		       llabs(b->mono_us - q->end_us) <= SEAM_US;

	reel_load(q->reel, b);
	q->blocks += follows ? 1 : 2;
	q->centre = b->centre;
	q->end_us = b->mono_us + (int64_t)reel_samples(q->reel) * 1000000 / q->rate_hz;
}

static struct place *place_of(struct inquiry *q, int32_t band, int32_t channel)
{
	for (int i = 0; i < PLACES; i++)
		if (q->place[i].taken && q->place[i].band == band && q->place[i].channel == channel)
			return &q->place[i];
	return NULL;
}

/* A free place for an emission of that width, or NULL. */
static struct place *place_free(struct inquiry *q, const struct busy *b)
{
	bool wide = b->width_hz > WIDE_HZ;
	int from = wide ? INQUIRY_CHANNELS : 0, to = wide ? PLACES : INQUIRY_CHANNELS;
	struct place *p = NULL;

	for (int i = from; i < to && !p; i++)
		if (!q->place[i].taken)
			p = &q->place[i];
	if (!p)
		return NULL;
	double pass = wide ? WIDE_PASS : PASS * band_measured_hz(&b->bands[b->band]);
	p->taken = true;
	p->band = b->band;
	p->channel = b->channel;
	p->pass_hz = fmin(fmax(pass, LEAST_HZ), zoom_widest(p->zoom));
	p->heard = -1;
	if (p->subtone)
		subtone_reset(p->subtone);
	return p;
}

/* Listens anew: the over's first block, or after a hole. */
static void aim(struct inquiry *q, struct place *p, const struct busy *b)
{
	struct freq at = raster_centre(&b->bands[b->band].raster, b->channel);
	double offset = freq_to_hz((struct freq){ at.thirds - q->centre.thirds });

	zoom_aim(p->zoom, offset + b->offset_hz, p->pass_hz);
	if (p->heard < 0)
		sketch_reset(p->sketch, zoom_rate(p->zoom), p->pass_hz, zoom_noise_hz(p->zoom));
	sketch_cut(p->sketch);
	if (p->subtone)
		subtone_cut(p->subtone);
	p->detector = (struct discriminator){ 0 };
}

void inquiry_hear(struct inquiry *q, const struct busy *b)
{
	struct place *p = place_of(q, b->band, b->channel);

	p = p ? p : place_free(q, b);
	if (!p || p->heard == q->blocks)
		return;
	if (p->heard < 0 || p->heard != q->blocks - 1)
		aim(q, p, b);
	p->heard = q->blocks;
	size_t n = zoom_draw(p->zoom, q->reel, 0, reel_samples(q->reel));
	sketch_feed(p->sketch, zoom_out(p->zoom), n, b->noise);
	if (!p->subtone)
		return;
	discriminator_feed(&p->detector, zoom_out(p->zoom), n, zoom_rate(p->zoom), q->hz);
	subtone_feed(p->subtone, q->hz, n);
}

/* A tone or code that is all there is: the tail of a repeater, between two speakers. With
 * anything but frequency modulation there is none. */
static void tell_tail(struct answer *a)
{
	if (a->below.below > BELOW_NOTHING && a->kind != KIND_AM &&
	    a->features.swing_hz < a->below.peak_hz * TAIL) {
		a->kind = KIND_NFM;
		a->confidence = a->below.share;
	}
	if (a->kind != KIND_NFM && a->kind != KIND_UNKNOWN)
		a->below = (struct subtone_word){ 0 };
}

bool inquiry_take(struct inquiry *q, int32_t band, int32_t channel, struct answer *out)
{
	struct place *p = place_of(q, band, channel);

	*out = (struct answer){ 0 };
	if (!p)
		return false;
	p->taken = false;
	sketch_take(p->sketch, &out->features);
	out->kind = features_kind(&out->features, p->pass_hz, &out->confidence);
	if (p->subtone)
		subtone_take(p->subtone, &out->below);
	tell_tail(out);
	return true;
}
