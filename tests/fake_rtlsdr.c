#include "tests/fake_rtlsdr.h"

#include <rtl-sdr.h>
#include <stdio.h>
#include <string.h>
#include <unistd.h>

struct fake_rtlsdr fake;

void fake_reset(void)
{
	memset(&fake, 0, sizeof fake);
	fake.count = 1;
	fake.serial[0] = "00000001";
	fake.tuner = RTLSDR_TUNER_R820T;
	fake.deliveries = 1000000;
	pthread_mutex_init(&fake.lock, NULL);
}

static int note(const char *what, long value)
{
	size_t n = strlen(fake.log);
	int r = 0;

	pthread_mutex_lock(&fake.lock);
	snprintf(fake.log + n, sizeof fake.log - n, "%s %ld;", what, value);
	if (fake.refuse && strcmp(fake.refuse, what) == 0 && fake.refuse_times-- > 0)
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

int rtlsdr_open(rtlsdr_dev_t **dev, uint32_t index)
{
	note("open", (long)index);
	*dev = fake.open_result == 0 ? (rtlsdr_dev_t *)&fake : NULL;
	return fake.open_result;
}

int rtlsdr_close(rtlsdr_dev_t *dev)
{
	(void)dev;
	return note("close", 0);
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
	(void)dev;
	note("ppm", ppm);
	return ppm == 0 ? -2 : 0;       /* unchanged */
}

int rtlsdr_set_sample_rate(rtlsdr_dev_t *dev, uint32_t hz)
{
	(void)dev;
	return note("rate", (long)hz);
}

int rtlsdr_set_tuner_gain_mode(rtlsdr_dev_t *dev, int manual)
{
	(void)dev;
	return note("manual", manual);
}

int rtlsdr_set_tuner_gain(rtlsdr_dev_t *dev, int gain)
{
	(void)dev;
	return note("gain", gain);
}

int rtlsdr_set_agc_mode(rtlsdr_dev_t *dev, int on)
{
	(void)dev;
	return note("agc", on);
}

int rtlsdr_set_center_freq(rtlsdr_dev_t *dev, uint32_t hz)
{
	(void)dev;
	return note("centre", (long)hz);
}

int rtlsdr_set_bias_tee(rtlsdr_dev_t *dev, int on)
{
	(void)dev;
	return note("bias", on);
}

int rtlsdr_reset_buffer(rtlsdr_dev_t *dev)
{
	(void)dev;
	return note("flush", 0);
}

static bool cancelled(void)
{
	pthread_mutex_lock(&fake.lock);
	bool yes = fake.cancelled && !fake.hang;
	pthread_mutex_unlock(&fake.lock);
	return yes;
}

/* Short deliveries at about 2.4 MS/s; the library may do that. */
int rtlsdr_read_async(rtlsdr_dev_t *dev, rtlsdr_read_async_cb_t deliver, void *self, uint32_t n,
		      uint32_t len)
{
	unsigned char bytes[16384];
	(void)dev, (void)n, (void)len;

	memset(bytes, 127, sizeof bytes);
	pthread_mutex_lock(&fake.lock);
	fake.running = true;
	pthread_mutex_unlock(&fake.lock);
	while (!cancelled()) {
		usleep(3413);
		pthread_mutex_lock(&fake.lock);
		bool more = fake.delivered < fake.deliveries, vanish = fake.vanish;
		fake.delivered++;
		pthread_mutex_unlock(&fake.lock);
		if (more)
			deliver(bytes, sizeof bytes, self);
		else if (vanish)
			return -5;
	}
	return 0;
}

int rtlsdr_cancel_async(rtlsdr_dev_t *dev)
{
	int r = -2;
	(void)dev;

	pthread_mutex_lock(&fake.lock);
	if (fake.running && fake.lost_cancels-- <= 0) {
		fake.cancelled = true;
		r = 0;
	}
	pthread_mutex_unlock(&fake.lock);
	return r;
}
