#include "daemon/dongle/chatter.h"

#include <fcntl.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

struct chatter {
	int  out;               /* end of the pipe to be read */
	char text[4096];
};

/* Neither end ever waits: a library that talks into a full pipe is not heard. */
struct chatter *chatter_create(void)
{
	struct chatter *c = calloc(1, sizeof *c);
	int ends[2];

	if (!c)
		return NULL;
	c->out = -1;
	if (pipe2(ends, O_NONBLOCK | O_CLOEXEC) < 0)
		goto fail;
	c->out = ends[0];
	int r = dup2(ends[1], STDERR_FILENO);
	close(ends[1]);
	if (r < 0)
		goto fail;
	return c;
fail:
	chatter_destroy(c);
	return NULL;
}

void chatter_destroy(struct chatter *c)
{
	if (!c)
		return;
	if (c->out >= 0)
		close(c->out);
	free(c);
}

/* As much as may begin the words stays, in case the edge of the text cuts them in two. */
bool chatter_said(struct chatter *c, const char *words)
{
	size_t kept = 0;
	bool said = false;
	ssize_t n;

	while ((n = read(c->out, c->text + kept, sizeof c->text - 1 - kept)) > 0) {
		size_t have = kept + (size_t)n, tail = strlen(words) - 1;
		c->text[have] = '\0';
		said |= strstr(c->text, words) != NULL;
		kept = have < tail ? have : tail;
		memmove(c->text, c->text + have - kept, kept);
	}
	return said;
}
