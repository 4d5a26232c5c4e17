#ifndef BANDCENSUS_DAEMON_DONGLE_COUNTER_H
#define BANDCENSUS_DAEMON_DONGLE_COUNTER_H

#include <stdatomic.h>
#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

/* In its test mode a dongle sends a byte that counts up instead of samples: where
 * it jumps, some were lost. (A loss of a multiple of 256 bytes does not show.) One
 * thread feeds, another begins and asks. Zeroed is not begun. */
struct counter {
	_Atomic int64_t left;           /* bytes yet to be seen; 0: done, or not begun   */
	int64_t         skip;           /* of them the first, that may be older          */
	int             breaks;
	uint8_t         next;
	bool            running;        /* next is known                                 */
};

/* The next skip bytes are passed over, then so many are looked at. Only when done. */
void counter_begin(struct counter *c, int64_t skip, int64_t bytes);
void counter_feed(struct counter *c, const uint8_t *bytes, size_t n);

int64_t counter_left(const struct counter *c);
int counter_breaks(const struct counter *c);    /* only when nothing is left */

#endif
