#include "daemon/dongle/choose.h"

#include <stdlib.h>
#include <string.h>

#include "daemon/dongle/usb_fault.h"

/* A small decimal number, else -1. */
static int as_index(const char *arg)
{
	size_t n = strspn(arg, "0123456789");
	return n > 0 && n < 4 && !arg[n] ? atoi(arg) : -1;
}

int dongles_with(const struct dongles *all, const char *serial, int *match)
{
	int matches = 0;

	for (int i = 0; i < all->count; i++) {
		if (strcmp(all->serial[i], serial) != 0)
			continue;
		*match = i;
		matches++;
	}
	return matches;
}

static int choose_named(const struct dongles *all, const char *arg, enum dongle_by by,
			struct fault *why)
{
	int match = -1, index = by == DONGLE_BY_NAME ? as_index(arg) : -1;
	int matches = dongles_with(all, arg, &match);

	if (matches > 1)
		return fault_set(why, FAULT_INPUT,
				 "dongle %.60s: %d have this serial, name it by index, 0 to %d, "
				 "or give each its own serial",
				 arg, matches, all->count - 1);
	if (matches == 1)
		return match;
	if (index >= 0 && index < all->count)
		return index;
	if (all->refused)
		return usb_fault(why, "dongle", "reading serials", all->refused);
	return fault_set(why, FAULT_RETRY,
			 "dongle %.60s: none of the %d plugged in has this serial", arg,
			 all->count);
}

int dongle_choose(const struct dongles *all, const char *arg, enum dongle_by by, struct fault *why)
{
	if (all->count == 0)
		return fault_set(why, FAULT_RETRY,
				 "dongle%s%.60s: none found, check that it is plugged in and "
				 "that lsusb lists it (0bda:2838 or 0bda:2832)",
				 *arg ? " " : "", arg);
	if (*arg)
		return choose_named(all, arg, by, why);
	if (all->count > 1)
		return fault_set(why, FAULT_INPUT,
				 "dongle: %d are plugged in, name one: dongle:SERIAL", all->count);
	return 0;
}
