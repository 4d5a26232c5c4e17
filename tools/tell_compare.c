#include "tools/export.h"

#include <math.h>

static void side(struct teller *t, const char *name, const struct side *s, const char *meaning)
{
	tell_open(t, name, true, meaning);
	tell_yes(t, "heard", s->channel >= 0, "heard at all");
	tell_whole(t, "exchanges", s->exchanges, "in the hours that count");
	tell_real(t, "hours", s->hours, 3, "in which they would have been seen");
	tell_whole(t, "looks", llround(s->looks), "that could judge it; 0: none did");
	tell_figure(t, "busy_share", s->looks > 0 ? s->busy / s->looks : NAN,
		    "of its looks, that were busy");
	tell_close(t);
}

static void difference(struct teller *t, const struct comparison *c, const struct difference *d,
		       bool any)
{
	tell_text(t, "band", any ? c->census[d->second]->band[d->band].id : "", "id of the band");
	tell_freq(t, "frequency_hz", d->centre, "the channel's centre");
	tell_text(t, "change", change_name(d->is),
		  "new, gone, busier, quieter, kind, tone, not enough looked, not looked");
	side(t, "first", &d->side[0], "in the first survey");
	side(t, "second", &d->side[1], "in the second survey");
	tell_figure(t, "p", d->by_occupancy ? NAN : d->p,
		    "of the exact test; 1: none was made; not known: on most of the time, judged by its occupancy");
	tell_real(t, "times_low", d->times.low, 3,
		  "share of the time on in the second over that in the first: not below (95 %)");
	tell_real(t, "times_high", d->times.high, 3, "nor above; not known: without bound");
	tell_text(t, "was", d->was, "kind or tone in the first");
	tell_text(t, "now", d->now, "kind or tone in the second");
}

void tell_comparison(struct teller *t, const void *comparison)
{
	static const struct difference nothing;
	const struct comparison *c = comparison;
	int64_t hour[WEEK_HOURS];
	int hours = 0;

	for (int h = 0; h < WEEK_HOURS; h++)
		if (c->counts[h])
			hour[hours++] = h;
	tell_open(t, NULL, true, "");
	tell_text(t, "zone", c->census[0]->zone, "whose hours these are");
	tell_text(t, "hours_of", c->of_week ? "week" : "day",
		  "hours of the week, from Monday 0, or of the day");
	tell_wholes(t, "hours", hour, hours, "that both looked at");
	tell_whole(t, "tests", c->tests, "channels tested");
	tell_real(t, "p_needed", COMPARE_P, 6, "for the least p of all; Holm's correction follows");
	tell_whole(t, "alike", c->alike, "channels that show no difference");
	tell_list(t, "differences", "by kind of change, then up in frequency");
	for (int i = 0; tell_more(t, i, c->n); i++)
		difference(t, c, i < c->n ? &c->of[i] : &nothing, i < c->n);
	tell_close(t);
}
