#ifndef BANDCENSUS_DAEMON_NOTIFY_H
#define BANDCENSUS_DAEMON_NOTIFY_H

#include "daemon/onlooker.h"

/* Tells the service manager how it goes, by datagrams to the socket that NOTIFY_SOCKET names: the
 * protocol of sd_notify(3), which that page allows to be spoken without its library. Without such
 * a socket all this does nothing. Its watchdog is fed by looks that counted and by nothing else: a
 * daemon that runs and does not listen is to be started anew. */
struct notify {
	int     socket;                 /* -1: nobody listens                                  */
	int64_t usual_us;               /* the watchdog's patience, as it was set up; 0: none  */
	int64_t patience_us;            /* as it is now                                        */
	int64_t fed_us;                 /* by a clock that is never stepped                    */
	bool    ready;                  /* was told                                            */
};

/* Reads the environment. */
void notify_open(struct notify *n);
void notify_close(struct notify *n);

/* It works: started, settings read. status: one line for people. */
void notify_ready(struct notify *n, const char *status);

/* For so long no look is to be expected: a warm-up, or hours off duty. */
void notify_quiet(struct notify *n, int64_t us, const char *status);

void notify_stopping(struct notify *n);

/* Feeds the watchdog, some times within its patience. */
struct onlooker notify_onlooker(struct notify *n);

#endif
