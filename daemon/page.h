#ifndef BANDCENSUS_DAEMON_PAGE_H
#define BANDCENSUS_DAEMON_PAGE_H

#include "store/fault.h"

/* A page of how the survey goes, and /status.json of the same, for a browser: what
 * `status --follow` shows. A thread of its own serves it, and reads the survey's file like any other
 * reader, so that the watch knows nothing of it. Nothing can be changed through it. */
struct page;

/* Serves it from then on, as guard.h says; what it is served as is logged. NULL with why. */
struct page *page_open(const char *address, const char *token_path, struct fault *why);

/* The port that it has. */
int page_port(const struct page *p);

/* The survey that is written now; NULL: none, and words say why not. Once it has returned the one
 * before is not read any more. p NULL is fine. */
void page_show(struct page *p, const char *survey, const char *words);

void page_close(struct page *p);        /* NULL is fine */

#endif
