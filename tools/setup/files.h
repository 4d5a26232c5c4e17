#ifndef BANDCENSUS_TOOLS_SETUP_FILES_H
#define BANDCENSUS_TOOLS_SETUP_FILES_H

#include "tools/deliver.h"
#include "tools/setup/answers.h"

/* The files that answers become: those that come along, with their comments, and what was said put
 * in. Each is written from struct answers. */
#define SETUP_FILES 4
extern const struct delivery setup_files[SETUP_FILES];

/* Which of them stand in the folder; NULL: none does. */
const char *setup_there(const char *folder);

/* Reads them as the programs will. -1 with the first thing wrong. */
int setup_check(const char *folder, struct fault *why);

#endif
