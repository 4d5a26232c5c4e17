#ifndef BANDCENSUS_STORE_FAULT_H
#define BANDCENSUS_STORE_FAULT_H

/* What went wrong, sorted by what to do next. The caller owns it and its one
 * line of text, which has no full stop, names file, value and remedy, and is fit for a terminal
 * whoever wrote the file (store/text.h). */
enum fault_kind {
	FAULT_NONE = 0,
	FAULT_RETRY,            /* busy, full, unplugged: keep the data, come back */
	FAULT_INPUT,            /* a person must mend a file or option: exit 2     */
	FAULT_FATAL             /* damaged or impossible: stop and say so: exit 1  */
};

struct fault {
	enum fault_kind kind;
	char            text[480];
};

/* Fills why (which may be NULL) and returns -1, so that callers can write
 * return fault_set(...). What is longer than text loses its middle. why's own text may be among
 * the arguments. */
int fault_set(struct fault *why, enum fault_kind kind, const char *format, ...)
	__attribute__((format(printf, 3, 4)));

/* The kind of what a system call failed with (errno), where a person named the file or address it was for:
 * FAULT_RETRY for what passes without anybody mending a name or a permission (no room, a disk that can't be
 * written just now, too many open files, an address that another has or that is not there yet), else FAULT_INPUT. */
enum fault_kind fault_kind_of(int error);

/* The exit code a fault asks for: 2 for FAULT_INPUT, else 1. A service manager begins anew after 1 alone. */
int fault_exit(const struct fault *why);

#endif
