#ifndef BANDCENSUS_DAEMON_PLANS_H
#define BANDCENSUS_DAEMON_PLANS_H

/* Sees to it that the fastest transforms of these lengths are known: from the text
 * kept in the user's cache folder ($XDG_CACHE_HOME or ~/.cache, bandcensus/
 * transforms), else by a search of some seconds, whose result is kept there. That
 * text is lost without harm: what can't be read, does not fit or can't be written is
 * done without. For live sources alone: what is replayed must not depend on it. */
void plans_fetch(const int *bins, int n);

#endif
