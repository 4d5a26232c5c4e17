#include "tools/sheet.h"

#include "tools/plan/words.h"

#include <inttypes.h>
#include <string.h>

#define ALL_HOURS UINT32_C(0xffffff)

/* How often, between the least and the most looked-at band. */
static void looked_share(FILE *to, const struct census *c)
{
	const struct looked *least = NULL, *most = NULL;
	char from[TIME_TEXT], until[TIME_TEXT], line[400], times[60], every[60] = "";
	bool days = c->end_us - c->start_us >= 24 * HOUR_US;

	for (int b = 0; b < c->bands; b++) {
		const struct looked *l = &c->looked[b];
		if (l->looks == 0)
			continue;
		least = !least || l->looks < least->looks ? l : least;
		most = !most || l->looks > most->looks ? l : most;
	}
	if (!least) {
		sheet_wrap(to, "  ", 2, "No channel was looked at.");
		return;
	}
	snprintf(times, sizeof times, "%" PRId64, least->looks);
	if (most->looks > least->looks)
		snprintf(times, sizeof times, "%" PRId64 " to %" PRId64, least->looks, most->looks);
	if (least->revisit_s > 0)
		snprintf(every, sizeof every, ", every %.2g s on the average", least->revisit_s);
	if (least->revisit_s - most->revisit_s > 0.05 * least->revisit_s)
		snprintf(every, sizeof every, ", every %.2g to %.2g s on the average",
			 most->revisit_s, least->revisit_s);
	snprintf(line, sizeof line, "Each channel was looked at %s times%s, from %s to %s: "
		 "%.2g %% of the time. An over between two looks is missed.", times, every,
		 days ? words_time(from, c->start_us) : words_clock(from, c->start_us),
		 days ? words_time(until, c->end_us) : words_clock(until, c->end_us),
		 c->wall_us > 0 ? 100.0 * (double)least->looked_us / (double)c->wall_us : 0);
	sheet_wrap(to, "  ", 2, line);
}

/* Bands with the same hours share a line; common: those no band was looked at in. */
static void not_looked_in(FILE *to, const struct census *c, int from, uint32_t common)
{
	uint32_t of_day = c->looked[from].of_day;
	char hours[160], when[180] = "never", first[200], line[4000] = "";
	size_t at = 0;

	words_hours(~of_day & ~common & ALL_HOURS, hours, sizeof hours);
	if (of_day)
		snprintf(when, sizeof when, "%s%s", common ? "also " : "", hours);
	snprintf(first, sizeof first, "  %-15s ", when);
	for (int b = from; b < c->bands; b++)
		if (c->looked[b].of_day == of_day && at < sizeof line)
			at += (size_t)snprintf(line + at, sizeof line - at, "%s%s", at ? ", " : "",
					       c->band[b].id);
	sheet_wrap(to, first, 4, line);
}

/* Services that are mostly heard in working hours (common practice). */
static bool is_of_the_day(const char *service)
{
	static const char *const services[] = { "business", "works", "mixed", "school", "bus", "transport" };

	for (size_t i = 0; i < sizeof services / sizeof services[0]; i++)
		if (strcmp(service, services[i]) == 0)
			return true;
	return false;
}

/* After a night these are not quiet but unknown. */
static void unknown_by_day(FILE *to, const struct census *c)
{
	char line[4000];
	size_t at = 0;

	for (int b = 0; b < c->bands; b++)
		if (is_of_the_day(c->band[b].service) && week_work_hours(&c->week[b]) == 0 && at < sizeof line)
			at += (size_t)snprintf(line + at, sizeof line - at, "%s%s", at ? ", " : "",
					       c->band[b].id);
	if (at > 0 && at < sizeof line)
		snprintf(line + at, sizeof line - at, ": services of the day, and in no working hour (Mon-Fri %d-%d h, %s) "
			 "were they looked at.", WEEK_WORK_FROM, WEEK_WORK_TO, c->zone);
	if (at > 0)
		sheet_wrap(to, "  unknown by day  ", 4, line);
}

void sheet_not_looked(FILE *to, const struct census *c)
{
	uint32_t common = ALL_HOURS;
	char hours[160];

	fprintf(to, "\nWHAT WAS NOT LOOKED AT\n");
	looked_share(to, c);
	for (int b = 0; b < c->bands; b++)
		if (c->looked[b].of_day)
			common &= ~c->looked[b].of_day;
	if (common == ALL_HOURS)
		common = 0;
	if (common)
		fprintf(to, "  %-15s %s\n", "all bands", words_hours(common, hours, sizeof hours));
	for (int b = 0; b < c->bands; b++) {
		uint32_t missed = ~c->looked[b].of_day & ~common & ALL_HOURS;
		bool told = missed == 0;
		for (int k = 0; k < b; k++)
			told |= c->looked[k].of_day == c->looked[b].of_day;
		if (!told)
			not_looked_in(to, c, b, common);
	}
	unknown_by_day(to, c);
	sheet_wrap(to, "  ", 2,
	     "Not looked at is not quiet. Users of other hours and other days of the week (buses, schools, "
	     "clubs, works) are not known, not absent. Survey again by day, and on a weekend.");
}
