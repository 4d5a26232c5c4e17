#include "tests/fake_rtlsdr.h"

#include <errno.h>
#include <fcntl.h>
#include <rtl-sdr.h>
#include <signal.h>
#include <stddef.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/mman.h>
#include <unistd.h>

#include "daemon/dongle/capture_child.h"
#include "daemon/dongle/capture_order.h"
#include "daemon/dongle/stream.h"

#define STATE  "FAKE_RTLSDR"            /* names the file of the shared memory */
#define TUNING 1                        /* the value of bytes during a retune  */
#define EACH_US 3413                    /* a delivery at 2.4 MS/s              */

struct fake_rtlsdr *fake;

/* ---- shared memory ---- */

static void *share(const char *path)
{
	int fd = open(path, O_RDWR | O_CREAT | O_CLOEXEC, 0600);
	void *at = MAP_FAILED;

	if (fd >= 0 && ftruncate(fd, sizeof *fake) == 0)
		at = mmap(NULL, sizeof *fake, PROT_READ | PROT_WRITE, MAP_SHARED, fd, 0);
	if (at == MAP_FAILED)
		abort();
	close(fd);
	return at;
}

int fake_run(int argc, char **argv, const struct CMUnitTest *tests, size_t n)
{
	char path[64];

	if (argc > 1 && strcmp(argv[1], CAPTURE_OPTION) == 0) {
		fake = share(getenv(STATE));
		return capture_child();
	}
	snprintf(path, sizeof path, "/tmp/bandcensus-fake-%d", getpid());
	setenv(STATE, path, 1);
	fake = share(path);
	fake_reset();
	int result = _cmocka_run_group_tests("tests", tests, n, NULL, NULL);
	unlink(path);
	return result;
}

/* It may be killed while it holds the lock. */
static void lock(void)
{
	if (pthread_mutex_lock(&fake->lock) == EOWNERDEAD)
		pthread_mutex_consistent(&fake->lock);
}

static void unlock(void)
{
	pthread_mutex_unlock(&fake->lock);
}

/* Whoever still used it was killed, or has closed it. */
void fake_reset(void)
{
	pthread_mutexattr_t shared;

	memset(fake, 0, sizeof *fake);
	pthread_mutexattr_init(&shared);
	pthread_mutexattr_setpshared(&shared, PTHREAD_PROCESS_SHARED);
	pthread_mutexattr_setrobust(&shared, PTHREAD_MUTEX_ROBUST);
	pthread_mutex_init(&fake->lock, &shared);
	fake->count = 1;
	strcpy(fake->serial[0], "00000001");
	fake->tuner = RTLSDR_TUNER_R820T;
	fake->deliveries = 1000000;
	fake->stride = 1;
}

void fake_forget(void)
{
	lock();
	fake->log[0] = '\0';
	unlock();
}

/* ---- calls ---- */

static rtlsdr_dev_t *present(void)
{
	return (rtlsdr_dev_t *)&fake->handle[fake->opened % 64];
}

static void log_call(const char *what, long value)
{
	size_t n = strlen(fake->log);
	snprintf(fake->log + n, sizeof fake->log - n, "%s %ld;", what, value);
}

static int note(const rtlsdr_dev_t *dev, const char *what, long value)
{
	int r = 0;

	lock();
	log_call(what, value);
	bool hangs = strcmp(fake->hang_in, what) == 0, crashes = strcmp(fake->crash_in, what) == 0;
	if (dev != present())
		fake->misused = true;
	if (fake->dead)
		r = -4;
	else if (strcmp(fake->refuse, what) == 0 && fake->refuse_times-- > 0)
		r = fake->refuse_code;
	unlock();
	while (hangs)
		pause();
	if (crashes)
		raise(SIGKILL);
	return r;
}

uint32_t rtlsdr_get_device_count(void)
{
	return (uint32_t)fake->count;
}

int rtlsdr_get_device_usb_strings(uint32_t index, char *maker, char *product, char *serial)
{
	if (fake->strings_result != 0)
		return fake->strings_result;
	strcpy(maker, "maker");
	strcpy(product, "product");
	strcpy(serial, fake->serial[index]);
	return 0;
}

/* With what is open counted: odd while one is. The kernel closes what a process
 * leaves open that is gone for good. */
int rtlsdr_open(rtlsdr_dev_t **dev, uint32_t index)
{
	lock();
	log_call("open", (long)index);
	if (fake->opened % 2 == 1 && fake->owner != getpid() && kill(fake->owner, 0) < 0)
		fake->opened++;
	fake->misused |= index >= (uint32_t)fake->count || fake->opened % 2 == 1;
	*dev = NULL;
	if (fake->open_result == 0) {
		fake->opened++;
		fake->owner = getpid();
		fake->dead = fake->running = fake->cancelled = fake->testing = false;
		fake->delivered = fake->turns = 0;
		*dev = present();
	}
	unlock();
	fputs("[R82XX] PLL not locked!\n", stderr);
	return fake->open_result;
}

int rtlsdr_close(rtlsdr_dev_t *dev)
{
	note(dev, "close", 0);
	lock();
	fake->opened++;
	unlock();
	return 0;
}

enum rtlsdr_tuner rtlsdr_get_tuner_type(rtlsdr_dev_t *dev)
{
	(void)dev;
	return (enum rtlsdr_tuner)fake->tuner;
}

int rtlsdr_get_tuner_gains(rtlsdr_dev_t *dev, int *gains)
{
	static const int list[] = { 0, 9, 14, 27, 297, 328, 496 };
	(void)dev;
	if (gains)
		memcpy(gains, list, sizeof list);
	return sizeof list / sizeof list[0];
}

int rtlsdr_set_sample_rate(rtlsdr_dev_t *dev, uint32_t hz)
{
	fputs("[R82XX] PLL not locked!\n", stderr);
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

int rtlsdr_set_testmode(rtlsdr_dev_t *dev, int on)
{
	lock();
	fake->testing = on;
	unlock();
	return note(dev, "test", on);
}

uint8_t fake_value(int64_t hz)
{
	return (uint8_t)(2 + hz / 100000 % 250);
}

static void turn(uint8_t value)
{
	lock();
	fake->turn[fake->turns++ % FAKE_TURNS] = (struct fake_turn){ stream_now_us(), value };
	unlock();
}

int rtlsdr_set_center_freq(rtlsdr_dev_t *dev, uint32_t hz)
{
	turn(TUNING);
	int r = note(dev, "centre", (long)hz);
	usleep(4000);
	if (fake->unlocked_mhz && (int)((hz + 500000) / 1000000) == fake->unlocked_mhz)
		fputs("[R82XX] PLL not locked!\n", stderr);
	turn(fake_value(hz));
	return r;
}

int rtlsdr_set_bias_tee(rtlsdr_dev_t *dev, int on)
{
	return note(dev, "bias", on);
}

int rtlsdr_reset_buffer(rtlsdr_dev_t *dev)
{
	return note(dev, "flush", 0);
}

/* ---- the reader ---- */

/* One delivery's time: true while the reader goes on. */
static bool goes_on(int64_t due_us, bool *more)
{
	int64_t left_us = due_us - stream_now_us();

	if (left_us > 0)
		usleep((useconds_t)left_us);
	lock();
	bool hung = fake->cancelled && fake->hang, on = !fake->cancelled;
	*more = fake->delivered++ < fake->deliveries;
	if (!*more && fake->vanish) {
		on = false;
		fake->dead = fake->unplug;
		fake->count = fake->unplug ? 0 : fake->count;
	}
	fake->running = on;
	unlock();
	/* For good. */
	while (hung)
		pause();
	return on;
}

/* The value of what is received at a time. */
static uint8_t value_at(int64_t at_us)
{
	for (int k = fake->turns - 1; k >= 0 && k >= fake->turns - FAKE_TURNS; k--)
		if (fake->turn[k % FAKE_TURNS].at_us <= at_us)
			return fake->turn[k % FAKE_TURNS].value;
	return TUNING;
}

#define PIECE 32                        /* bytes of one value: 7 us */

/* What was received in the time before. */
static void receive(uint8_t *bytes, int64_t before_us)
{
	lock();
	for (int i = 0; i < FAKE_BYTES; i += PIECE)
		memset(bytes + i, value_at(before_us - (int64_t)(FAKE_BYTES - i) * EACH_US / FAKE_BYTES),
		       PIECE);
	for (int i = 0; fake->testing && i < FAKE_BYTES; i++) {
		bytes[i] = fake->counter;
		fake->counter = (uint8_t)(fake->counter + (i == 0 ? fake->stride : 1));
	}
	unlock();
}

/* Short deliveries at about 2.4 MS/s; the library may do that. */
int rtlsdr_read_async(rtlsdr_dev_t *dev, rtlsdr_read_async_cb_t deliver, void *self, uint32_t n,
		      uint32_t len)
{
	static uint8_t held[16][FAKE_BYTES];
	int64_t due_us = stream_now_us() + EACH_US;
	int holding = 0;
	bool more;
	(void)dev, (void)n, (void)len;

	lock();
	fake->running = true;
	unlock();
	for (; goes_on(due_us, &more); due_us += EACH_US) {
		if (!more)
			continue;
		receive(held[holding++], due_us);
		if (holding <= fake->lag && holding < 16)
			continue;
		for (int i = 0; i < holding; i++)
			deliver(held[i], FAKE_BYTES, self);
		holding = 0;
	}
	return -5;
}

int rtlsdr_cancel_async(rtlsdr_dev_t *dev)
{
	int r = -2;

	lock();
	if (dev != present())
		fake->misused = true;
	if (fake->running && fake->lost_cancels-- <= 0) {
		fake->cancelled = true;
		r = 0;
	}
	unlock();
	return r;
}
