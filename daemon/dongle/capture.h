#ifndef BANDCENSUS_DAEMON_DONGLE_CAPTURE_H
#define BANDCENSUS_DAEMON_DONGLE_CAPTURE_H

#include "daemon/dongle/capture_order.h"

/* The daemon's end of a process that reads a dongle for it: this very program,
 * run again with CAPTURE_OPTION. Whatever happens to that process, it is killed
 * and another takes its place; nothing here waits for it, except where said. */
struct capture;

enum capture_news {
	CAPTURE_NONSENSE = -2,          /* what it sent can't be                         */
	CAPTURE_DEAD = -1,              /* it ended                                      */
	CAPTURE_NOTHING = 0,
	CAPTURE_ANSWER = 1
};

/* Starts one; NULL with errno. */
struct capture *capture_create(void);

/* Kills it if it lives. A process stuck in the kernel stays for as long as it is. */
void capture_destroy(struct capture *c);        /* NULL is fine */

struct ring *capture_ring(struct capture *c);   /* of its deliveries; owned by c   */
int64_t capture_since_us(const struct capture *c);      /* when it was started         */
int capture_socket(const struct capture *c);    /* readable when there is news     */

/* Numbers the order and hands it over; -1 when it is not taken. The one before was
 * answered. */
int capture_tell(struct capture *c, struct capture_order *o);

/* The answer to the last order, its texts made sure of, its numbers such as can be. One
 * that nobody waits for is nonsense. */
enum capture_news capture_take(struct capture *c, struct capture_answer *out);

void capture_kill(struct capture *c);

/* Waits up to wait_ms for it to end, and says whether it has. Below 2000. */
bool capture_gone(struct capture *c, int wait_ms);

/* Tells it to end in good order and waits for that, up to 4 s. */
void capture_stop(struct capture *c);

/* How it ended, for people: "by signal 11". Only when gone. */
const char *capture_end(struct capture *c);

#endif
