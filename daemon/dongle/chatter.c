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

static size_t longest(const char *const *words, int n)
{
	size_t most = 1;

	for (int i = 0; i < n; i++)
		most = strlen(words[i]) > most ? strlen(words[i]) : most;
	return most;
}

/* As much as may begin words stays, in case the edge of the text cuts them in two. */
unsigned chatter_said(struct chatter *c, const char *const *words, int n)
{
	size_t kept = 0, tail = longest(words, n) - 1;
	unsigned said = 0;
	ssize_t got;

	while ((got = read(c->out, c->text + kept, sizeof c->text - 1 - kept)) > 0) {
		size_t have = kept + (size_t)got;
		c->text[have] = '\0';
		for (int i = 0; i < n; i++)
			said |= strstr(c->text, words[i]) ? 1u << i : 0;
		kept = have < tail ? have : tail;
		memmove(c->text, c->text + have - kept, kept);
	}
	return said;
}
