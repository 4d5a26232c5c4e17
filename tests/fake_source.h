#ifndef BANDCENSUS_TESTS_FAKE_SOURCE_H
#define BANDCENSUS_TESTS_FAKE_SOURCE_H

#include <complex.h>
#include <signal.h>

#include "daemon/clock.h"
#include "daemon/source.h"
#include "tests/failing_vfs.h"
#include "tests/noise.h"

#define FAKE_RATE   240000
#define FAKE_ROOM   8192        /* samples of a look   */
#define FAKE_BLOCKS 2000
#define FAKE_TUNES  15000       /* us, each            */
#define NEVER_S     1e9

enum trouble {
	TROUBLE_NONE = 0,
	TROUBLE_LOST,           /* a read at fragile fails, then tuning, until it is back */
	TROUBLE_TUNING,         /* tuning fails                                           */
	TROUBLE_DEAD,           /* reading fails for good                                 */
	TROUBLE_END,            /* nothing more comes                                     */
	TROUBLE_CLOCK,          /* the computer's clock is stepped                        */
	TROUBLE_GAPS,           /* samples are lost in every block                        */
	TROUBLE_DISK,           /* nothing can be written                                 */
	TROUBLE_DEAF,           /* fragile can't be had                                   */
	TROUBLE_HANGS           /* live: samples are late for ever                        */
};

/* Times are seconds on the source's clock, which begins at 0 and is never stepped. */
struct script {
	enum trouble trouble;
	double       at_s, until_s;
	double       step_s;            /* TROUBLE_CLOCK */
	double       stop_s;            /* 0: is not stopped */
};

/* For sources that are not of a virtual clock: time passes only by waiting. */
#define FAKE_POSTS 3

struct fake_source;

struct fake_clock {
	int64_t now_us;
	struct fake_source *source[FAKE_POSTS];
	int     sources;
	int     waits, idle_waits;      /* idle: for nothing, or for less than no time     */
};

/* A struct clock of it. */
struct clock fake_clock(struct fake_clock *c);

/* What was handed over. */
struct delivery {
	struct freq centre;
	int64_t     start_us, end_us;   /* UTC, as stamped */
	int64_t     mono_us;
	bool        gap, on;
};

/* A receiver that does what its script says. Nobody waits for its clock. */
struct fake_source {
	struct script script;
	struct freq   fragile;          /* the centre at which it is lost: mid-sweep    */
	double        on_s, off_s;      /* a carrier ...                                */
	struct freq   carrier;          /* ... here                                     */
	double        noise_power, carrier_power;
	struct noise  noise;
	int64_t       mono_us, utc_us;  /* utc_us: UTC at the clock's 0                 */
	volatile sig_atomic_t *stop;
	struct failing_disk   *disk;    /* or NULL                                      */
	struct fake_clock     *clock;   /* NULL: a virtual clock of its own             */
	int64_t                due_us;  /* when what it said is late will be there      */
	bool                   late;

	struct tuning   tuned;
	bool            lost, rested;
	int             opened;         /* tries, where a test opens it                 */
	int             late_calls;     /* that came after the stop                     */
	int             broken_at;      /* blocks handed over when the trouble began    */
	int             blocks;
	struct delivery block[FAKE_BLOCKS];
	float complex   iq[FAKE_ROOM];
};

/* Its self is a struct fake_source; there is no open. Live: read says SOURCE_LATER,
 * and its descriptor is its place in the clock. */
extern const struct source_ops fake_source_ops;

#endif
