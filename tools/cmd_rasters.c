#include "tools/verbs.h"
#include "tools/export.h"
#include "tools/night.h"
#include "tools/telling.h"

#include <stdio.h>
#include <stdlib.h>

static const char *odds_text(char out[24], const struct raster_told *t)
{
	if (t->verdict.word == SPACING_TOO_FEW)
		return "-";
	snprintf(out, 24, "%.2g:1", t->verdict.odds);
	return out;
}

static void line(const struct band *b, const struct raster_told *t)
{
	char surveyed[SPACING_TEXT], best[SPACING_TEXT] = "-", odds[24];

	if (t->verdict.word != SPACING_TOO_FEW)
		rasters_spacing_words(&t->verdict.best, best);
	printf("%-16s %-18s %-18s %10s %4d of %-4d %s\n", b->id,
	       rasters_spacing_words(&t->surveyed, surveyed), best, odds_text(odds, t),
	       t->verdict.agree, t->heard, raster_word_name(t->word));
}

static void point_out(const struct band *b, const struct raster_told *t)
{
	char words[300], mended[RASTER_LINE_TEXT];

	printf("\n%s (%s): %s. Its line in the band plan file should be\n\n\t%s,\n", b->name, b->id,
	       rasters_words(t, words, sizeof words), rasters_line(b, t, mended));
}

static int table(const struct census *c, const struct raster_told *t)
{
	int wrong = 0;

	printf("band             surveyed on        best guess               odds  centres    verdict\n");
	for (int b = 0; b < c->bands; b++) {
		line(&c->band[b], &t[b]);
		wrong += t[b].word == RASTER_WRONG;
	}
	printf("\nA raster is told from the centres of the stations heard. Odds are for the best guess against\n"
	       "all others together; below 100 to 1 it is not sure, and with two centres never. \"12.5 kHz + 6.25\":\n"
	       "whole multiples of 12.5 kHz, and 6.25 more. \"fits\": surveyed on a finer one that has all its channels.\n"
	       "\"doubtful\": not the one surveyed, but which one is not sure.\n");
	for (int b = 0; b < c->bands; b++)
		if (t[b].word == RASTER_WRONG)
			point_out(&c->band[b], &t[b]);
	if (wrong == 0)
		printf("\nno band is known to be surveyed on a wrong raster\n");
	else
		printf("\nThe frequencies of %s band%s above are wrong in this survey, and in plans made of it.\n",
		       wrong == 1 ? "this" : "these", wrong == 1 ? "" : "s");
	return 0;
}

int verb_rasters(const struct choice *o)
{
	struct fault why = { 0 };
	struct census *c = NULL;
	struct suspect *s = NULL;
	struct raster_told *t = NULL;
	int code;

	c = night_read(o->file[0], &o->night, &why);
	if (!c)
		return command_fail(&why);
	s = suspect_all(c);
	t = s ? rasters_all(c, s) : NULL;
	const struct rastered of = { c, t };
	int done = t ? telling(o, NULL, tell_rasters, &of) : -1;
	if (done > 0)
		done = table(c, t);
	if (done < 0) {
		fault_set(&why, FAULT_FATAL, "%s: no memory", o->file[0]);
		code = command_fail(&why);
	} else {
		code = command_end();
	}
	free(t);
	free(s);
	census_destroy(c);
	return code;
}
