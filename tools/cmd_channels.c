#include "tools/verbs.h"
#include "tools/export.h"
#include "tools/night.h"
#include "tools/plan/words.h"
#include "tools/telling.h"

#include <stdio.h>
#include <stdlib.h>

/* Busiest first, then up in frequency. */
static int by_use(const void *a, const void *b)
{
	const struct channel *const *x = a, *const *y = b;

	if ((*x)->overs != (*y)->overs)
		return (*y)->overs - (*x)->overs;
	return (*x)->channel - (*y)->channel;
}

static void line(const struct told *t, const struct channel *ch)
{
	const struct suspect *s = &t->suspect[ch - t->census->channel];
	char mhz[FREQ_TEXT], from[8], to[8], nature[NATURE_TEXT], listed[LISTED_TEXT],
		guess[GUESS_WORDS];
	char use[TRAFFIC_TEXT], pair[PAIR_TEXT];
	struct guess g[GUESSES];

	printf("  %-11s %6d %7.2f %6.2f-%-6.2f %5.1f %5.1f %6.2f %-7s  %s-%s  %s\n",
	       freq_format_mhz(mhz, ch->centre), ch->overs, 100 * ch->occupancy,
	       100 * ch->likely.low, 100 * ch->likely.high, ch->level_db, ch->peak_db,
	       ch->offset_hz / 1e3, kind_name(ch->kind),
	       ch->overs ? words_clock(from, ch->first_us) : "--:--",
	       ch->overs ? words_clock(to, ch->last_us) : "--:--",
	       s->is ? suspicion_name(s->is) : "");
	if (*nature_words(&ch->nature, nature, sizeof nature))
		printf("    %s\n", nature);
	if (*traffic_words(&ch->traffic, use, sizeof use))
		printf("    %s\n", use);
	if (*pair_evidence(t->census, (int)(ch - t->census->channel), pair, sizeof pair))
		printf("    %s\n", pair);
	else if (*speakers_words(channel_speakers(ch)))
		printf("    %s\n", speakers_words(channel_speakers(ch)));
	int n = told_guess(t, (int)(ch - t->census->channel), g);
	/* The band plan's word alone stands above. */
	if (n > 1)
		printf("    %s\n", guess_words(g, n, guess));
	if (*licences_words(t->licences, ch->centre, t->census->band[ch->band].raster.step, listed))
		printf("    listed: %s\n", listed);
}

static int table(const struct told *t)
{
	const struct census *c = t->census;
	const struct channel **at = calloc((size_t)c->channels + 1, sizeof *at);
	if (!at)
		return -1;
	for (int b = 0; b < c->bands; b++) {
		int n = 0;
		for (int i = 0; i < c->channels; i++)
			if (c->channel[i].band == b && c->channel[i].overs >= t->min_overs)
				at[n++] = &c->channel[i];
		if (n == 0)
			continue;
		qsort(at, (size_t)n, sizeof *at, by_use);
		printf("%s (%s, %s): %d\n", c->band[b].name, c->band[b].id,
		       mode_name(c->band[b].mode), n);
		printf("  MHz          overs  busy %%  likely %%     level  peak off kHz kind     UTC\n");
		for (int i = 0; i < n; i++)
			line(t, at[i]);
		printf("\n");
	}
	free(at);
	return 0;
}

int verb_channels(const struct choice *o)
{
	struct fault why = { 0 };
	struct census *c = NULL;
	struct suspect *s = NULL;
	struct licences l = { 0 };
	struct interests i = { 0 };
	int code;

	if (o->licences && licences_read(o->licences, &l, &why) < 0)
		return command_fail(&why);
	c = night_read(o->file[0], &o->night, &why);
	s = c && census_traffic(c) == 0 && interests_default(&i) == 0 ? suspect_all(c) : NULL;
	const struct told t = { c, s, &i, &l, (int)o->min_overs };
	int done = s ? telling(o, NULL, tell_channels, &t) : -1;
	if (done > 0)
		done = table(&t);
	if (!c) {
		code = command_fail(&why);
	} else if (done < 0) {
		fault_set(&why, FAULT_FATAL, "%s: no memory", o->file[0]);
		code = command_fail(&why);
	} else {
		code = command_end();
	}
	free(s);
	census_destroy(c);
	licences_free(&l);
	interests_free(&i);
	return code;
}
