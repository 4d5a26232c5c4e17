#ifndef BANDCENSUS_TOOLS_TELLING_H
#define BANDCENSUS_TOOLS_TELLING_H

#include "tools/command.h"
#include "tools/tell.h"

/* Writes a result to stdout as --json, --csv (this list of it; NULL: the whole) or --fields ask
 * for. 0, or -1 when there is no memory; 1: none of them was given, it is for a person. */
int telling(const struct choice *o, const char *list,
	    void (*tell)(struct teller *t, const void *what), const void *what);

#endif
