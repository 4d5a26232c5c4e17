#include "tests/fake_rtlsdr.h"

#include <rtl-sdr.h>
#include <stddef.h>
#include <stdio.h>
#include <string.h>
#include <unistd.h>

struct fake_rtlsdr fake = { .lock = PTHREAD_MUTEX_INITIALIZER };

/* The lock stays as it is: a hung reader of the test before may hold on to it. */
void fake_reset(void)
{
	pthread_mutex_lock(&fake.lock);
	memset(&fake, 0, offsetof(struct fake_rtlsdr, lock));
	memset((char *)&fake + offsetof(struct fake_rtlsdr, running), 0,
	       sizeof fake - offsetof(struct fake_rtlsdr, running));
	fake.count = 1;
	fake.serial[0] = "00000001";
	fake.tuner = RTLSDR_TUNER_R820T;
	fake.deliveries = 1000000;
	pthread_mutex_unlock(&fake.lock);
}

static rtlsdr_dev_t *present(void)
{
	return (rtlsdr_dev_t *)&fake.handle[fake.opened % 64];
}

static void log_call(const char *what, long value)
{
	size_t n = strlen(fake.log);
	snprintf(fake.log + n, sizeof fake.log - n, "%s %ld;", what, value);
}

static int note(const rtlsdr_dev_t *dev, const char *what, long value)
{
	int r = 0;

	pthread_mutex_lock(&fake.lock);
	log_call(what, value);
	if (dev != present())
		fake.misused = true;
	if (fake.dead)
		r = -4;
	else if (fake.refuse && strcmp(fake.refuse, what) == 0 && fake.refuse_times-- > 0)
		r = fake.refuse_code;
	pthread_mutex_unlock(&fake.lock);
	return r;
}

uint32_t rtlsdr_get_device_count(void)
{
	return (uint32_t)fake.count;
}

int rtlsdr_get_device_usb_strings(uint32_t index, char *maker, char *product, char *serial)
{
	if (fake.strings_result != 0)
		return fake.strings_result;
	strcpy(maker, "maker");
	strcpy(product, "product");
	strcpy(serial, fake.serial[index]);
	return 0;
}

/* With what is open counted: odd while one is. */
int rtlsdr_open(rtlsdr_dev_t **dev, uint32_t index)
{
	pthread_mutex_lock(&fake.lock);
	log_call("open", (long)index);
	fake.misused |= index >= (uint32_t)fake.count || fake.opened % 2 == 1;
	*dev = NULL;
	if (fake.open_result == 0) {
		fake.opened++;
		fake.dead = fake.running = fake.cancelled = false;
		fake.delivered = 0;
		*dev = present();
	}
	pthread_mutex_unlock(&fake.lock);
	return fake.open_result;
}

int rtlsdr_close(rtlsdr_dev_t *dev)
{
	note(dev, "close", 0);
	fake.opened++;
	return 0;
}

enum rtlsdr_tuner rtlsdr_get_tuner_type(rtlsdr_dev_t *dev)
{
	(void)dev;
	return (enum rtlsdr_tuner)fake.tuner;
}

int rtlsdr_get_tuner_gains(rtlsdr_dev_t *dev, int *gains)
{
	static const int list[] = { 0, 9, 14, 27, 297, 328, 496 };
	(void)dev;
	if (gains)
		memcpy(gains, list, sizeof list);
	return sizeof list / sizeof list[0];
}

int rtlsdr_set_freq_correction(rtlsdr_dev_t *dev, int ppm)
{
	note(dev, "ppm", ppm);
	return ppm == 0 ? -2 : 0;       /* unchanged */
}

int rtlsdr_set_sample_rate(rtlsdr_dev_t *dev, uint32_t hz)
{
	return note(dev, "rate", (long)hz);
}

int rtlsdr_set_tuner_gain_mode(rtlsdr_dev_t *dev, int manual)
{
	return note(dev, "manual", manual);
}

int rtlsdr_set_tuner_gain(rtlsdr_dev_t *dev, int gain)
{
	return note(dev, "gain", gain);
}

int rtlsdr_set_agc_mode(rtlsdr_dev_t *dev, int on)
{
	return note(dev, "agc", on);
}

int rtlsdr_set_center_freq(rtlsdr_dev_t *dev, uint32_t hz)
{
	return note(dev, "centre", (long)hz);
}

int rtlsdr_set_bias_tee(rtlsdr_dev_t *dev, int on)
{
	return note(dev, "bias", on);
}

int rtlsdr_reset_buffer(rtlsdr_dev_t *dev)
{
	return note(dev, "flush", 0);
}

/* One delivery's time: true while the reader goes on. */
static bool goes_on(bool *more)
{
	usleep(3413);
	pthread_mutex_lock(&fake.lock);
	bool hung = fake.cancelled && fake.hang, on = !fake.cancelled;
	*more = fake.delivered++ < fake.deliveries;
	if (!*more && fake.vanish) {
		on = false;
		fake.dead = fake.unplug;
		fake.count = fake.unplug ? 0 : fake.count;
	}
	fake.running = on;
	pthread_mutex_unlock(&fake.lock);
	/* For good, and without another look at what the next test sets. */
	while (hung)
		pause();
	return on;
}

/* Short deliveries at about 2.4 MS/s; the library may do that. */
int rtlsdr_read_async(rtlsdr_dev_t *dev, rtlsdr_read_async_cb_t deliver, void *self, uint32_t n,
		      uint32_t len)
{
	unsigned char bytes[16384];
	bool more;
	(void)dev, (void)n, (void)len;

	memset(bytes, 127, sizeof bytes);
	pthread_mutex_lock(&fake.lock);
	fake.running = true;
	pthread_mutex_unlock(&fake.lock);
	while (goes_on(&more))
		if (more)
			deliver(bytes, sizeof bytes, self);
	return -5;
}

int rtlsdr_cancel_async(rtlsdr_dev_t *dev)
{
	int r = -2;

	pthread_mutex_lock(&fake.lock);
	if (dev != present())
		fake.misused = true;
	if (fake.running && fake.lost_cancels-- <= 0) {
		fake.cancelled = true;
		r = 0;
	}
	pthread_mutex_unlock(&fake.lock);
	return r;
}
