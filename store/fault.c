#include "store/fault.h"

#include <stdarg.h>
#include <stdio.h>

#include "store/text.h"

int fault_set(struct fault *why, enum fault_kind kind, const char *format, ...)
{
	va_list args;

	if (!why)
		return -1;
	why->kind = kind;
	va_start(args, format);
	vsnprintf(why->text, sizeof why->text, format, args);
	va_end(args);
	text_tame(why->text);
	return -1;
}

int fault_exit(const struct fault *why)
{
	return why->kind == FAULT_INPUT ? 2 : 1;
}
