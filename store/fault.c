#include "store/fault.h"

#include <errno.h>
#include <stdarg.h>
#include <stdio.h>
#include <string.h>

#include "store/text.h"

#define HEAD 120                /* bytes kept of what is too long, before its end */
#define LONG 16384              /* two of the longest paths, and words            */

/* What is too long loses its middle, most likely a path's: the reason is at the end. */
static void shorten(char *out, size_t size, const char *text)
{
	size_t n = strlen(text);

	if (n < size)
		strcpy(out, text);
	else
		snprintf(out, size, "%.*s...%s", HEAD, text, text + n - (size - 1 - HEAD - 3));
}

int fault_set(struct fault *why, enum fault_kind kind, const char *format, ...)
{
	va_list args;
	char text[LONG];

	if (!why)
		return -1;
	why->kind = kind;
	va_start(args, format);
	vsnprintf(text, sizeof text, format, args);
	va_end(args);
	shorten(why->text, sizeof why->text, text);
	text_tame(why->text);
	return -1;
}

/* errno(3). ENOENT and EACCES are not among them: most likely a name is wrong, or whose file it is. */
static const int passing[] = {
	ENOSPC, EDQUOT, EROFS, EIO, ESTALE, EBUSY, ETIMEDOUT, EAGAIN, EINTR, ENOMEM, EMFILE, ENFILE,
	EADDRINUSE, EADDRNOTAVAIL,
};

enum fault_kind fault_kind_of(int error)
{
	for (size_t i = 0; i < sizeof passing / sizeof passing[0]; i++)
		if (passing[i] == error)
			return FAULT_RETRY;
	return FAULT_INPUT;
}

int fault_exit(const struct fault *why)
{
	return why->kind == FAULT_INPUT ? 2 : 1;
}
