#include "daemon/log.h"

#include <stdarg.h>
#include <stdio.h>
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
