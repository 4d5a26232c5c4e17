#include "daemon/source.h"

#include <math.h>
#include <pthread.h>
#include <rtl-sdr.h>
#include <signal.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>

#include "daemon/stream.h"

/* 32 transfers in flight let the reader sleep 0.44 s at 2.4 MS/s; 64 KiB is
 * 13.7 ms, about what a retune throws away. */
#define TRANSFERS      32
#define TRANSFER_BYTES 65536

#define FIRST_WAIT_US  2000000          /* from start to the first samples           */
#define STOP_US        3000000          /* for the reader to end once cancelled      */
#define SETTLE_US      5000             /* synthesiser and filters, after a retune   */

struct dongle {
	char              name[80];     /* for faults: "dongle 00000001"             */
	rtlsdr_dev_t     *dev;
	const struct tuner *tuner;
	int              *gains;        /* tenths of a dB                            */
	int               n_gains;
	struct stream    *stream;
	pthread_t         reader;
	bool              reading;
	struct tuning     set;          /* rate 0: nothing yet, or not known         */
	int               whole_ppm;    /* what the library corrects for             */
	struct freq       centre;       /* where the tuner truly is                  */
};

/* Ranges are common practice less a margin; the R820T's ends were read off its
 * registers: below 25.9 MHz it lands elsewhere without a word, above 1768 MHz
 * it refuses or does not lock. */
struct tuner {
	enum rtlsdr_tuner type;
	const char       *name;
	int32_t           low_mhz, high_mhz;
};

static const struct tuner tuners[] = {
	{ RTLSDR_TUNER_R820T,  "R820T",  26,  1766 },
	{ RTLSDR_TUNER_R828D,  "R828D",  26,  1766 },
	{ RTLSDR_TUNER_E4000,  "E4000",  55,  2140 },
	{ RTLSDR_TUNER_FC0012, "FC0012", 24,  940 },
	{ RTLSDR_TUNER_FC0013, "FC0013", 24,  1090 },
	{ RTLSDR_TUNER_FC2580, "FC2580", 148, 920 },
};

/* The library hands libusb's codes on. All may come right while we wait: a
 * node's permission is set a moment after it appears. */
static const struct {
	int         code;
	const char *text;
} usb_faults[] = {
	{ -3, "no permission, install the udev rule 60-librtlsdr0.rules (package librtlsdr0), put "
	      "this user into group plugdev, then log in again and replug it" },
	{ -4, "it vanished, plug it in again" },
	{ -5, "it vanished, plug it in again" },
	{ -6, "it is in use, end the other program, or if it is the kernel's television driver: "
	      "modprobe -r dvb_usb_rtl28xxu and blacklist it" },
	{ -7, "it does not answer, unplug it for ten seconds" },
	{ -9, "it refused, unplug it for ten seconds" },
};

static int usb_fault(struct fault *why, const char *name, const char *what, int code)
{
	for (size_t i = 0; i < sizeof usb_faults / sizeof usb_faults[0]; i++)
		if (usb_faults[i].code == code)
			return fault_set(why, FAULT_RETRY, "%s: %s failed: %s", name, what,
					 usb_faults[i].text);
	return fault_set(why, FAULT_RETRY, "%s: %s failed with code %d, unplug it for ten seconds",
			 name, what, code);
}

/* ---- which one ---- */

/* A small decimal number, else -1. */
static int as_index(const char *arg)
{
	size_t n = strspn(arg, "0123456789");
	return n > 0 && n < 4 && !arg[n] ? atoi(arg) : -1;
}

/* Index of the dongle whose serial is arg, else of that number. -1 with why. */
static int find_named(const char *arg, int count, struct fault *why)
{
	int match = -1, matches = 0, refused = 0, index = as_index(arg);

	for (int i = 0; i < count; i++) {
		char maker[256], product[256], serial[256] = "";
		int r = rtlsdr_get_device_usb_strings((uint32_t)i, maker, product, serial);
		if (r != 0) {
			refused = r;
		} else if (strcmp(serial, arg) == 0) {
			match = i;
			matches++;
		}
	}
	if (matches > 1)
		return fault_set(why, FAULT_INPUT,
				 "dongle %.60s: %d have this serial, name it by index, 0 to %d, "
				 "or give each its own serial",
				 arg, matches, count - 1);
	if (matches == 1)
		return match;
	if (index >= 0 && index < count)
		return index;
	if (refused)
		return usb_fault(why, "dongle", "reading serials", refused);
	return fault_set(why, FAULT_RETRY,
			 "dongle %.60s: none of the %d plugged in has this serial", arg, count);
}

static int find(const char *arg, struct fault *why)
{
	int count = (int)rtlsdr_get_device_count();

	if (count == 0)
		return fault_set(why, FAULT_RETRY,
				 "dongle%s%.60s: none found, check that it is plugged in and "
				 "that lsusb lists it (0bda:2838 or 0bda:2832)",
				 *arg ? " " : "", arg);
	if (*arg)
		return find_named(arg, count, why);
	if (count > 1)
		return fault_set(why, FAULT_INPUT,
				 "dongle: %d are plugged in, name one: dongle:SERIAL", count);
	return 0;
}

/* ---- settings ---- */

static int set_ppm(rtlsdr_dev_t *dev, int ppm)
{
	int r = rtlsdr_set_freq_correction(dev, ppm);
	return r == -2 ? 0 : r;         /* -2: it was that already */
}

static int set_rate(rtlsdr_dev_t *dev, int hz)
{
	return rtlsdr_set_sample_rate(dev, (uint32_t)hz);
}

static int set_centre(rtlsdr_dev_t *dev, int hz)
{
	return rtlsdr_set_center_freq(dev, (uint32_t)hz);
}

struct step {
	const char *what;
	int       (*call)(rtlsdr_dev_t *, int);
	int         value;
	bool        wanted;
};

/* Each wanted step in order; one refused write is common, two are a fault. */
static int take_steps(struct dongle *d, const struct step *steps, size_t n, struct fault *why)
{
	for (const struct step *s = steps; s < steps + n; s++) {
		int r = 0;
		for (int tries = 0; s->wanted && tries < 2; tries++) {
			r = s->call(d->dev, s->value);
			if (r >= 0)
				break;
		}
		if (r < 0)
			return usb_fault(why, d->name, s->what, r);
	}
	return 0;
}

static int nearest_gain(const struct dongle *d, int wanted)
{
	int best = d->n_gains > 0 ? d->gains[0] : wanted;

	for (int i = 1; i < d->n_gains; i++)
		if (abs(d->gains[i] - wanted) < abs(best - wanted))
			best = d->gains[i];
	return best;
}

static int check_tuning(const struct dongle *d, const struct tuning *to, struct fault *why)
{
	char text[FREQ_TEXT];
	int32_t r = to->rate_hz;

	if (to->centre.thirds < FREQ_HZ(1000000LL * d->tuner->low_mhz).thirds ||
	    to->centre.thirds > FREQ_HZ(1000000LL * d->tuner->high_mhz).thirds)
		return fault_set(why, FAULT_INPUT,
				 "%s: centre is %s MHz, must be %d to %d for its %s tuner", d->name,
				 freq_format_mhz(text, to->centre), d->tuner->low_mhz,
				 d->tuner->high_mhz, d->tuner->name);
	if (!(r > 225000 && r <= 300000) && !(r > 900000 && r <= 3200000))
		return fault_set(why, FAULT_INPUT,
				 "%s: rate is %d S/s, must be 225001 to 300000 or 900001 to "
				 "3200000, best 2400000",
				 d->name, r);
	if (!(fabs(to->ppm) <= 500))
		return fault_set(why, FAULT_INPUT, "%s: ppm is %g, must be -500 to 500", d->name,
				 to->ppm);
	return 0;
}

/* The order matters: ppm before the rate, since only setting the rate works the
 * correction into the intermediate frequency; manual gain before the gain. */
static int apply(struct dongle *d, const struct tuning *to, int ppm, int hz, struct fault *why)
{
	bool first = d->set.rate_hz == 0;
	bool moved = first || ppm != d->whole_ppm;
	bool gained = d->n_gains > 0 && (first || to->gain_tenth_db != d->set.gain_tenth_db);
	const struct step steps[] = {
		{ "setting ppm", set_ppm, ppm, moved },
		{ "setting the rate", set_rate, to->rate_hz, moved || to->rate_hz != d->set.rate_hz },
		{ "setting manual gain", rtlsdr_set_tuner_gain_mode, 1, first && d->n_gains > 0 },
		{ "setting the gain", rtlsdr_set_tuner_gain, nearest_gain(d, to->gain_tenth_db), gained },
		{ "turning AGC off", rtlsdr_set_agc_mode, 0, first },
		{ "tuning", set_centre, hz, true },
	};

	return take_steps(d, steps, sizeof steps / sizeof steps[0], why);
}

/* ---- the stream ---- */

static void deliver(unsigned char *bytes, uint32_t n, void *self)
{
	struct dongle *d = self;
	ring_put(stream_ring(d->stream), bytes, n, stream_now_us());
}

/* Its return value says little: that it ended is what counts. */
static void *read_all(void *self)
{
	struct dongle *d = self;
	rtlsdr_read_async(d->dev, deliver, d, TRANSFERS, TRANSFER_BYTES);
	ring_end(stream_ring(d->stream));
	return NULL;
}

static int start(struct dongle *d, struct fault *why)
{
	sigset_t all, before;
	struct slot first;
	int r = rtlsdr_reset_buffer(d->dev);    /* nothing flows before it */

	if (r < 0)
		return usb_fault(why, d->name, "flushing", r);
	/* Signals are for the thread that looks at their flags. */
	sigfillset(&all);
	pthread_sigmask(SIG_SETMASK, &all, &before);
	r = pthread_create(&d->reader, NULL, read_all, d);
	pthread_sigmask(SIG_SETMASK, &before, NULL);
	if (r != 0)
		return fault_set(why, FAULT_RETRY, "%s: no thread to read it: %s", d->name,
				 strerror(r));
	d->reading = true;
	if (ring_take(stream_ring(d->stream), FIRST_WAIT_US, &first) != RING_SLOT)
		return fault_set(why, FAULT_RETRY,
				 "%s: no samples within 2 s of the start, unplug it for ten "
				 "seconds and try another port",
				 d->name);
	return 0;
}

/* A cancel before the reader got going is lost, so it is repeated until taken.
 * false: the reader hangs in the library. */
static bool stop(struct dongle *d)
{
	int64_t until_us = stream_now_us() + STOP_US;
	bool ended = false;

	while (!ended && stream_now_us() < until_us) {
		bool taken = rtlsdr_cancel_async(d->dev) == 0;
		ended = ring_wait_end(stream_ring(d->stream), taken ? STOP_US : 10000);
	}
	if (!ended)
		return false;
	pthread_join(d->reader, NULL);
	return true;
}

/* ---- the seam ---- */

static void dongle_close(void *self)
{
	struct dongle *d = self;

	if (!d)
		return;
	/* Closing under a hung reader never returns, and freeing what the kernel
	 * may still write to is worse: it is left behind until the process ends. */
	if (d->reading && !stop(d))
		return;
	if (d->dev) {
		rtlsdr_set_bias_tee(d->dev, 0);         /* it would stay on */
		rtlsdr_close(d->dev);
	}
	stream_destroy(d->stream);
	free(d->gains);
	free(d);
}

/* Opening succeeds even when no tuner answers; then nothing else is true. */
static int meet_tuner(struct dongle *d, struct fault *why)
{
	const struct step steps[] = {
		{ "turning the bias tee off", rtlsdr_set_bias_tee, 0, true },
	};
	enum rtlsdr_tuner type = rtlsdr_get_tuner_type(d->dev);

	for (size_t i = 0; i < sizeof tuners / sizeof tuners[0]; i++)
		if (tuners[i].type == type)
			d->tuner = &tuners[i];
	if (!d->tuner)
		return fault_set(why, FAULT_RETRY,
				 "%s: its tuner does not answer, unplug it for ten seconds",
				 d->name);
	d->n_gains = rtlsdr_get_tuner_gains(d->dev, NULL);
	if (d->n_gains > 0) {
		d->gains = calloc((size_t)d->n_gains, sizeof *d->gains);
		if (!d->gains)
			return fault_set(why, FAULT_RETRY, "%s: no memory", d->name);
		rtlsdr_get_tuner_gains(d->dev, d->gains);
	}
	return take_steps(d, steps, 1, why);
}

static void *dongle_open(const struct source_request *request, struct fault *why)
{
	char maker[256], product[256], serial[256] = "";
	int r, index = find(request->arg, why);
	struct dongle *d;

	if (index < 0)
		return NULL;
	d = calloc(1, sizeof *d);
	if (!d)
		goto no_memory;
	rtlsdr_get_device_usb_strings((uint32_t)index, maker, product, serial);
	snprintf(d->name, sizeof d->name, "dongle %.60s", *serial ? serial : request->arg);
	d->stream = stream_create(d->name);
	if (!d->stream)
		goto no_memory;
	r = rtlsdr_open(&d->dev, (uint32_t)index);
	if (r < 0) {
		d->dev = NULL;
		usb_fault(why, d->name, "opening", r);
		goto fail;
	}
	if (meet_tuner(d, why) < 0)
		goto fail;
	return d;
no_memory:
	fault_set(why, FAULT_RETRY, "dongle: no memory for its samples");
fail:
	dongle_close(d);
	return NULL;
}

static void dongle_about(void *self, struct source_about *out)
{
	const struct dongle *d = self;
	struct timespec now;

	memset(out, 0, sizeof *out);
	snprintf(out->label, sizeof out->label, "%s, %s", d->name, d->tuner->name);
	out->tunable = true;
	clock_gettime(CLOCK_REALTIME, &now);
	out->start_us = (int64_t)now.tv_sec * 1000000 + now.tv_nsec / 1000;
}

static int dongle_tune(void *self, const struct tuning *to, struct fault *why)
{
	struct dongle *d = self;
	int hz = (int)llround(freq_to_hz(to->centre)), ppm;
	bool first = d->set.rate_hz == 0, rate_new = first || d->set.rate_hz != to->rate_hz;

	if (check_tuning(d, to, why) < 0)
		return -1;
	ppm = (int)lround(to->ppm);
	if (!first && to->centre.thirds == d->set.centre.thirds && to->rate_hz == d->set.rate_hz &&
	    to->ppm == d->set.ppm && to->gain_tenth_db == d->set.gain_tenth_db)
		return 0;
	/* The library takes whole ppm; what is left over moves the tuner by as much. */
	d->centre = FREQ_HZ(hz);
	d->centre.thirds += llround((double)d->centre.thirds * (to->ppm - ppm) * 1e-6);
	if (apply(d, to, ppm, hz, why) < 0 || (!d->reading && start(d, why) < 0)) {
		d->set.rate_hz = 0;             /* half set: the next one sets all */
		return -1;
	}
	d->set = *to;
	d->whole_ppm = ppm;
	if (rate_new)
		stream_rate(d->stream, to->rate_hz);
	/* The delivery under way is part old, part new; the synthesiser passes
	 * through other frequencies while it is being set. */
	stream_drop(d->stream, 1, SETTLE_US);
	return 0;
}

static int dongle_read(void *self, size_t n, struct block *out, struct fault *why)
{
	struct dongle *d = self;

	if (d->set.rate_hz == 0) {
		fault_set(why, FAULT_RETRY, "%s: is not tuned", d->name);
		return SOURCE_FAULT;
	}
	if (stream_read(d->stream, n, out, why) < 0)
		return SOURCE_FAULT;
	out->centre = d->centre;
	return SOURCE_BLOCK;
}

/* A signal ends the sleep early, so that a stop is seen at once. */
static void dongle_rest(void *self, int64_t us)
{
	struct dongle *d = self;
	struct timespec t = { (time_t)(us / 1000000), (long)(us % 1000000 * 1000) };

	if (us > 0)
		nanosleep(&t, NULL);
	if (d->reading)
		stream_drop(d->stream, 0, 0);
}

static int dongle_restart(void *self, struct fault *why)
{
	(void)self;
	(void)why;
	return 0;
}

const struct source_ops source_dongle = {
	.name = "dongle",
	.open = dongle_open,
	.about = dongle_about,
	.tune = dongle_tune,
	.read = dongle_read,
	.rest = dongle_rest,
	.restart = dongle_restart,
	.close = dongle_close,
};
