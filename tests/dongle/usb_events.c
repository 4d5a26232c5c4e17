/* An emulated dongle, for tests: a shared library in place of libusb-1.0, with the
 * real dongle library unmodified above it and an invented town's air below.
 *
 * Loaded first (LD_PRELOAD, or linked before libusb), it does what the text file
 * named by DONGLE_SCENARIO says (scenario.h), on one clock for all processes
 * (clock.h, waits.c), and keeps what happens in that file's name + ".state"
 * (state.h), where tests read it. Tests use scene.h, which does all that.
 *
 *   usb.c, usb_events.c   libusb's functions    timeline.c   registers in time
 *   pipe.c                the bulk endpoint     samples.c    what is heard then
 *   chip.c, tuner.c       RTL2832U, R820T       scenario.c   the file
 *
 * Not there: other tuners, direct sampling, the infrared receiver, gain that
 * depends on frequency, the digital AGC, samples lost inside the chip above
 * 2.4 MS/s, and whatever in the air the town does not know. */

#include "tests/dongle/usb.h"

#include <stdlib.h>

#include "tests/dongle/clock.h"

#define LOOK_US 1000            /* a cancel or a leap is noticed so soon */
#define SOON_US 20              /* ... that all others wait, when in haste */

void usb_attach(libusb_context *c, libusb_device_handle *h)
{
	c->handle = h;
}

/* ---- transfers ---- */

struct libusb_transfer *libusb_alloc_transfer(int packets)
{
	(void)packets;
	return calloc(1, sizeof(struct libusb_transfer));
}

void libusb_free_transfer(struct libusb_transfer *t)
{
	if (t && t->dev_handle && t->dev_handle->pipe)
		pipe_forget(t->dev_handle->pipe, t);
	free(t);
}

int libusb_submit_transfer(struct libusb_transfer *t)
{
	if (usb_gone(t->dev_handle))
		return LIBUSB_ERROR_NO_DEVICE;
	return t->dev_handle->pipe ? pipe_submit(t->dev_handle->pipe, t) : LIBUSB_ERROR_NOT_FOUND;
}

int libusb_cancel_transfer(struct libusb_transfer *t)
{
	return t->dev_handle->pipe ? pipe_cancel(t->dev_handle->pipe, t) : LIBUSB_ERROR_NOT_FOUND;
}

unsigned char *libusb_dev_mem_alloc(libusb_device_handle *h, size_t n)
{
	(void)h;
	return calloc(1, n);
}

int libusb_dev_mem_free(libusb_device_handle *h, unsigned char *memory, size_t n)
{
	(void)h;
	(void)n;
	free(memory);
	return 0;
}

/* ---- events ---- */

static int64_t shorter(int64_t a, int64_t b)
{
	return a < b ? a : b;
}

/* Hands out what is due, or waits for it; 0 when nothing came until then. */
static int handle_until(libusb_device_handle *h, int64_t until_us, const int *completed)
{
	struct state *s = h->device.state;
	int64_t look_us = s->scenario.hastens ? SOON_US : LOOK_US;

	while (!completed || !*completed) {
		if (mischief_use(s, h->device.dongle, MISCHIEF_HANG_EVENTS))
			for (;;)
				clock_sleep_real_us(LOOK_US);
		int64_t now = state_now_us(s);
		if (pipe_serve(h->pipe, usb_gone(h)) > 0 || now >= until_us)
			break;
		int64_t due = pipe_due_us(h->pipe), next = shorter(due, until_us);
		if (next > now && !(due < until_us && clock_hasten(s, due)))
			clock_sleep_real_us(shorter(clock_real_us(s, next - now), look_us));
	}
	return 0;
}

int libusb_handle_events_timeout_completed(libusb_context *c, struct timeval *t, int *completed)
{
	int64_t us = (int64_t)t->tv_sec * 1000000 + t->tv_usec;

	clock_settled();
	if (c->handle)
		return handle_until(c->handle, state_now_us(c->state) + us, completed);
	clock_sleep_real_us(shorter(us, LOOK_US));
	return 0;
}

static void note_completed(struct libusb_transfer *t)
{
	*(int *)t->user_data = 1;
}

/* One transfer, waited for: without a time limit, as the dongle library has it. */
int libusb_bulk_transfer(libusb_device_handle *h, unsigned char endpoint, unsigned char *bytes,
			 int n, int *moved, unsigned timeout_ms)
{
	static const int results[] = {
		[LIBUSB_TRANSFER_ERROR] = LIBUSB_ERROR_IO,
		[LIBUSB_TRANSFER_TIMED_OUT] = LIBUSB_ERROR_TIMEOUT,
		[LIBUSB_TRANSFER_CANCELLED] = LIBUSB_ERROR_OTHER,
		[LIBUSB_TRANSFER_STALL] = LIBUSB_ERROR_PIPE,
		[LIBUSB_TRANSFER_NO_DEVICE] = LIBUSB_ERROR_NO_DEVICE,
		[LIBUSB_TRANSFER_OVERFLOW] = LIBUSB_ERROR_OVERFLOW,
	};
	struct libusb_transfer t = { .dev_handle = h, .endpoint = endpoint, .buffer = bytes,
				     .length = n, .callback = note_completed };
	int done = 0, r;

	(void)timeout_ms;
	t.user_data = &done;
	if (n % 512 != 0)
		return LIBUSB_ERROR_OVERFLOW;
	r = libusb_submit_transfer(&t);
	while (r == 0 && !done)
		handle_until(h, state_now_us(h->device.state) + 1000000, &done);
	*moved = t.actual_length;
	return r < 0 ? r : results[t.status];
}
