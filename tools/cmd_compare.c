#include "tools/verbs.h"
#include "tools/export.h"
#include "tools/night.h"
#include "tools/plan/words.h"
#include "tools/telling.h"

#include <math.h>
#include <stdio.h>

/* What a list of changes is headed by. */
static const char *const heads[CHANGE_COUNT] = {
	[CHANGE_NEW] = "NEW: heard in the second only",
	[CHANGE_GONE] = "GONE: heard in the first only",
	[CHANGE_BUSIER] = "BUSIER in the second",
	[CHANGE_QUIETER] = "QUIETER in the second",
	[CHANGE_KIND] = "ANOTHER KIND of emission",
	[CHANGE_TONE] = "ANOTHER TONE",
	[CHANGE_OPEN] =
		"NOT ENOUGH LOOKED: heard in one, and its absence in the other may be chance",
	[CHANGE_NOT_LOOKED] = "NOT LOOKED: heard in one, where or when the other did not look",
};

/* By hours, where it is known how long an exchange is; else by looks. */
static void in_words(const struct difference *d, const struct side *s, char out[24])
{
	bool known = d->side[0].length_s.high > 0 || d->side[1].length_s.high > 0;

	if (known && s->hours >= 0.005)
		snprintf(out, 24, "%.2f h", s->hours);
	else
		snprintf(out, 24, "%.0f look%s", s->looks, s->looks == 1 ? "" : "s");
}

/* What one side met. What it did not look at is not told as nothing met. */
static void side_words(const struct difference *d, const struct side *s, char out[40])
{
	char in[24];

	in_words(d, s, in);
	if (s->looks <= 0)
		snprintf(out, 40, "%s", s->blind > 0 ? "not to be judged" : "not looked at");
	else if (s->busy > 0 && s->exchanges == 0)
		snprintf(out, 40, "on in %.2f %%", 100 * s->busy / s->looks);
	else if (s->busy > 0)
		snprintf(out, 40, "%d in %s %5.2f %%", s->exchanges, in, 100 * s->busy / s->looks);
	else if (s->channel >= 0)
		snprintf(out, 40, "%s", s->overs > 0 ? "in parks alone" : "at other hours alone");
	else
		snprintf(out, 40, "none in %s", in);
}

/* Two figures of it that count. */
static const char *two(double times, char out[16])
{
	snprintf(out, 16, times < 99.5 ? "%.2g" : "%.0f", fmin(times, 1e9));
	return out;
}

static void times_words(const struct interval *times, char out[40])
{
	char low[16], high[16];

	two(times->low, low);
	two(times->high, high);
	if (times->low > 0 && isfinite(times->high))
		snprintf(out, 40, "x %s-%s", low, high);
	else if (times->low > 0)
		snprintf(out, 40, "x over %s", low);
	else if (isfinite(times->high))
		snprintf(out, 40, "x under %s", high);
}

static void p_words(const struct difference *d, char out[24])
{
	if (d->by_occupancy)
		snprintf(out, 24, d->p < 0.5 ? "apart" : "not apart");
	else
		snprintf(out, 24, d->p < 1e-6 ? "p < 1e-6" : "p %.2g", d->p);
}

static void line(const struct comparison *c, const struct difference *d)
{
	char mhz[FREQ_TEXT], first[40], second[40], times[40] = "", p[24] = "";

	side_words(d, &d->side[0], first);
	side_words(d, &d->side[1], second);
	if (d->is != CHANGE_NOT_LOOKED)
		times_words(&d->times, times);
	if (d->is < CHANGE_KIND || d->is == CHANGE_OPEN)
		p_words(d, p);
	if (d->was[0])
		printf("  %-11s %-16s %s before, %s now\n", freq_format_mhz(mhz, d->centre),
		       c->census[d->second]->band[d->band].id, d->was, d->now);
	else
		printf("  %-11s %-16s %22s  %22s  %-14s %s\n", freq_format_mhz(mhz, d->centre),
		       c->census[d->second]->band[d->band].id, first, second, times, p);
}

static void same_hours(const struct comparison *c)
{
	char hours[160];

	if (c->hours == 0) {
		printf("no hour of the week or of the day was looked at in both\n");
		return;
	}
	printf("hours of the %s that both looked at, %s:\n", c->of_week ? "week" : "day",
	       c->census[0]->zone);
	for (int d = 0; d < (c->of_week ? 7 : 1); d++) {
		uint32_t bits = 0;
		for (int h = 0; h < DAY_HOURS; h++)
			bits |= (uint32_t)c->counts[d * DAY_HOURS + h] << h;
		if (bits)
			printf("  %s%s%s\n", c->of_week ? week_day_name(d) : "",
			       c->of_week ? " " : "", words_hours(bits, hours, sizeof hours));
	}
}

static int table(const struct comparison *c, char **file)
{
	printf("first  %s\nsecond %s\n", file[0], file[1]);
	same_hours(c);
	printf("%d channel%s tested, p below %g after Holm's correction; %d show no difference\n",
	       c->tests, c->tests == 1 ? "" : "s", COMPARE_P, c->alike);
	for (int i = 0; i < c->n; i++) {
		if (i == 0 || c->of[i].is != c->of[i - 1].is)
			printf("\n%s\n", heads[c->of[i].is]);
		line(c, &c->of[i]);
	}
	printf("\nCounts are exchanges in the hours in which each survey would have met one, and %% the share of\n"
	       "its looks that were busy; x is how much more it is on in the second, 95 %%. What is on most of\n"
	       "the time is judged by whether the intervals of its occupancy are apart. None met does not mean\n"
	       "off: x says how much it may be on.\n");
	return 0;
}

int verb_compare(const struct choice *o)
{
	struct night_wants wants = o->night;
	struct fault why = { 0 };
	struct comparison c = { 0 };
	struct census *first = NULL, *second = NULL;
	int code;

	wants.hourly = true;
	first = night_read(o->file[0], &wants, &why);
	second = first ? night_read(o->file[1], &wants, &why) : NULL;
	if (!second) {
		code = command_fail(&why);
		goto out;
	}
	int done = compare(first, second, &c) < 0 ? -1 :
						    telling(o, "differences", tell_comparison, &c);
	if (done > 0)
		done = table(&c, o->file);
	if (done < 0) {
		fault_set(&why, FAULT_FATAL, "%s: no memory", o->file[0]);
		code = command_fail(&why);
	} else {
		code = command_end();
	}
out:
	comparison_free(&c);
	census_destroy(first);
	census_destroy(second);
	return code;
}
