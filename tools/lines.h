#ifndef BANDCENSUS_TOOLS_LINES_H
#define BANDCENSUS_TOOLS_LINES_H

/* Lines that something says while it works, kept to be told afterwards. All 0 to begin with. */
struct lines {
	char **at;
	int    n;
	int    lost;            /* for want of memory */
};

void lines_say(void *self, const char *line);   /* self: struct lines */
void lines_free(struct lines *l);

#endif
