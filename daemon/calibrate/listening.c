#include "daemon/calibrate/listening.h"

#include <math.h>
#include <poll.h>
#include <stdlib.h>
#include <time.h>

#include "daemon/log.h"

#define FINEST_HZ     5000              /* raster step that sets the transform length   */
#define LEARN_LOOKS   128
#define PLACES_ENOUGH 4                 /* hops from which a passband shows             */
#define PATIENCE      30                /* seconds a source may be away                 */
#define NAP_US        1000000           /* so long a signal may go unnoticed            */
#define FULL_SCALE    127.5             /* steps of an 8-bit converter                  */

struct listening {
	struct listening_wants w;
	struct channeliser    *channeliser;
	struct floor          *floor;
	double                 freedom;         /* of three bins                        */
	double                 ppm;
	int                    gain_tenth_db;
	int64_t                now_us;
	struct line            line[LINES_MAX];
};

static int make_floor(struct listening *l)
{
	const struct spectrum *s = channeliser_spectrum(l->channeliser);

	floor_destroy(l->floor);
	l->floor = floor_create(channeliser_like(l->channeliser), spectrum_window(s),
				spectrum_hop(s), l->w.hops->n < PLACES_ENOUGH);
	return l->floor ? 0 : -1;
}

struct listening *listening_create(const struct listening_wants *w)
{
	struct listening *l = calloc(1, sizeof *l);
	int32_t rate = w->hops->hops[0].rate_hz;
	int bins = hop_bins(rate, FREQ_HZ(FINEST_HZ));

	if (!l)
		return NULL;
	l->w = *w;
	l->channeliser = channeliser_create(rate, bins, look_samples(rate, bins, w->look_us));
	if (!l->channeliser || make_floor(l) < 0)
		goto fail;
	const struct spectrum *s = channeliser_spectrum(l->channeliser);
	l->freedom = window_freedom(spectrum_window(s), bins, spectrum_hop(s),
				    channeliser_like(l->channeliser)->transforms, 0, 3);
	return l;
fail:
	listening_destroy(l);
	return NULL;
}

void listening_destroy(struct listening *l)
{
	if (!l)
		return;
	channeliser_destroy(l->channeliser);
	floor_destroy(l->floor);
	free(l);
}

void listening_set(struct listening *l, double ppm, int gain_tenth_db)
{
	l->ppm = ppm;
	l->gain_tenth_db = gain_tenth_db;
}

int64_t listening_now_us(const struct listening *l)
{
	return l->now_us;
}

/* Live sources are waited for; a virtual clock only moves on. */
int listening_rest(struct listening *l, int64_t us)
{
	while (us > 0 && !*l->w.stop) {
		int64_t step = us < NAP_US ? us : NAP_US;
		struct timespec t = { (time_t)(step / 1000000), (long)(step % 1000000 * 1000) };
		l->w.ops->rest(l->w.source, step);
		if (!l->w.about->virtual_clock)
			nanosleep(&t, NULL);
		us -= step;
	}
	return *l->w.stop ? SOURCE_END : SOURCE_BLOCK;
}

static void wait_readable(const struct listening *l)
{
	struct pollfd p = { .events = POLLIN };

	p.fd = l->w.ops->descriptor ? l->w.ops->descriptor(l->w.source) : -1;
	poll(&p, 1, 100);
}

/* One look's samples: any enum source_result but SOURCE_LATER. */
static int fetch(struct listening *l, int hop, struct block *b, struct fault *why)
{
	const struct hop *h = &l->w.hops->hops[hop];
	struct tuning to = { h->centre, h->rate_hz, l->ppm, l->gain_tenth_db };
	size_t n = channeliser_samples(l->channeliser);
	int got = l->w.ops->tune(l->w.source, &to, why);

	if (got < 0)
		return got;
	do {
		got = l->w.ops->read(l->w.source, n, b, why);
		if (got == SOURCE_LATER)
			wait_readable(l);
	} while (got == SOURCE_LATER && !*l->w.stop);
	return got == SOURCE_LATER || (got == SOURCE_BLOCK && b->n < n) ? SOURCE_END : got;
}

/* The same, with patience. */
static int insist(struct listening *l, int hop, struct block *b, struct fault *why)
{
	for (int tries = 0; ; tries++) {
		int got = *l->w.stop ? SOURCE_END : fetch(l, hop, b, why);
		if (got != SOURCE_FAULT || why->kind != FAULT_RETRY || tries == PATIENCE) {
			l->now_us = got == SOURCE_BLOCK ? b->mono_us : l->now_us;
			return got;
		}
		if (tries == 0) {
			progress_clear(l->w.progress);
			log_line(LOG_WARNING, "source is lost: %s, trying again", why->text);
		}
		if (listening_rest(l, 1000000) == SOURCE_END)
			return SOURCE_END;
	}
}

int listening_learn(struct listening *l, struct fault *why)
{
	struct block b;
	int deaf = 0;

	if (make_floor(l) < 0) {
		fault_set(why, FAULT_FATAL, "no memory to listen with");
		return SOURCE_FAULT;
	}
	for (int i = 0; i < LEARN_LOOKS; i++) {
		int got = insist(l, i % l->w.hops->n, &b, why);
		if (got == SOURCE_DEAF && ++deaf < l->w.hops->n)
			continue;
		if (got == SOURCE_DEAF)
			return SOURCE_FAULT;
		if (got != SOURCE_BLOCK)
			return got;
		deaf = 0;
		floor_learn(l->floor, channeliser_look(l->channeliser, &b));
	}
	floor_settle(l->floor);
	return SOURCE_BLOCK;
}

int listening_look(struct listening *l, int hop, struct glimpse *out, struct fault *why)
{
	struct block b;
	int got = insist(l, hop, &b, why);

	if (got != SOURCE_BLOCK)
		return got;
	struct look *look = channeliser_look(l->channeliser, &b);
	floor_learn(l->floor, look);
	floor_judge(l->floor, look);
	*out = (struct glimpse){
		.look = look,
		.floor = l->floor,
		.line = l->line,
		.lines = lines_find(look, l->floor, l->freedom, l->line),
		.noise_lsb = FULL_SCALE * sqrt(floor_level(l->floor) / 2),
	};
	return got;
}
