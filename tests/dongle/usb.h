#ifndef BANDCENSUS_TESTS_DONGLE_USB_H
#define BANDCENSUS_TESTS_DONGLE_USB_H

#include <libusb.h>

#include "tests/dongle/pipe.h"

/* What libusb.h leaves open. The dongle library has one context and one handle for
 * each device that it opens, and passing ones to look around. */
struct libusb_context {
	struct state         *state;
	libusb_device_handle *handle;   /* the one that is claimed */
};

struct libusb_device {
	libusb_context *context;
	struct state   *state;
	int             dongle;
};

struct libusb_device_handle {
	struct libusb_device device;
	uint32_t             generation;        /* the device's when it was opened   */
	struct pipe         *pipe;              /* once claimed                      */
};

/* On the bus now. */
bool usb_present(struct state *s, int dongle);

/* Off the bus, or once off since the handle was opened. */
bool usb_gone(const libusb_device_handle *h);

/* Whose events the context handles; NULL: nobody's any more. */
void usb_attach(libusb_context *c, libusb_device_handle *h);

#endif
