#ifndef BANDCENSUS_DAEMON_SOURCE_H
#define BANDCENSUS_DAEMON_SOURCE_H

#include "daemon/gain_steps.h"
#include "dsp/block.h"
#include "store/fault.h"

/* What the command line asked for. Zero means not given. */
struct source_request {
	const char *arg;                /* after the colon of --source; "" when absent */
	int32_t     rate_hz;
	struct freq centre;
	uint64_t    seed;               /* town only                                   */
	const char *start;              /* town only: when it begins; NULL: as its file says */
	const char *truth_path;         /* town only: where to write what it sent, or NULL */
	bool        antenna_off;        /* town only: its own lines and noise alone    */
	bool        bias_tee;           /* dongle only: feed the antenna                   */
	bool        at_once;            /* open does not wait to see whether it is there:  */
					/* tune and read will say                          */
};

/* What a source can say of itself once it is open. */
struct source_about {
	char        label[128];         /* for the survey: "dongle 00000001, R820T"    */
	int32_t     rate_hz;            /* the rate it runs at, or 0: any asked for    */
	struct freq centre;             /* the only centre it has, when !tunable       */
	bool        tunable;
	struct gain_steps gains;        /* that it has                                 */
	int64_t     start_us;           /* UTC of its first sample                     */
	int64_t     retune_us;          /* from one tuning's last sample to the next's first; 0: not told */
	int64_t     length_us;          /* how long it can go on; 0: without end       */
	const char *settings;           /* the file it was made from; the source's; NULL: none */
	bool        virtual_clock;      /* time is in the data: nothing waits for it   */
};

struct tuning {
	struct freq centre;
	int32_t     rate_hz;
	double      ppm;                /* crystal error to correct for, + is high     */
	int         gain_tenth_db;
};

enum source_result {
	SOURCE_DEAF = -2,               /* this tuning can't be had, others may: why says so */
	SOURCE_FAULT = -1,              /* why is filled                               */
	SOURCE_END = 0,                 /* nothing more will come                      */
	SOURCE_BLOCK = 1,
	SOURCE_LATER = 2                /* not yet: ask again when its descriptor is readable */
};

/* The seam for the world: a dongle, a recording and the invented town each
 * fill this table; code above never asks which one it has. One owner, one
 * thread, and no call waits for hardware, so that one thread can keep a watch
 * over several. */
struct source_ops {
	const char *name;

	/* NULL with why filled when it can't be had. */
	void *(*open)(const struct source_request *request, struct fault *why);

	void (*about)(void *self, struct source_about *out);

	/* After 0 the next block is of the new tuning, stale samples discarded; it may
	 * be under way for a while, and read says so. The same tuning again keeps the
	 * stream as it is: the next block follows on the last.
	 * A source that is not tunable takes its own centre and rate only.
	 * After FAULT_RETRY, from here or from read, the caller rests and tunes
	 * again: the source mends itself there, and says FAULT_RETRY until it can,
	 * FAULT_FATAL when it never will. */
	int (*tune)(void *self, const struct tuning *to, struct fault *why);

	/* The next n samples in out, borrowed until the next read, a tune in between
	 * included; fewer only just before the end. Returns an enum source_result. */
	int (*read)(void *self, size_t n, struct block *out, struct fault *why);

	/* What poll may wait on until read has more to say, a missed deadline of its
	 * own included; NULL: it never says SOURCE_LATER. Owned by self, the same until
	 * close. */
	int (*descriptor)(void *self);

	/* us will pass without listening: moves a virtual clock on, or only notes that
	 * what comes meanwhile is not wanted. Never sleeps. */
	void (*rest)(void *self, int64_t us);

	/* Back to the first sample, where there is one; else does nothing. */
	int (*restart)(void *self, struct fault *why);

	/* Whatever it was told is in doubt: the next tune sets it up from nothing. NULL: it
	 * has nothing to set up. */
	void (*renew)(void *self);

	void (*close)(void *self);      /* NULL is fine */
};

extern const struct source_ops source_dongle;
extern const struct source_ops source_recording;
extern const struct source_ops source_town;

/* Splits "recording:FILE" at the first colon, finds the table row and sets
 * *arg to the text after the colon (or ""). NULL with why filled when no
 * source has that name. */
const struct source_ops *source_named(const char *spec, const char **arg, struct fault *why);

#endif
