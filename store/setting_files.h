#ifndef BANDCENSUS_STORE_SETTING_FILES_H
#define BANDCENSUS_STORE_SETTING_FILES_H

#include "store/survey.h"

/* Adds the text of settings files and of all they include to a run, in a transaction of its
 * own, so that a survey tells how it was made. NULL and "" are passed over. */
int setting_files_keep(struct survey *s, int64_t run, const char *const *paths, int n,
		       struct fault *why);

#endif
