#ifndef BANDCENSUS_TESTS_DONGLE_DUTY_H
#define BANDCENSUS_TESTS_DONGLE_DUTY_H

#include "tests/test.h"

#include <stdbool.h>

#include "tests/dongle/scene.h"

/* The daemon at work with emulated dongles below the real library: looked at from
 * outside, by its survey, its log and what the dongles count. */
struct duty {
	struct scene scene;
	pid_t        daemon;
	char         survey[128], log[128];
	struct seen  {
		int64_t looked_us, looks;       /* in all hops                          */
		int64_t transmissions, incidents;
		int64_t lost_us;                /* told of in incidents of losing it    */
		int64_t deaf;                   /* incidents of hops that could not be had */
	} seen;                                 /* of the survey, when last looked at   */
	uint64_t    *rows;                      /* fingerprints of its rows that never change, */
	int          n_rows;                    /* ascending                            */
	char         doing[400];                /* said when it fails                   */
	double       away_s;                    /* longest that the daemon did not come to wait */
};

#define DUTY_TOWN SOURCE_ROOT "/tests/data/dongle-witness.conf"

/* One dongle with a crystal 31 ppm high in that town, and machine time that counts for little. */
struct scenario duty_scenario(void);

/* Starts it on these bands ("LOW HIGH" in MHz of 12.5 kHz steps) and waits until the
 * first looks are in the survey. more: further lines of settings. Fails the test when
 * it can't. */
void duty_begin(struct duty *d, const struct scenario *what, const char *source, const char *low,
		const char *high, const char *more);

/* Looks at the survey, and fails the test unless
 *
 *   no row that was there before is gone: transmissions and incidents are the same, one
 *   by one, looks and looked time no less,
 *   the time looked is no longer than what passed, nor than what came by the cable,
 *   and nothing was called quiet that was not looked at: who is always on in DUTY_TOWN,
 *   if that is the scenario's town, was heard in each look at him.
 *
 * Nor may the daemon be away from its waiting for longer than 30 s of real time. */
void duty_look(struct duty *d);

/* Waits, really for real_s at the most, until the log holds so many lines with those words. */
bool duty_says(struct duty *d, const char *words, int times, double real_s);
int duty_said(const struct duty *d, const char *words);

/* The n-th such line, counted from 1; "" when there is none. */
void duty_line(const struct duty *d, const char *words, int n, char *out, size_t size);

/* ... until the survey tells of that much more looked time. */
bool duty_listens(struct duty *d, int64_t more_us, double real_s);

/* For cmocka: *state is a struct duty; whatever a failed test left is ended. */
int duty_create(void **state);
int duty_destroy(void **state);

/* Stops it in order: its exit code, or -1 when it hangs. Looks at
 * the survey for the last time. */
int duty_end(struct duty *d);

#endif
