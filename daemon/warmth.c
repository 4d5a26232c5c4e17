#include "daemon/warmth.h"

#include "daemon/log.h"

#define COOLED_US 600000000     /* away for so long a crystal is cold again */

int64_t warmth_first_us(const struct station *st, const struct source_about *about)
{
	return about->tunable ? st->warm_up_us : 0;
}

int64_t warmth_again_us(const struct station *st, int64_t away_us)
{
	if (away_us < COOLED_US)
		return 0;
	return away_us < st->warm_up_us ? away_us : st->warm_up_us;
}

int64_t warmth_rest_us(const struct station *st, int64_t sweeps, int64_t *rested)
{
	if (st->rest_us == 0 || sweeps == *rested || sweeps % st->sweeps_per_spell != 0)
		return 0;
	*rested = sweeps;
	return st->rest_us;
}

void warmth_told(struct ledger *l, int64_t now_us, int64_t us, const char *before)
{
	log_line(LOG_INFO, "warming up: minutes=%.0f", (double)us / 60e6);
	ledger_incident(l, "warm-up", now_us, now_us + us,
			"the crystal warmed up for %.0f min before %s", (double)us / 60e6, before);
}
