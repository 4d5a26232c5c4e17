#ifndef BANDCENSUS_TESTS_TRUTH_H
#define BANDCENSUS_TESTS_TRUTH_H

#include <stdbool.h>
#include <stdint.h>

/* What a town really sent in a run, read back from the file that bandcensusd --truth writes. */

struct sent {
	double on_s, off_s;             /* since the run began, on the clock that is never stepped */
	double snr_db;
};

struct sender_told {
	char         role[12];          /* emitter, birdie, noise, ghost  */
	char         name[48], service[24], mode[8], kind[12];
	double       hz, level_dbm;
	struct sent *sent;              /* ascending, never overlapping   */
	int          n;
};

struct truth {
	struct sender_told *of;
	int                 senders;
	int64_t             start_us;   /* of the run, UTC                */
	double              seconds;    /* it lasts                       */
};

/* start_us: of the run, UTC. Fails the test where the file is none. */
struct truth *truth_read(const char *path, int64_t start_us, double seconds);
void truth_free(struct truth *t);       /* NULL is fine */

/* Of that name; fails the test when there is none. */
const struct sender_told *truth_named(const struct truth *t, const char *name);

/* Somebody's voice, not a repeater's input; NAME Out and NAME In are the two of a pair. */
bool truth_voice(const struct sender_told *s);
bool truth_is_input(const struct sender_told *s);
/* Its input, or its output; NULL: it is of no pair. */
const struct sender_told *truth_partner(const struct truth *t, const struct sender_told *s);

/* The voice nearest to a frequency, no further off than so much; NULL: nobody. */
const struct sender_told *truth_at(const struct truth *t, double hz, double reach_hz);

/* Seconds on the air at that strength or more, of [from_s, to_s). */
double truth_air_s(const struct sender_told *s, double squelch_db, double from_s, double to_s);

#endif
