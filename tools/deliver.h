#ifndef BANDCENSUS_TOOLS_DELIVER_H
#define BANDCENSUS_TOOLS_DELIVER_H

#include <stdio.h>

#include "store/fault.h"

/* Files of one folder, made of the same thing. */
struct delivery {
	const char *name;
	int       (*write)(FILE *to, const void *of);   /* -1: no memory */
};

/* Makes the folder where there is none. Each file is written beside, then renamed: a reader sees
 * the old one or the new one. Nobody else may read them: they tell when others talk. */
int deliver(const char *folder, const struct delivery *file, int n, const void *of, struct fault *why);

#endif
