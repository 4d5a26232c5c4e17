#include "tools/lines.h"

#include <stdlib.h>
#include <string.h>

#include "tools/plan/list.h"

void lines_say(void *self, const char *line)
{
	struct lines *l = self;
	char *copy = strdup(line);

	if (!copy || list_room((void **)&l->at, l->n, sizeof *l->at) < 0) {
		free(copy);
		l->lost++;
		return;
	}
	l->at[l->n++] = copy;
}

void lines_free(struct lines *l)
{
	for (int i = 0; i < l->n; i++)
		free(l->at[i]);
	free(l->at);
	*l = (struct lines){ 0 };
}
