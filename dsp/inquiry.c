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
#define APART_US   500000       /* most pauses in speech are over by then                    */
#define LOOKS      24           /* of a sweep: first ones that all are listened to ...       */
#define LOOKS_EVERY 16          /* ... and after those one in so many                        */
#define FOLLOWERS  (INQUIRY_CHANNELS + INQUIRY_WIDE)

/* Follows one channel from block to block. The last few are for wide ones. */
struct follower {
	struct over         *over;      /* NULL: free                                */
	int64_t              heard;     /* number of the block it was last fed with  */
	struct zoom         *zoom;
	struct discriminator detector;
	struct subtone      *subtone;   /* NULL: a wide one                          */
};

struct over {
	bool                taken, wide;
	int32_t             band, channel;
	double              pass_hz;
	double offset_hz; /* from the channel's centre, as first seen: kept, so that */
	/* frequencies of all its looks are alike    */
	struct sketch      *sketch;
	int64_t             heard;      /* number of the block it was last heard in  */
	int64_t             until_us;   /* that one's end                            */
	int64_t             looks;
	double              stayed_s;
	struct follower    *follower;   /* or NULL                                   */
	struct subtone_word below;      /* what followers before this one heard      */
};

struct inquiry {
	struct reel    *reel;
	struct zoom    *glass[2];       /* for blocks by themselves: narrow, wide    */
	struct follower follower[FOLLOWERS];
	struct over     over[INQUIRY_OVERS];
	float          *hz;
	size_t          n;
	int32_t         rate_hz;
	int64_t blocks; /* counted; one more where one does not follow on the last */
	int64_t         start_us, end_us;       /* of the last one                           */
	struct freq     centre;
};

static bool follower_create(struct inquiry *q, struct follower *f, bool wide)
{
	f->zoom = zoom_create(q->rate_hz, q->n, wide ? ZOOM_WIDE_HZ : ZOOM_NARROW_HZ);
	if (f->zoom && !wide)
		f->subtone = subtone_create(zoom_rate(f->zoom));
	return f->zoom && (wide || f->subtone);
}

/* All draw with the transform of the first. */
static bool overs_create(struct inquiry *q)
{
	for (int i = 0; i < INQUIRY_OVERS; i++) {
		q->over[i].sketch = sketch_create(q->over[0].sketch);
		if (!q->over[i].sketch)
			return false;
	}
	return true;
}

struct inquiry *inquiry_create(int32_t rate_hz, size_t n)
{
	struct inquiry *q = calloc(1, sizeof *q);
	if (!q)
		return NULL;
	q->rate_hz = rate_hz;
	q->n = n;
	q->reel = reel_create(rate_hz, n);
	q->glass[0] = zoom_create(rate_hz, n, ZOOM_NARROW_HZ);
	q->glass[1] = zoom_create(rate_hz, n, ZOOM_WIDE_HZ);
	/* No zoom gives more than one value for every sample. */
	q->hz = malloc((n + 1) * sizeof *q->hz);
	if (!q->reel || !q->glass[0] || !q->glass[1] || !q->hz || !overs_create(q))
		goto fail;
	for (int i = 0; i < FOLLOWERS; i++)
		if (!follower_create(q, &q->follower[i], i >= INQUIRY_CHANNELS))
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
	for (int i = 0; i < FOLLOWERS; i++) {
		zoom_destroy(q->follower[i].zoom);
		subtone_destroy(q->follower[i].subtone);
	}
	/* The first one's transform goes last. */
	for (int i = INQUIRY_OVERS; i-- > 0; )
		sketch_destroy(q->over[i].sketch);
	zoom_destroy(q->glass[0]);
	zoom_destroy(q->glass[1]);
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
	q->start_us = b->mono_us;
	q->end_us = b->mono_us + (int64_t)reel_samples(q->reel) * 1000000 / q->rate_hz;
}

static struct over *over_of(struct inquiry *q, int32_t band, int32_t channel)
{
	for (int i = 0; i < INQUIRY_OVERS; i++)
		if (q->over[i].taken && q->over[i].band == band && q->over[i].channel == channel)
			return &q->over[i];
	return NULL;
}

/* A free place for an over, or NULL. */
static struct over *over_begin(struct inquiry *q, const struct busy *b)
{
	struct over *o = NULL;

	for (int i = 0; i < INQUIRY_OVERS && !o; i++)
		if (!q->over[i].taken)
			o = &q->over[i];
	if (!o)
		return NULL;
	bool wide = b->width_hz > WIDE_HZ;
	double pass = wide ? WIDE_PASS : PASS * band_measured_hz(&b->bands[b->band]);
	const struct zoom *z = q->glass[wide];
	*o = (struct over){ .taken = true, .wide = wide, .band = b->band, .channel = b->channel,
			    .pass_hz = fmin(fmax(pass, LEAST_HZ), zoom_widest(z)),
			    .offset_hz = b->offset_hz, .sketch = o->sketch, .heard = -1 };
	return o;
}

/* What the over has said below speech, to all that followed it. */
static struct subtone_word below(const struct over *o)
{
	struct subtone_word w = { 0 };

	if (o->follower && o->follower->subtone)
		subtone_take(o->follower->subtone, &w);
	return w.seconds > o->below.seconds ? w : o->below;
}

/* One that is free, or whose over was not heard of late: its receiver has gone on. */
static struct follower *follower_free(struct inquiry *q, bool wide)
{
	struct follower *last = NULL;

	for (int i = wide ? INQUIRY_CHANNELS : 0; i < (wide ? FOLLOWERS : INQUIRY_CHANNELS); i++) {
		struct follower *f = &q->follower[i];
		if (!f->over)
			return f;
		if (f->heard < q->blocks - 1 && (!last || f->heard < last->heard))
			last = f;
	}
	if (last) {
		last->over->below = below(last->over);
		last->over->follower = NULL;
	}
	return last;
}

static void follow(struct inquiry *q, struct over *o)
{
	struct follower *f = follower_free(q, o->wide);

	o->follower = f;
	if (!f)
		return;
	f->over = o;
	f->heard = -1;
	if (f->subtone)
		subtone_reset(f->subtone);
}

/* Points a zoom at the over, and the sketch with it: what comes next does not join what
 * was before. */
static void aim(const struct inquiry *q, struct over *o, const struct busy *b, struct zoom *z)
{
	struct freq at = raster_centre(&b->bands[b->band].raster, b->channel);
	double offset = freq_to_hz((struct freq){ at.thirds - q->centre.thirds });

	zoom_aim(z, offset + o->offset_hz, o->pass_hz);
	if (o->heard < 0)
		sketch_reset(o->sketch, zoom_rate(z), o->pass_hz, zoom_noise_hz(z));
	else if (q->start_us - o->until_us > APART_US)
		sketch_apart(o->sketch);
	else
		sketch_cut(o->sketch);
}

static void hear_once(struct inquiry *q, struct over *o, const struct busy *b)
{
	struct zoom *z = q->glass[o->wide];

	aim(q, o, b, z);
	size_t n = zoom_draw(z, q->reel, 0, reel_samples(q->reel));
	sketch_feed(o->sketch, zoom_out(z), n, b->noise);
}

static void hear_on(struct inquiry *q, struct over *o, const struct busy *b)
{
	struct follower *f = o->follower;

	if (f->heard < 0 || f->heard != q->blocks - 1) {
		aim(q, o, b, f->zoom);
		if (f->subtone)
			subtone_cut(f->subtone);
		f->detector = (struct discriminator){ 0 };
	}
	f->heard = q->blocks;
	size_t n = zoom_draw(f->zoom, q->reel, 0, reel_samples(q->reel));
	sketch_feed(o->sketch, zoom_out(f->zoom), n, b->noise);
	o->stayed_s += (double)n / zoom_rate(f->zoom);
	if (!f->subtone)
		return;
	discriminator_feed(&f->detector, zoom_out(f->zoom), n, zoom_rate(f->zoom), q->hz);
	subtone_feed(f->subtone, q->hz, n);
}

void inquiry_hear(struct inquiry *q, const struct busy *b)
{
	struct over *o = over_of(q, b->band, b->channel);

	o = o ? o : over_begin(q, b);
	if (!o || o->heard == q->blocks)
		return;
	if (b->stays && !o->follower)
		follow(q, o);
	if (b->stays && o->follower)
		hear_on(q, o, b);
	else if (o->looks < LOOKS || o->looks % LOOKS_EVERY == 0)
		hear_once(q, o, b);
	o->looks += !b->stays;
	o->heard = q->blocks;
	o->until_us = q->end_us;
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
	struct over *o = over_of(q, band, channel);

	*out = (struct answer){ 0 };
	if (!o)
		return false;
	sketch_take(o->sketch, &out->features);
	out->kind = features_kind(&out->features, o->pass_hz, &out->confidence);
	out->stayed_s = o->stayed_s;
	out->below = below(o);
	tell_tail(out);
	if (o->follower)
		o->follower->over = NULL;
	o->taken = false;
	return true;
}
