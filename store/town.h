#ifndef BANDCENSUS_STORE_TOWN_H
#define BANDCENSUS_STORE_TOWN_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "dsp/band.h"
#include "dsp/emission.h"
#include "store/settings.h"

/* An invented place: who transmits where, when and how strongly, what the
 * dongle adds of its own, and what happens in one night. Times "us" here are
 * microseconds since the night began, on a clock that is never stepped. */

enum sender {
	SENDER_EMITTER = 0,     /* somebody's transmitter                             */
	SENDER_BIRDIE,          /* made inside the dongle: follows its crystal        */
	SENDER_NOISE,           /* somebody's bad power supply                        */
	SENDER_GHOST,           /* 2 * parent - other, made in an overloaded tuner    */
	SENDER_COUNT
};

enum spoken {
	SPOKEN_EXPONENTIAL = 0, /* over lengths                                       */
	SPOKEN_LOGNORMAL,       /* standard deviation 0.7 of the mean                 */
	SPOKEN_FIXED
};

struct emitter {
	enum sender role;
	char        name[48];
	char        service[24];
	struct freq frequency;
	struct freq step;               /* of the raster it sits on; 0: its width     */
	int         mode;               /* enum mode                                  */
	int         kind;               /* enum kind                                  */
	struct freq width;              /* occupied                                   */
	double      level_dbm;          /* median at the socket; AM: of the carrier   */
	double      tone_hz;            /* CTCSS; 0: none                             */
	int32_t     symbols;            /* data: frequencies it is keyed between, 2 or 4 */
	int64_t     over_us, gap_us;    /* means                                      */
	double      rate;               /* overs in a busy hour                       */
	char        busy[48];           /* "07-10+16-22"                              */
	uint32_t    hours;              /* the same, bit n for n:00 to n+1:00         */
	double      exchange;           /* overs in one, mean                         */
	double      quiet;              /* rate in other hours over that in busy ones */
	double      spread_db;          /* of the level from over to over, one sigma  */
	int         lengths;            /* enum spoken                                */
	int64_t     hang_us;
	int64_t     period_us;          /* 0: at random                               */
	bool        continuous;
	bool        weekdays;           /* not on Saturday and Sunday                 */
	char        parent[48];         /* talkers that key it key this one too       */
	char        other[48];          /* SENDER_GHOST                                 */
	char        answers_to[48];     /* speaks in its gaps                         */
	double      chance;             /* that an over of the other brings one here  */
	double      drift_hz;           /* an hour                                    */
	double      wander_hz;          /* random walk between these limits           */
	int         parent_at, other_at, answers_at;    /* indices; -1: none          */
};

enum event_kind {
	EVENT_ONLY = 0,         /* emitter is heard from .. until only, and surely    */
	EVENT_RATE,             /* emitter's rate times factor                        */
	EVENT_OVER,             /* one over of emitter's, unbroken                    */
	EVENT_NOISE,            /* the noise rises between low and high               */
	EVENT_CLICKS,           /* broadband bursts, so many a minute                 */
	EVENT_LOST,             /* the dongle drops off the bus                       */
	EVENT_CLOCK             /* the computer's clock is stepped                    */
};

struct event {
	int         what;               /* enum event_kind                            */
	char        from[8], until[8];  /* "21:40"                                    */
	int64_t     from_us, until_us;
	char        emitter[48];
	int         emitter_at;         /* -1: none                                   */
	double      factor, per_minute, rise_db, step_s;
	struct freq low, high;
};

extern const struct field town_fields[];

struct town {
	char            name[64];
	char            start[32];      /* "2026-02-17T20:00:00Z"                     */
	int64_t         start_us;       /* the same, UTC                              */
	int64_t         length_us;
	int64_t         retune_us;      /* what a change of tuning costs              */
	double          noise_dbm;      /* in 12.5 kHz at the socket                  */
	double          error_ppm;      /* of transmitters, one sigma                 */
	double          crystal_ppm;    /* the dongle's, for ever                     */
	double          cold_ppm, warm_ppm;     /* on top of that: at start, later    */
	int64_t         warm_up_us;
	struct emitter *emitters;
	int             n_emitters;
	struct event   *events;
	int             n_events;
};

/* -1 with FILE:LINE in why. Owned until town_free. */
int town_read(const char *path, struct town *out, struct fault *why);
void town_free(struct town *t);

/* Lets the run begin at another time, "2026-02-22T20:00:00Z": weekdays go by it, and events keep
 * their times of day. One that is under way then begins with the run. -1: that is no time; the
 * complaint begins with said. */
int town_move(struct town *t, const char *start, const char *said, struct fault *why);

/* The first "21:40" at or after the start; -1: that is no time. */
int64_t town_at(const struct town *t, const char *clock);

/* Index of the emitter of that name; -1: none. */
int town_emitter(const struct town *t, const char *name);

/* Whether the emitter is silent that day: on Saturdays and Sundays, if it is said to be. */
bool town_day_off(const struct town *t, const struct emitter *e, int64_t us);

/* Whether an instant lies in the emitter's busy hours, on a day that is not off. */
bool town_busy(const struct town *t, const struct emitter *e, int64_t us);

/* How far the dongle's crystal is off, + is high. */
double town_crystal_ppm(const struct town *t, int64_t us);

/* How far the noise at hz stands above the usual, in dB; beside a stretch that
 * is raised it falls off over 1.2 MHz. */
double town_rise_db(const struct town *t, double hz, int64_t us);

/* What the computer's clock says, UTC. */
int64_t town_clock_us(const struct town *t, int64_t us);

/* The event of that kind under way somewhere in [from, to); NULL: none. */
const struct event *town_event(const struct town *t, enum event_kind what, int64_t from,
			       int64_t to);

/* The level of noise in an emitter's measured width: 0.6 of its step or width,
 * whichever is wider. */
double town_noise_dbm(const struct town *t, const struct emitter *e, int64_t us);

#endif
