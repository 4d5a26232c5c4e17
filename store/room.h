#ifndef BANDCENSUS_STORE_ROOM_H
#define BANDCENSUS_STORE_ROOM_H

#include <stdint.h>

/* What a file's disk has left. */
struct room {
	int64_t total, free;            /* bytes; free: for us */
};

/* -1: it can't be told. */
int room_of(const char *path, struct room *out);

/* Another's word for it, in tests. */
struct room_source {
	int (*ask)(void *self, struct room *out);
	void *self;
};

/* How much may be written. Short: the strips, which grow whatever is heard, must do without;
 * a full disk would keep others from working too, so before that nothing is written at all. */
enum allowance {
	ALLOW_ALL = 0,
	ALLOW_NO_STRIPS,        /* below 5 %, and below 512 MB */
	ALLOW_NOTHING,          /* below 1 %, and below 64 MB  */
	ALLOWANCES
};

/* was: the allowance so far; for more there must be a quarter more room than its limit, so that
 * it does not go to and fro. */
enum allowance room_allows(const struct room *r, enum allowance was);

#endif
