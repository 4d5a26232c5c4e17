#include "daemon/growth.h"

#include <math.h>

#define DAY_US    (24 * HOUR_US)
#define YEAR_DAYS 365.0
#define WEEK_DAYS 7.0

/* By tests/bench/sizes.sh: nights of 12 hours in Harlow Ferry, of all bands and of some, without
 * rests and with such of up to 1190 s. Between what all bands and what the quiet ones gave. */
#define START         50e3      /* a page or more for each table                                 */
#define RUN           30e3      /* with settings and a band plan of the usual length             */
#define SPAN_HOUR     60.0      /* its row of coverage, and of parks                             */
#define CHANNEL_HOUR  0.5       /* of its strip                                                  */
#define ROW           36.0      /* of activity: an hour in which a channel was busy or blinded   */
#define OVER          106.0     /* with its place in the index                                   */

/* Of a channel in use, in such nights. */
#define USED_ROWS     15.0      /* an hour, its own and of those that it blinds                  */
#define USED_ON       0.1       /* is on at a time                                               */
#define USED_OVERS    7.0       /* an hour, where looks follow each other                        */

/* Few looks see few of the hours in which a channel is on: with so many an hour half of them. */
#define HALF_ROWS     7.0

/* Accounts joined by the day come to so many hours' with each of its channels seen: a night lies in
 * two days of UTC, and in a day more channels are on than in an hour. By `bandcensus thin`, which left
 * 2.2 hours' of such a night. */
#define DAY_HOURS     2.0

struct growth growth_of(int channels, int spans, const struct looking *l)
{
	double used = (double)channels / GROWTH_IN_USE;
	double rows = l->looks / (l->looks + HALF_ROWS);

	return (struct growth){
		.start = START,
		.run = RUN,
		.strips = CHANNEL_HOUR * channels,
		.accounts = SPAN_HOUR * spans + ROW * USED_ROWS * used * rows,
		.day_of_accounts = DAY_HOURS * (SPAN_HOUR * spans + ROW * USED_ROWS * used),
		.overs = OVER * used * (USED_ON * l->spells + USED_OVERS * l->followed),
	};
}

double growth_bytes(const struct growth *g, double runs, double hours)
{
	return g->start + runs * g->run + hours * (g->strips + g->accounts + g->overs);
}

/* Share of a year that is kept. */
static double kept(int64_t keep_us)
{
	return keep_us ? fmin(1, (double)keep_us / DAY_US / YEAR_DAYS) : 1;
}

double growth_year(const struct growth *g, double runs, double hours, const struct keep *keep)
{
	double by_hour = kept(keep->hours_us), days = fmax(runs, hours / 24);
	double accounts = by_hour * hours * g->accounts + (1 - by_hour) * days * g->day_of_accounts;
	double overs = kept(keep->overs_us) * hours * g->overs;
	double week = runs * g->run + hours * g->strips + accounts + overs;

	return g->start + YEAR_DAYS / WEEK_DAYS * week;
}
