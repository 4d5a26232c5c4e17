#include "tools/setup/ask.h"

#include <stdlib.h>
#include <string.h>

/* Without the blanks around it. */
static char *trimmed(char *line)
{
	line += strspn(line, " \t");
	for (size_t n = strlen(line); n && strchr(" \t\r\n", line[n - 1]); n--)
		line[n - 1] = '\0';
	return line;
}

int ask(const struct asker *a, const char *question, const char *given, const char *preset,
	int (*take)(void *self, const char *answer, struct fault *why), void *self,
	struct fault *why)
{
	char *line = NULL;
	size_t room = 0;
	int result = 1;         /* still asking */

	if (given || !a->asks)
		return take(self, given ? given : preset, why);
	while (result > 0) {
		fprintf(a->out, "%s [%s]: ", question, preset);
		fflush(a->out);
		if (getline(&line, &room, a->in) < 0) {
			fputc('\n', a->out);
			result = fault_set(why, FAULT_INPUT,
					   "the answers ended, so nothing was written");
			break;
		}
		char *answer = trimmed(line);
		if (take(self, *answer ? answer : preset, why) == 0)
			result = 0;
		else if (why->kind != FAULT_INPUT)
			result = -1;
		else
			fprintf(a->out, "  %s\n", why->text);
	}
	free(line);
	return result;
}
