#ifndef BANDCENSUS_TOOLS_PLAN_UNKNOWN_H
#define BANDCENSUS_TOOLS_PLAN_UNKNOWN_H

#include "tools/plan/census.h"
#include "tools/plan/interests.h"
#include "tools/plan/suspect.h"

/* What a survey does not know, and when to survey next. Hours are those of the week in the
 * place's time (tools/plan/week.h). Pure, and the same for the same census. */

/* Days that are alike. */
enum day_kind { DAY_WEEK = 0, DAY_SATURDAY, DAY_SUNDAY, DAY_KINDS };

/* "a weekday", "a Saturday", "a Sunday" */
const char *day_kind_name(enum day_kind k);

/* A day's first and last; Monday is 0. */
void day_kind_days(enum day_kind k, int *first, int *last);

struct unknown_band {
	int     hours;                  /* of the 168 of the week that were looked at          */
	bool    days[DAY_KINDS];        /* on any such day                                      */
	bool    by_day;                 /* a service of the day, and no working hour looked at: */
					/* that little was heard tells nothing                  */
	double  known;                  /* share of what its service says in a week, by habit,  */
					/* that falls in hours looked at: 0 .. 1                */
	bool    nothing;                /* no station was heard                                 */
	bool    deaf;                   /* nor is the noise higher than with the antenna off    */
	double  none_h;                 /* then: fewer overs of OCCUPANCY_OVER_S an hour than   */
					/* this on any channel of it, in such hours (95 %);     */
					/* INFINITY where nobody looked                         */
};

#define NEXT_HOURS    4             /* a survey that somebody has the patience for */
#define NEXT_BLOCKS   3
#define NEXT_SERVICES 4

/* Hours to survey next. */
struct next_hours {
	enum day_kind on;
	int           from;             /* the hour it begins; NEXT_HOURS long              */
	double        tells;            /* share of all that is not known, by weight        */
	const struct interest *of[NEXT_SERVICES];       /* of whose week it tells most, most first; */
	int           services;                         /* borrowed from the interests              */
};

struct unknown {
	struct unknown_band *band;      /* one a band                                       */
	int                  bands;
	double               share;     /* of what is wanted, by weight and habit: 0 .. 1   */
	struct next_hours         next[NEXT_BLOCKS];         /* what tells most first            */
	int                  blocks;
};

/* Which hours tell most: each hour of each service counts by the service's weight and by how
 * much of its week is usual in that hour (a table of habits: common practice), on the days of
 * that kind together. What is not known of an hour after k such days were looked at is
 * 1 / (1 + k) of it: one weekday tells half of what weekdays are like. Bands of one service
 * share its weight. Blocks do not overlap; each counts as looked at for the next.
 * -1: no memory. */
int unknown_find(const struct census *c, const struct suspect *s, const struct interests *i,
		 struct unknown *out);
void unknown_free(struct unknown *u);

/* Whether the band's service is heard by day and nobody looked in a working hour. */
bool unknown_by_day(const struct census *c, int band);

/* Whether the antenna brings nothing from there: no station, and the noise less than DEAF_DB
 * over that with the antenna off (common practice). That is not quiet. false, too, where
 * nobody looked with the antenna off. s NULL: all that was heard are stations. */
#define DEAF_DB 1.0
bool unknown_deaf(const struct census *c, const struct suspect *s, int band);

/* Which share of what the service says in a week is usual in each of its hours; sums up to 1. */
void unknown_habit(const char *service, double share[]);        /* WEEK_HOURS of them */

/* "a weekday 08:00-12:00 would tell most: business, public works". */
#define NEXT_TEXT 200
char *unknown_next_words(const struct next_hours *b, char out[NEXT_TEXT]);

#endif
