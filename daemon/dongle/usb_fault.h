#ifndef BANDCENSUS_DAEMON_DONGLE_USB_FAULT_H
#define BANDCENSUS_DAEMON_DONGLE_USB_FAULT_H

#include "store/fault.h"

/* Fills why with what a USB code means and what helps; returns -1. name and what
 * are of whom and of what failed: "dongle 7", "tuning". */
int usb_fault(struct fault *why, const char *name, const char *what, int code);

#endif
