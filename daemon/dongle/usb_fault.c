#include "daemon/dongle/usb_fault.h"

#include <stddef.h>

/* libusb's codes, which the dongle library hands on. All may come right while we
 * wait: a node's permission is set a moment after it appears. */
static const struct {
	int         code;
	const char *text;
} texts[] = {
	{ -3, "no permission, install the udev rule 60-librtlsdr0.rules (package librtlsdr0), put "
	      "this user into group plugdev, then log in again and replug it" },
	{ -4, "it vanished, plug it in again" },
	{ -5, "it vanished, plug it in again" },
	{ -6, "it is in use, end the other program, or if it is the kernel's television driver: "
	      "modprobe -r dvb_usb_rtl28xxu and blacklist it" },
	{ -7, "it does not answer, unplug it for ten seconds" },
	{ -9, "it refused, unplug it for ten seconds" },
};

int usb_fault(struct fault *why, const char *name, const char *what, int code)
{
	for (size_t i = 0; i < sizeof texts / sizeof texts[0]; i++)
		if (texts[i].code == code)
			return fault_set(why, FAULT_RETRY, "%s: %s failed: %s", name, what,
					 texts[i].text);
	return fault_set(why, FAULT_RETRY, "%s: %s failed with code %d, unplug it for ten seconds",
			 name, what, code);
}
