#include "daemon/log.h"

#include <stdarg.h>
#include <stdbool.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <sys/stat.h>
#include <unistd.h>

void log_line(enum log_level level, const char *format, ...)
{
	char text[700];
	va_list args;

	va_start(args, format);
	vsnprintf(text, sizeof text, format, args);
	va_end(args);
	/* A person needs no level in front. */
	if (isatty(STDERR_FILENO))
		fprintf(stderr, "%s\n", text);
	else
		fprintf(stderr, "<%d>%s\n", level, text);
}

/* systemd.exec(5): JOURNAL_STREAM holds device and inode of what is connected to it. */
static bool to_journal(void)
{
	const char *stream = getenv("JOURNAL_STREAM");
	uintmax_t device, inode;
	struct stat s;

	return stream && sscanf(stream, "%ju:%ju", &device, &inode) == 2 && fstat(STDERR_FILENO, &s) == 0 &&
	       s.st_dev == device && s.st_ino == inode;
}

void log_failure(const char *text)
{
	if (to_journal())
		fprintf(stderr, "<%d>", LOG_ERROR);
	fprintf(stderr, "bandcensusd: %s\n", text);
}
