/* The functions of libusb-1.0 that the dongle library calls, in place of the real
 * ones: device list, handles, control transfers. Transfers and events are in
 * usb_events.c, which also says how to load this. */

#include "tests/dongle/usb.h"

#include <errno.h>
#include <signal.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "tests/dongle/clock.h"

#define VENDOR        0x0bda
#define PRODUCT       0x2838
#define STRING_US     300000    /* a mute device's strings take as long as all else  */
#define HANG_PIECE_US 100000
#define IN            0x80      /* of a request's type: towards the host             */

int libusb_init(libusb_context **out)
{
	struct state *s = clock_join();
	struct libusb_context *c = s ? calloc(1, sizeof *c) : NULL;

	clock_settled();
	clock_busy();
	if (!c)
		return s ? LIBUSB_ERROR_NO_MEM : LIBUSB_ERROR_OTHER;
	c->state = s;
	*out = c;
	return 0;
}

void libusb_exit(libusb_context *c)
{
	free(c);
}

/* ---- what is plugged in ---- */

bool usb_present(struct state *s, int dongle)
{
	return !mischief_now(s, dongle, MISCHIEF_VANISH);
}

bool usb_gone(const libusb_device_handle *h)
{
	struct state *s = h->device.state;
	bool there = usb_present(s, h->device.dongle);

	return !there || s->dongles[h->device.dongle].generation != h->generation;
}

/* Whatever came back is last in the list. */
static int64_t place_of(const struct state *s, int dongle)
{
	return s->dongles[dongle].generation * (int64_t)DONGLES_MOST + dongle;
}

static int by_place(const void *a, const void *b)
{
	const struct libusb_device *const *x = a, *const *y = b;
	int64_t p = place_of((*x)->state, (*x)->dongle), q = place_of((*y)->state, (*y)->dongle);

	return (p > q) - (p < q);
}

ssize_t libusb_get_device_list(libusb_context *c, libusb_device ***out)
{
	struct state *s = c->state;
	struct libusb_device **list = calloc(DONGLES_MOST + 1, sizeof *list);
	ssize_t n = 0;

	clock_busy();
	if (!list)
		return LIBUSB_ERROR_NO_MEM;
	for (int i = 0; i < s->scenario.n_dongles; i++) {
		if (!usb_present(s, i))
			continue;
		list[n] = calloc(1, sizeof **list);
		if (!list[n])
			break;
		*list[n++] = (struct libusb_device){ .context = c, .state = s, .dongle = i };
	}
	qsort(list, (size_t)n, sizeof *list, by_place);
	*out = list;
	return n;
}

/* Handles keep a copy of their device: none is counted. */
void libusb_free_device_list(libusb_device **list, int unreference)
{
	(void)unreference;
	for (int i = 0; list && list[i]; i++)
		free(list[i]);
	free(list);
}

int libusb_get_device_descriptor(libusb_device *d, struct libusb_device_descriptor *out)
{
	(void)d;
	*out = (struct libusb_device_descriptor){
		.bLength = 18, .bDescriptorType = 1, .bcdUSB = 0x0200, .bMaxPacketSize0 = 64,
		.idVendor = VENDOR, .idProduct = PRODUCT, .iManufacturer = 1, .iProduct = 2,
		.iSerialNumber = 3, .bNumConfigurations = 1,
	};
	return 0;
}

libusb_device *libusb_get_device(libusb_device_handle *h)
{
	return &h->device;
}

int libusb_get_string_descriptor_ascii(libusb_device_handle *h, uint8_t index, unsigned char *out,
				       int length)
{
	struct state *s = h->device.state;
	const char *strings[] = { "", "Emulated", "RTL2832U and R820T",
				  s->scenario.dongles[h->device.dongle].serial };

	clock_busy();
	if (usb_gone(h))
		return LIBUSB_ERROR_NO_DEVICE;
	if (mischief_now(s, h->device.dongle, MISCHIEF_MUTE)) {
		state_spend(s, STRING_US);
		return LIBUSB_ERROR_TIMEOUT;
	}
	if (index > 3 || length < 1)
		return LIBUSB_ERROR_INVALID_PARAM;
	return snprintf((char *)out, (size_t)length, "%s", strings[index]);
}

/* ---- handles ---- */

int libusb_open(libusb_device *d, libusb_device_handle **out)
{
	struct libusb_device_handle *h;

	clock_busy();
	if (!usb_present(d->state, d->dongle))
		return LIBUSB_ERROR_NO_DEVICE;
	if (mischief_now(d->state, d->dongle, MISCHIEF_DENIED))
		return LIBUSB_ERROR_ACCESS;
	h = calloc(1, sizeof *h);
	if (!h)
		return LIBUSB_ERROR_NO_MEM;
	h->device = *d;
	h->generation = d->state->dongles[d->dongle].generation;
	d->state->dongles[d->dongle].count.opens++;
	*out = h;
	return 0;
}

void libusb_close(libusb_device_handle *h)
{
	if (!h)
		return;
	libusb_release_interface(h, 0);
	free(h);
}

static bool driver_has_it(struct state *s, int dongle)
{
	return !s->dongles[dongle].detached && mischief_now(s, dongle, MISCHIEF_DRIVER);
}

/* A process that died has lost its claim. */
static bool is_claimed(struct device_state *d)
{
	int32_t owner = d->owner;

	if (owner && kill(owner, 0) < 0 && errno == ESRCH)
		atomic_compare_exchange_strong(&d->owner, &owner, 0);
	return d->owner != 0;
}

int libusb_claim_interface(libusb_device_handle *h, int number)
{
	struct state *s = h->device.state;
	int dongle = h->device.dongle;
	struct device_state *d = &s->dongles[dongle];
	int32_t nobody = 0;

	(void)number;
	if (usb_gone(h))
		return LIBUSB_ERROR_NO_DEVICE;
	if (h->pipe)
		return 0;
	if (driver_has_it(s, dongle) || mischief_now(s, dongle, MISCHIEF_BUSY) || is_claimed(d) ||
	    !atomic_compare_exchange_strong(&d->owner, &nobody, (int32_t)getpid()))
		return LIBUSB_ERROR_BUSY;
	/* Power was off in between. */
	if (d->powered != h->generation) {
		chip_reset(&d->chip, s->scenario.dongles[dongle].serial);
		tuner_reset(&d->tuner);
		d->powered = h->generation;
	}
	h->pipe = pipe_create(s, dongle);
	if (!h->pipe) {
		d->owner = 0;
		return LIBUSB_ERROR_NO_MEM;
	}
	usb_attach(h->device.context, h);
	d->count.claims++;
	return 0;
}

int libusb_release_interface(libusb_device_handle *h, int number)
{
	(void)number;
	if (!h->pipe)
		return LIBUSB_ERROR_NOT_FOUND;
	usb_attach(h->device.context, NULL);
	pipe_destroy(h->pipe);
	h->pipe = NULL;
	h->device.state->dongles[h->device.dongle].owner = 0;
	h->device.state->dongles[h->device.dongle].count.closes++;
	return 0;
}

int libusb_kernel_driver_active(libusb_device_handle *h, int number)
{
	(void)number;
	return driver_has_it(h->device.state, h->device.dongle);
}

int libusb_detach_kernel_driver(libusb_device_handle *h, int number)
{
	struct state *s = h->device.state;
	const struct mischief *m = mischief_now(s, h->device.dongle, MISCHIEF_DRIVER);

	(void)number;
	if (m && m->value != 0)
		return LIBUSB_ERROR_OTHER;
	s->dongles[h->device.dongle].detached = true;
	return 0;
}

int libusb_attach_kernel_driver(libusb_device_handle *h, int number)
{
	(void)number;
	h->device.state->dongles[h->device.dongle].detached = false;
	return 0;
}

int libusb_reset_device(libusb_device_handle *h)
{
	struct state *s = h->device.state;

	s->dongles[h->device.dongle].count.resets++;
	return usb_gone(h) ? LIBUSB_ERROR_NO_DEVICE : 0;
}

/* ---- control transfers ---- */

static void hang(void)
{
	for (;;)
		clock_sleep_real_us(HANG_PIECE_US);
}

/* No lock where mischief says so. */
static bool may_lock(struct state *s, int dongle)
{
	const struct mischief *m = mischief_now(s, dongle, MISCHIEF_UNLOCKED);
	double lo = tuner_lo_hz(&s->dongles[dongle].tuner) * 1e-6;

	return !m || (m->high_mhz > 0 && (lo < m->low_mhz || lo > m->high_mhz));
}

static int carry_out(libusb_device_handle *h, const struct request *r)
{
	struct state *s = h->device.state;
	int dongle = h->device.dongle;
	struct device_state *d = &s->dongles[dongle];
	bool answers = !mischief_now(s, dongle, MISCHIEF_NO_TUNER);

	if (chip_is_tuner_write(r) && mischief_use(s, dongle, MISCHIEF_REFUSED))
		return LIBUSB_ERROR_PIPE;
	double lo = tuner_lo_hz(&d->tuner);
	int n = chip_control(&d->chip, answers ? &d->tuner : NULL, r);
	/* What has locked stays so until it is set anew. */
	if (tuner_lo_hz(&d->tuner) != lo)
		d->tuner.no_lock = !may_lock(s, dongle);
	d->count.retunes = d->tuner.settings;
	if (h->pipe && !r->in)
		pipe_registers(h->pipe);
	return n;
}

int libusb_control_transfer(libusb_device_handle *h, uint8_t type, uint8_t number, uint16_t value,
			    uint16_t index, unsigned char *bytes, uint16_t n, unsigned timeout_ms)
{
	const struct request r = { type & IN, value, index, bytes, n };
	struct state *s = h->device.state;
	int dongle = h->device.dongle, result = LIBUSB_ERROR_NO_DEVICE;
	struct counters *c = &s->dongles[dongle].count;
	double us = s->scenario.control_us + (chip_is_i2c(&r) ? s->scenario.i2c_us : 0);

	(void)number;
	clock_busy();
	c->controls++;
	c->i2c += chip_is_i2c(&r);
	if (mischief_use(s, dongle, MISCHIEF_HANG_CONTROL))
		hang();
	s->dongles[dongle].working = (int32_t)getpid();
	if (!usb_gone(h)) {
		bool mute = mischief_now(s, dongle, MISCHIEF_MUTE);
		int64_t takes = mute ? timeout_ms * INT64_C(1000) : (int64_t)us;
		state_spend(s, takes);
		result = mute ? LIBUSB_ERROR_TIMEOUT : carry_out(h, &r);
	}
	c->failed += result < 0;
	clock_busy();
	s->dongles[dongle].working = 0;
	return result;
}
