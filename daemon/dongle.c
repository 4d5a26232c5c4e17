#include "daemon/dongle.h"

#include <math.h>
#include <pthread.h>
#include <rtl-sdr.h>
#include <signal.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "daemon/stream.h"

/* 32 transfers in flight let the reader sleep 0.44 s at 2.4 MS/s; 64 KiB is
 * 13.7 ms, about what a retune throws away. */
#define TRANSFERS      32
#define TRANSFER_BYTES 65536

#define FIRST_WAIT_US  2000000          /* from start to the first samples   */
#define STOP_US        3000000          /* for the reader to end once cancelled */

struct dongle {
	struct dongle_facts facts;
	rtlsdr_dev_t     *dev;
	const struct tuner *tuner;
	int              *gains;        /* tenths of a dB                    */
	int               n_gains;
	struct ring      *ring;         /* borrowed; NULL: not reading       */
	pthread_t         reader;
	struct tuning     set;          /* rate 0: nothing yet               */
	int               whole_ppm;    /* what the library corrects for     */
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

/* How many have this serial, the last of them in *match. *refused is the code
 * of one that would not say. */
static int count_serial(const char *wanted, int count, int *match, int *refused)
{
	int matches = 0;

	for (int i = 0; i < count; i++) {
		char maker[256], product[256], serial[256] = "";
		int r = rtlsdr_get_device_usb_strings((uint32_t)i, maker, product, serial);
		if (r != 0) {
			*refused = r;
		} else if (strcmp(serial, wanted) == 0) {
			*match = i;
			matches++;
		}
	}
	return matches;
}

/* -1 with why. */
static int find_named(const char *arg, enum dongle_by by, int count, struct fault *why)
{
	int match = -1, refused = 0, index = by == DONGLE_BY_NAME ? as_index(arg) : -1;
	int matches = count_serial(arg, count, &match, &refused);

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

static int find(const char *arg, enum dongle_by by, struct fault *why)
{
	int count = (int)rtlsdr_get_device_count();

	if (count == 0)
		return fault_set(why, FAULT_RETRY,
				 "dongle%s%.60s: none found, check that it is plugged in and "
				 "that lsusb lists it (0bda:2838 or 0bda:2832)",
				 *arg ? " " : "", arg);
	if (*arg)
		return find_named(arg, by, count, why);
	if (count > 1)
		return fault_set(why, FAULT_INPUT,
				 "dongle: %d are plugged in, name one: dongle:SERIAL", count);
	return 0;
}

/* Its names, the serial only when no other one has the same. */
static void name_it(struct dongle *d, int index)
{
	char maker[256], product[256], serial[256] = "";
	int match, refused;

	rtlsdr_get_device_usb_strings((uint32_t)index, maker, product, serial);
	snprintf(d->facts.name, sizeof d->facts.name, *serial ? "dongle %.60s" : "dongle", serial);
	if (strlen(serial) < sizeof d->facts.serial &&
	    count_serial(serial, (int)rtlsdr_get_device_count(), &match, &refused) == 1)
		strcpy(d->facts.serial, serial);
}

const struct dongle_facts *dongle_facts(const struct dongle *d)
{
	return &d->facts;
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
			return usb_fault(why, d->facts.name, s->what, r);
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

int dongle_check(const struct dongle *d, const struct tuning *to, struct fault *why)
{
	char text[FREQ_TEXT];
	int32_t r = to->rate_hz;

	if (to->centre.thirds < FREQ_HZ(1000000LL * d->tuner->low_mhz).thirds ||
	    to->centre.thirds > FREQ_HZ(1000000LL * d->tuner->high_mhz).thirds)
		return fault_set(why, FAULT_INPUT,
				 "%s: centre is %s MHz, must be %d to %d for its %s tuner", d->facts.name,
				 freq_format_mhz(text, to->centre), d->tuner->low_mhz,
				 d->tuner->high_mhz, d->facts.tuner);
	if (!(r > 225000 && r <= 300000) && !(r > 900000 && r <= 3200000))
		return fault_set(why, FAULT_INPUT,
				 "%s: rate is %d S/s, must be 225001 to 300000 or 900001 to "
				 "3200000, best 2400000",
				 d->facts.name, r);
	if (!(fabs(to->ppm) <= 500))
		return fault_set(why, FAULT_INPUT, "%s: ppm is %g, must be -500 to 500", d->facts.name,
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

int dongle_set(struct dongle *d, const struct tuning *to, struct freq *centre, struct fault *why)
{
	int hz = (int)llround(freq_to_hz(to->centre)), ppm = (int)lround(to->ppm);
	bool same = d->set.rate_hz == to->rate_hz && to->centre.thirds == d->set.centre.thirds &&
		    to->ppm == d->set.ppm && to->gain_tenth_db == d->set.gain_tenth_db;

	if (!same && apply(d, to, ppm, hz, why) < 0)
		return -1;
	d->set = *to;
	d->whole_ppm = ppm;
	/* The library takes whole ppm; what is left over moves the tuner by as much. */
	*centre = FREQ_HZ(hz);
	centre->thirds += llround((double)centre->thirds * (to->ppm - ppm) * 1e-6);
	return !same;
}

/* ---- the stream ---- */

static void deliver(unsigned char *bytes, uint32_t n, void *self)
{
	struct dongle *d = self;
	ring_put(d->ring, bytes, n, stream_now_us());
}

/* Its return value says little: that it ended is what counts. */
static void *read_all(void *self)
{
	struct dongle *d = self;
	rtlsdr_read_async(d->dev, deliver, d, TRANSFERS, TRANSFER_BYTES);
	ring_end(d->ring);
	return NULL;
}

int dongle_start(struct dongle *d, struct ring *ring, struct fault *why)
{
	sigset_t all, before;
	struct slot first;
	int r = rtlsdr_reset_buffer(d->dev);    /* nothing flows before it */

	if (r < 0)
		return usb_fault(why, d->facts.name, "flushing", r);
	d->ring = ring;
	/* Signals are for the thread that looks at their flags. */
	sigfillset(&all);
	pthread_sigmask(SIG_SETMASK, &all, &before);
	r = pthread_create(&d->reader, NULL, read_all, d);
	pthread_sigmask(SIG_SETMASK, &before, NULL);
	if (r != 0) {
		d->ring = NULL;
		return fault_set(why, FAULT_RETRY, "%s: no thread to read it: %s", d->facts.name,
				 strerror(r));
	}
	if (ring_take(ring, FIRST_WAIT_US, &first) != RING_SLOT)
		return fault_set(why, FAULT_RETRY,
				 "%s: no samples within 2 s of the start, unplug it for ten "
				 "seconds and try another port",
				 d->facts.name);
	return 0;
}

/* A cancel before the reader got going is lost, so it is repeated until taken.
 * false: the reader hangs in the library. */
static bool stop(struct dongle *d)
{
	int64_t until_us = stream_now_us() + STOP_US, left_us = STOP_US;
	bool ended = false;

	while (!ended && left_us > 0) {
		bool taken = rtlsdr_cancel_async(d->dev) == 0;
		ended = ring_wait_end(d->ring, taken ? left_us : 10000);
		left_us = until_us - stream_now_us();
	}
	if (ended)
		pthread_join(d->reader, NULL);
	return ended;
}

/* ---- open and close ---- */

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
				 d->facts.name);
	d->facts.tuner = d->tuner->name;
	d->n_gains = rtlsdr_get_tuner_gains(d->dev, NULL);
	if (d->n_gains > 0) {
		d->gains = calloc((size_t)d->n_gains, sizeof *d->gains);
		if (!d->gains)
			return fault_set(why, FAULT_RETRY, "%s: no memory", d->facts.name);
		rtlsdr_get_tuner_gains(d->dev, d->gains);
	}
	return take_steps(d, steps, 1, why);
}

struct dongle *dongle_open(const char *arg, enum dongle_by by, struct fault *why)
{
	int r, index = find(arg, by, why);
	struct dongle *d;

	if (index < 0)
		return NULL;
	d = calloc(1, sizeof *d);
	if (!d) {
		fault_set(why, FAULT_RETRY, "dongle: no memory for it");
		return NULL;
	}
	name_it(d, index);
	r = rtlsdr_open(&d->dev, (uint32_t)index);
	if (r < 0) {
		d->dev = NULL;
		usb_fault(why, d->facts.name, "opening", r);
		goto fail;
	}
	if (meet_tuner(d, why) < 0)
		goto fail;
	return d;
fail:
	dongle_close(d);
	return NULL;
}

bool dongle_close(struct dongle *d)
{
	if (!d)
		return true;
	if (d->ring && !stop(d))
		return false;
	if (d->dev) {
		rtlsdr_set_bias_tee(d->dev, 0);         /* it would stay on */
		rtlsdr_close(d->dev);
	}
	free(d->gains);
	free(d);
	return true;
}
