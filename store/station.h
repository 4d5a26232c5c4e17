#ifndef BANDCENSUS_STORE_STATION_H
#define BANDCENSUS_STORE_STATION_H

#include "dsp/band.h"
#include "store/settings.h"

/* The daemon's settings file (kind = "daemon"). */
struct station {
	char         kind[16];
	char         name[64];          /* of the place, for the survey                */
	char         band_plan[200];    /* file; beside this one unless absolute       */
	struct texts survey;            /* ids or services of its bands; none: all     */
	char         hours[16];         /* of watch, local time; "": always            */
	struct texts days;              /* on which it begins; none: every day         */
	double       rate_msps;
	double       gain_db;
	double       ppm;
	bool         bias_tee;          /* feed the antenna through its socket         */
	bool         track;             /* follow the crystal through the night        */
	struct freqs references;        /* carriers known to be on the air             */
	int64_t      dwell_us;
	double       false_alarm;       /* per look and channel                        */
	double       margin_db;
	int64_t      hang_us;
	int64_t      warm_up_us;
	int32_t      sweeps_per_spell;
	int64_t      rest_us;           /* after each spell; 0: no rest                */
	int64_t      commit_us;
	int64_t      keep_minutes_us;   /* see struct keep in store/thin.h             */
	int64_t      keep_strips_us, keep_overs_us, keep_hours_us;
	int64_t      revisit_us;        /* 0: two sweeps and a park                    */
	int64_t      park_us;
	double       park_share;        /* of the time that sweeps leave               */
	double       challenge_share;
};

extern const struct field station_fields[];

/* path NULL: presets alone. Fills out, owned until station_free. */
int station_read(const char *path, struct station *out, struct fault *why);
void station_free(struct station *s);

/* The bands that the station's list chooses from its plan, in a new array;
 * -1 with why when a name in the list is neither an id nor a service there. */
int station_bands(const struct station *s, const char *path, struct band **bands, int *n,
		  struct fault *why);

#endif
