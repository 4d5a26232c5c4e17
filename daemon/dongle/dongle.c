#include "daemon/dongle/dongle.h"

#include <pthread.h>
#include <rtl-sdr.h>
#include <signal.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>

#include "daemon/dongle/chatter.h"
#include "daemon/dongle/counter.h"
#include "daemon/dongle/choose.h"
#include "daemon/dongle/stream.h"
#include "daemon/dongle/usb_fault.h"

/* 192 transfers in flight let the reader sleep 0.33 s at 2.4 MS/s. A look ends amid one, so
 * half of it is lost at each hop: of 8 KiB 0.85 ms. Shorter ones save little more
 * and wake two processes more often than 586 times a second. */
#define TRANSFERS      192

/* Waits are counted in naps: no deadline of a clock that may leap. */
#define NAP_NS         10000000
#define FIRST_NAPS     200              /* from start to the first samples      */
#define STOP_NAPS      300              /* for the reader to end once cancelled */

/* Whether samples get lost at this rate: an eighth of a second, again when some did,
 * for a busy moment is no habit. */
#define TRIALS         3
#define TRIALS_A_S     8

/* What the library says and its calls do not return: that there is no lock; and that some
 * transfer on the way failed. Setting the rate goes on without the filter's, and then
 * the window is of another place; opening, with a tuner half set up. */
enum sign { NO_LOCK = 1 << 0, FAILED = 1 << 1 };
static const char *const signs[] = { "PLL not locked", "failed" };

#define REFUSED        (-9)             /* libusb's code for a transfer not taken       */
#define DRIVER_STAYS   (-6)             /* libusb's code for what is in use             */
#define RATE_SAFE      2400000          /* the highest that dongles keep up with */

struct dongle {
	struct dongle_facts facts;
	rtlsdr_dev_t     *dev;
	struct chatter   *chatter;
	struct ring      *ring;         /* borrowed; NULL: not reading       */
	struct counter    counter;
	pthread_t         reader;
	atomic_bool       ended;        /* the reader                        */
	struct dongle_settings set;     /* rate 0: nothing yet               */
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
	{ 0 }
};

/* ---- which one ---- */

static void list_all(struct dongles *all)
{
	uint32_t count = rtlsdr_get_device_count();

	memset(all, 0, sizeof *all);
	all->count = count < DONGLES_MAX ? (int)count : DONGLES_MAX;
	for (int i = 0; i < all->count; i++) {
		char maker[256], product[256], serial[256] = "";
		int r = rtlsdr_get_device_usb_strings((uint32_t)i, maker, product, serial);
		if (r != 0)
			all->refused = r;
		else if (strlen(serial) < sizeof all->serial[i])
			strcpy(all->serial[i], serial);
	}
}

/* Its names, the serial only when no other one has the same. */
static void name_it(struct dongle *d, const struct dongles *all, int index)
{
	const char *serial = all->serial[index];
	int match;

	snprintf(d->facts.name, sizeof d->facts.name, *serial ? "dongle %.60s" : "dongle", serial);
	if (dongles_with(all, serial, &match) == 1)
		snprintf(d->facts.serial, sizeof d->facts.serial, "%s", serial);
}

const struct dongle_facts *dongle_facts(const struct dongle *d)
{
	return &d->facts;
}

/* ---- settings ---- */

static int set_rate(rtlsdr_dev_t *dev, int hz)
{
	return rtlsdr_set_sample_rate(dev, (uint32_t)hz);
}

static int set_centre(rtlsdr_dev_t *dev, int hz)
{
	return rtlsdr_set_center_freq(dev, (uint32_t)hz);
}

static int flush(rtlsdr_dev_t *dev, int unused)
{
	(void)unused;
	return rtlsdr_reset_buffer(dev);
}

struct step {
	const char *what;
	int       (*call)(rtlsdr_dev_t *, int);
	int         value;
	bool        wanted;
};

static unsigned said(struct dongle *d)
{
	return chatter_said(d->chatter, signs, sizeof signs / sizeof signs[0]);
}

/* Each wanted step in order; one refused write is common, two are a fault. What was said at
 * the last try of them, or -1. */
static int take_steps(struct dongle *d, const struct step *steps, size_t n, struct fault *why)
{
	unsigned signs_seen = 0;

	said(d);
	for (const struct step *s = steps; s < steps + n; s++) {
		int r = 0;
		for (int tries = 0; s->wanted && tries < 2; tries++) {
			r = s->call(d->dev, s->value);
			signs_seen = said(d);
			if (r >= 0 && !(signs_seen & FAILED))
				break;
			r = r < 0 ? r : REFUSED;
		}
		if (r < 0)
			return usb_fault(why, d->facts.name, s->what, r);
	}
	return (int)signs_seen;
}

/* The order matters: manual gain before the gain. The centre comes last, and what
 * the library said before is not about it: it has no centre when the rate is set. */
enum dongle_result dongle_set(struct dongle *d, const struct dongle_settings *to, struct fault *why)
{
	bool first = d->set.rate_hz == 0,
	     gained = first || to->gain_tenth_db != d->set.gain_tenth_db;
	bool has_gains = d->facts.gains.n > 0;
	const struct step settings[] = {
		{ "setting the rate", set_rate, to->rate_hz, to->rate_hz != d->set.rate_hz },
		{ "setting manual gain", rtlsdr_set_tuner_gain_mode, 1, first && has_gains },
		{ "setting the gain", rtlsdr_set_tuner_gain,
		  gain_steps_nearest(&d->facts.gains, to->gain_tenth_db), gained && has_gains },
		{ "turning AGC off", rtlsdr_set_agc_mode, 0, first },
	};
	const struct step centre = { "tuning", set_centre, to->centre_hz, true };

	if (take_steps(d, settings, sizeof settings / sizeof settings[0], why) < 0)
		return DONGLE_FAULT;
	int signs_seen = take_steps(d, &centre, 1, why);
	if (signs_seen < 0)
		return DONGLE_FAULT;
	d->set = *to;
	return signs_seen & NO_LOCK ? DONGLE_DEAF : DONGLE_DONE;
}

/* ---- the stream ---- */

static void deliver(unsigned char *bytes, uint32_t n, void *self)
{
	struct dongle *d = self;

	ring_put(d->ring, bytes, n, stream_now_us());
	counter_feed(&d->counter, bytes, n);
}

/* Its return value says little: that it ended is what counts. */
static void *read_all(void *self)
{
	struct dongle *d = self;

	ring_begin(d->ring, stream_now_us());
	rtlsdr_read_async(d->dev, deliver, d, TRANSFERS, DONGLE_DELIVERY);
	atomic_store(&d->ended, true);
	ring_end(d->ring);
	return NULL;
}

static void nap(void)
{
	nanosleep(&(struct timespec){ .tv_nsec = NAP_NS }, NULL);
}

/* Signals are for the thread that looks at their flags. */
static int begin_reading(struct dongle *d, struct ring *ring, struct fault *why)
{
	sigset_t all, before;
	int r;

	d->ring = ring;
	sigfillset(&all);
	pthread_sigmask(SIG_SETMASK, &all, &before);
	r = pthread_create(&d->reader, NULL, read_all, d);
	pthread_sigmask(SIG_SETMASK, &before, NULL);
	if (r == 0)
		return 0;
	d->ring = NULL;
	return fault_set(why, FAULT_RETRY, "%s: no thread to read it: %s", d->facts.name,
			 strerror(r));
}

/* Waits until the counter has seen all it wants. */
static int wait_counted(struct dongle *d, struct fault *why)
{
	int64_t before = counter_left(&d->counter), left;

	for (int naps = 0; (left = counter_left(&d->counter)) > 0; naps++) {
		if (atomic_load(&d->ended))
			return usb_fault(why, d->facts.name, "reading", -4);
		if (left != before)
			naps = 0;
		if (naps == FIRST_NAPS)
			return fault_set(
				why, FAULT_RETRY,
				"%s: no samples within 2 s of the start, unplug it for ten "
				"seconds and try another port",
				d->facts.name);
		before = left;
		nap();
	}
	return 0;
}

static int try_rate(struct dongle *d, struct fault *why)
{
	int64_t bytes = 2 * (int64_t)d->set.rate_hz / TRIALS_A_S;
	int breaks = 1;

	for (int i = 0; breaks > 0 && i < TRIALS; i++) {
		counter_begin(&d->counter, 2 * DONGLE_DELIVERY, bytes);
		if (wait_counted(d, why) < 0)
			return -1;
		breaks = counter_breaks(&d->counter);
	}
	if (breaks == 0)
		return 0;
	if (d->set.rate_hz > RATE_SAFE)
		return fault_set(why, FAULT_INPUT,
				 "%s: at %d S/s it loses samples, %d times in an eighth "
				 "of a second, use 2.4 MS/s",
				 d->facts.name, d->set.rate_hz, breaks);
	return fault_set(why, FAULT_RETRY,
			 "%s: at %d S/s it loses samples, %d times in an eighth of a "
			 "second, try another port or cable, without a hub",
			 d->facts.name, d->set.rate_hz, breaks);
}

/* Nothing flows before the flush. */
int dongle_start(struct dongle *d, struct ring *ring, struct fault *why)
{
	const struct step before[] = {
		{ "starting its counter", rtlsdr_set_testmode, 1, true },
		{ "flushing", flush, 0, true },
	};
	const struct step after = { "stopping its counter", rtlsdr_set_testmode, 0, true };

	if (take_steps(d, before, 2, why) < 0 || begin_reading(d, ring, why) < 0 ||
	    try_rate(d, why) < 0)
		return -1;
	return take_steps(d, &after, 1, why) < 0 ? -1 : 0;
}

/* A cancel before the reader got going is lost, so it is repeated until taken.
 * false: the reader hangs in the library. */
static bool stop(struct dongle *d)
{
	bool taken = false;

	for (int naps = 0; !atomic_load(&d->ended) && naps < STOP_NAPS; naps++) {
		taken = taken || rtlsdr_cancel_async(d->dev) == 0;
		nap();
	}
	if (!atomic_load(&d->ended))
		return false;
	pthread_join(d->reader, NULL);
	return true;
}

/* ---- open and close ---- */

/* A list that is not in order, or too long, is no help. */
static void read_gains(struct dongle *d)
{
	int gains[GAIN_STEPS_KNOWN];
	int n = rtlsdr_get_tuner_gains(d->dev, NULL);

	if (n <= 0 || n > GAIN_STEPS_KNOWN)
		return;
	rtlsdr_get_tuner_gains(d->dev, gains);
	d->facts.gains.n = n;
	for (int i = 0; i < n; i++)
		d->facts.gains.tenth_db[i] = gains[i];
	if (!gain_steps_check(&d->facts.gains))
		d->facts.gains.n = 0;
}

/* Opening succeeds even when no tuner answers; then nothing else is true. */
static int meet_tuner(struct dongle *d, struct fault *why)
{
	enum rtlsdr_tuner type = rtlsdr_get_tuner_type(d->dev);
	const struct tuner *t = tuners;

	while (t->name && t->type != type)
		t++;
	if (!t->name)
		return fault_set(why, FAULT_RETRY,
				 "%s: its tuner does not answer, unplug it for ten seconds",
				 d->facts.name);
	snprintf(d->facts.tuner, sizeof d->facts.tuner, "%s", t->name);
	d->facts.low_mhz = t->low_mhz;
	d->facts.high_mhz = t->high_mhz;
	read_gains(d);
	return 0;
}

struct dongle *dongle_open(const char *arg, enum dongle_by by, bool bias_tee, struct fault *why)
{
	const struct step feed = {
		bias_tee ? "turning the bias tee on" : "turning the bias tee off",
		rtlsdr_set_bias_tee, bias_tee, true };
	struct dongles all;
	struct dongle *d;
	int r, index;

	list_all(&all);
	index = dongle_choose(&all, arg, by, why);
	if (index < 0)
		return NULL;
	d = calloc(1, sizeof *d);
	if (!d) {
		fault_set(why, FAULT_RETRY, "dongle: no memory for it");
		return NULL;
	}
	d->chatter = chatter_create();
	if (!d->chatter) {
		fault_set(why, FAULT_RETRY, "dongle: nothing to listen to its library with");
		goto fail;
	}
	name_it(d, &all, index);
	r = rtlsdr_open(&d->dev, (uint32_t)index);
	if (r == 0 && !d->dev)
		r = DRIVER_STAYS; /* a kernel driver that can't be detached: says 0, opens nothing */
	if (r < 0) {
		d->dev = NULL;
		usb_fault(why, d->facts.name, "opening", r);
		goto fail;
	}
	bool failed = said(d) & FAILED;
	if (meet_tuner(d, why) < 0 || take_steps(d, &feed, 1, why) < 0)
		goto fail;
	if (failed) {
		usb_fault(why, d->facts.name, "setting its tuner up", REFUSED);
		goto fail;
	}
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
	chatter_destroy(d->chatter);
	free(d);
	return true;
}
