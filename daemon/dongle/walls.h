#ifndef BANDCENSUS_DAEMON_DONGLE_WALLS_H
#define BANDCENSUS_DAEMON_DONGLE_WALLS_H

/* What the process that reads a dongle is left with, whoever takes it over by way of a dongle:
 *
 *   files   reads what systems are made of (/usr, /etc, /sys, /proc, /run/udev) and so no survey;
 *           writes to devices below /dev/bus/usb alone; makes, removes and runs none (Landlock)
 *   calls   those on a list (seccomp). No program is run and no process begun, only threads;
 *           no socket is made but to hear of hot plugging (AF_NETLINK), no other process is
 *           signalled or looked into, no memory becomes code, no ioctl but usbfs's
 *
 * and no new privileges; nor is its memory, which holds samples, dumped or shown to others of
 * its user. Descriptors that are open stay so.
 *
 * A call that is not on the list fails with ENOSYS, as on an older kernel, which libraries know
 * how to do without: what we did not foresee costs what it was for, not the night. The kernel's
 * log says which (its audit lines, type 1326), where it keeps any. */
enum walls_missing {
	WALLS_NO_FILES = 1 << 0,        /* the kernel has no Landlock ...      */
	WALLS_NO_CALLS = 1 << 1         /* ... no seccomp, or lets us use none */
};

/* For ever, and for all threads to come: to be called by the only one. What could not be had
 * of enum walls_missing; 0: all stand. Builds that are looked into (sanitizers, coverage) need
 * what is walled off here: they have none, and miss none. */
unsigned walls_raise(void);

/* Logs what is missing to those around who, a dongle, one line each. */
void walls_tell(unsigned missing, const char *who);

/* Whether this build has any. */
#if defined(__SANITIZE_ADDRESS__) || defined(__SANITIZE_THREAD__) || defined(BANDCENSUS_COVERAGE)
#define WALLS_BUILT 0
#elif defined(__has_feature)
#define WALLS_BUILT (!__has_feature(address_sanitizer) && !__has_feature(thread_sanitizer) && !__has_feature(memory_sanitizer))
#else
#define WALLS_BUILT 1
#endif

#endif
