#include "tools/sheet.h"

#include "tools/plan/occupancy.h"
#include "tools/plan/words.h"

#include <inttypes.h>
#include <string.h>

#define ALL_HOURS UINT32_C(0xffffff)

/* How often, between the least and the most looked-at band. */
static void looked_share(const struct saying *to, const struct census *c)
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
		to->say(to->self, NULL, "No channel was looked at.");
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
	snprintf(line, sizeof line,
		 "Each channel was looked at %s times%s, from %s to %s: "
		 "%.2g %% of the time. An over between two looks is missed.",
		 times, every,
		 days ? words_local(from, c, c->start_us) :
			words_clock(from, census_local_us(c, c->start_us)),
		 days ? words_local(until, c, c->end_us) :
			words_clock(until, census_local_us(c, c->end_us)),
		 c->wall_us > 0 ? 100.0 * (double)least->looked_us / (double)c->wall_us : 0);
	to->say(to->self, NULL, line);
}

/* Hours of the day that were looked at on any day. */
static uint32_t of_day(const struct census *c, int band)
{
	return week_hours_in(&c->week[band], -1, WEEK_QUIET);
}

/* A list of bands in one line; what is said of each stands behind its name. */
struct listing {
	char   text[4000];
	size_t at;
};

static void list(struct listing *l, const char *id, const char *more)
{
	int n = snprintf(l->text + l->at, sizeof l->text - l->at, "%s%s%s", l->at ? ", " : "", id,
			 more);

	if ((size_t)n < sizeof l->text - l->at)
		l->at += (size_t)n;
	else
		l->text[l->at] = '\0';
}

/* Bands with the same hours share a line; common: those no band was looked at in. */
static void not_looked_in(const struct saying *to, const struct census *c, int from,
			  uint32_t common)
{
	uint32_t looked = of_day(c, from);
	char hours[160], when[180] = "never";
	struct listing bands = { .at = 0 };

	words_hours(~looked & ~common & ALL_HOURS, hours, sizeof hours);
	if (looked)
		snprintf(when, sizeof when, "%s%s", common ? "also " : "", hours);
	for (int b = from; b < c->bands; b++)
		if (of_day(c, b) == looked)
			list(&bands, c->band[b].id, "");
	to->say(to->self, when, bands.text);
}

static void hours_of_day(const struct saying *to, const struct census *c)
{
	uint32_t common = ALL_HOURS;
	char hours[160];

	for (int b = 0; b < c->bands; b++)
		if (of_day(c, b))
			common &= ~of_day(c, b);
	if (common == ALL_HOURS)
		common = 0;
	if (common)
		to->say(to->self, "all bands", words_hours(common, hours, sizeof hours));
	for (int b = 0; b < c->bands; b++) {
		bool told = (~of_day(c, b) & ~common & ALL_HOURS) == 0;
		for (int k = 0; k < b; k++)
			told |= of_day(c, k) == of_day(c, b);
		if (!told)
			not_looked_in(to, c, b, common);
	}
}

/* ---- what is not known ---- */

/* How much of the week, and which of its days not at all. */
static void of_the_week(const struct saying *to, const struct unknown *u)
{
	int least = WEEK_HOURS, most = 0;
	bool any[DAY_KINDS] = { false };
	char line[300], hours[40];
	int n;

	for (int b = 0; b < u->bands; b++) {
		least = u->band[b].hours < least ? u->band[b].hours : least;
		most = u->band[b].hours > most ? u->band[b].hours : most;
		for (enum day_kind k = 0; k < DAY_KINDS; k++)
			any[k] |= u->band[b].days[k];
	}
	if (most == 0)
		return;
	snprintf(hours, sizeof hours, least < most ? "%d to %d" : "%d", least, most);
	n = snprintf(line, sizeof line, "%s of %d hours", hours, WEEK_HOURS);
	for (enum day_kind k = 0, first = 1; k < DAY_KINDS; k++)
		if (!any[k]) {
			n += snprintf(line + n, sizeof line - (size_t)n, "%s %s",
				      first ? ", none on" : " or", day_kind_name(k));
			first = 0;
		}
	snprintf(line + n, sizeof line - (size_t)n,
		 ". Not known of what you want, by weight and by when it is "
		 "usual: %.0f %%",
		 100 * u->share);
	to->say(to->self, "of the week", line);
}

/* After a night these are not quiet but unknown. */
static void by_day(const struct saying *to, const struct census *c, const struct unknown *u)
{
	struct listing bands = { .at = 0 };
	char line[sizeof bands.text + 160];

	for (int b = 0; b < u->bands; b++)
		if (u->band[b].by_day)
			list(&bands, c->band[b].id, "");
	if (bands.at == 0)
		return;
	snprintf(line, sizeof line,
		 "%s: services of the day, and in no working hour (Mon-Fri %d-%d h, %s) "
		 "were they looked at.",
		 bands.text, WEEK_WORK_FROM, WEEK_WORK_TO, c->zone);
	to->say(to->self, "unknown by day", line);
}

/* Nothing heard is an upper bound. */
static void none_heard(const struct saying *to, const struct census *c, const struct unknown *u)
{
	struct listing bands = { .at = 0 };
	char line[sizeof bands.text + 160], most[32];

	for (int b = 0; b < u->bands; b++) {
		const struct unknown_band *k = &u->band[b];
		if (!k->nothing || k->by_day || k->deaf || c->looked[b].looks == 0)
			continue;
		snprintf(most, sizeof most, " < %.2g/h", k->none_h);
		list(&bands, c->band[b].id, most);
	}
	if (bands.at == 0)
		return;
	snprintf(line, sizeof line,
		 "%s: fewer overs of %g s than that on any channel, in the hours "
		 "looked at (95 %%).",
		 bands.text, OCCUPANCY_OVER_S);
	to->say(to->self, "none heard", line);
}

/* What the antenna does not bring is not quiet. */
static void deaf_here(const struct saying *to, const struct census *c, const struct unknown *u)
{
	struct listing bands = { .at = 0 };
	char line[sizeof bands.text + 160];

	for (int b = 0; b < u->bands; b++)
		if (u->band[b].deaf)
			list(&bands, c->band[b].id, "");
	if (bands.at == 0)
		return;
	snprintf(line, sizeof line,
		 "%s: no station, and no more noise than with the antenna off (within "
		 "%g dB): the antenna brings nothing from there.",
		 bands.text, DEAF_DB);
	to->say(to->self, "deaf here", line);
}

static void survey_next(const struct saying *to, const struct unknown *u)
{
	char words[NEXT_TEXT], line[NEXT_TEXT + 60];

	for (int i = 0; i < u->blocks; i++) {
		snprintf(line, sizeof line, "%s (%.0f %% of what is not known)",
			 unknown_next_words(&u->next[i], words), 100 * u->next[i].tells);
		to->say(to->self, i ? "" : "survey next", line);
	}
}

void say_not_looked(const struct saying *to, const struct census *c, const struct unknown *u)
{
	looked_share(to, c);
	hours_of_day(to, c);
	of_the_week(to, u);
	by_day(to, c, u);
	none_heard(to, c, u);
	deaf_here(to, c, u);
	survey_next(to, u);
	to->say(to->self, NULL,
		"Not looked at is not quiet. Users of other hours and other days of the week (buses, schools, "
		"clubs, works) are not known, not absent.");
}

static void print(void *self, const char *label, const char *text)
{
	char first[200] = "  ";

	if (label)
		snprintf(first, sizeof first, "  %-15s ", label);
	sheet_wrap(self, first, !label ? 2 : label[0] ? 4 : 20, text);
}

void sheet_not_looked(FILE *to, const struct census *c, const struct unknown *u)
{
	const struct saying printed = { print, to };

	fprintf(to, "\nWHAT WAS NOT LOOKED AT\n");
	say_not_looked(&printed, c, u);
}
