#ifndef BANDCENSUS_DAEMON_GUARD_H
#define BANDCENSUS_DAEMON_GUARD_H

#include <stdbool.h>
#include <sys/socket.h>

#include "store/fault.h"

/* Who may see the page: where it is served, under which names, and what must be known. */
#define GUARD_LETTERS 256

struct guard {
	struct sockaddr_storage at;             /* where to listen */
	bool                    locked;         /* a token is asked for */
	char                    basic[GUARD_LETTERS], bearer[GUARD_LETTERS]; /* either unlocks it */
};

/* address: "127.0.0.1:8080", "[::1]:8080"; port 0 is any. token_path: a file with 16 to 100 letters
 * in one line, for its owner alone; NULL: no token. FAULT_INPUT: no address, not loopback and
 * no token, no such file, one that others may read. */
int guard_set(struct guard *g, const char *address, const char *token_path, struct fault *why);

/* Whether a Host header is one that nobody else can bend to us: an address or localhost, with any
 * port or none. A page of somebody whose name suddenly means our address (DNS rebinding) has his
 * name there. NULL: no. */
bool guard_host(const char *host);

/* Whether an Authorization header unlocks it: "Bearer TOKEN", or Basic (RFC 7617) with the user
 * bandcensus and the token as password. Takes as long whatever is wrong with it. NULL: none. */
bool guard_unlocks(const struct guard *g, const char *authorization);

#endif
