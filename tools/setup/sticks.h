#ifndef BANDCENSUS_TOOLS_SETUP_STICKS_H
#define BANDCENSUS_TOOLS_SETUP_STICKS_H

/* Dongles that are plugged in, as the kernel lists what is on the USB: so that nothing has to be
 * opened, and the survey's own library stays with the daemon. */

#define STICKS_MOST 8

struct stick {
	char serial[64];                /* "": none */
};

/* Those with an RTL2832U under its maker's own numbers; folder is /sys/bus/usb/devices. How many,
 * at most STICKS_MOST; none where there is no such folder. */
int sticks_find(const char *folder, struct stick out[STICKS_MOST]);

#endif
