#include "tools/export.h"

#include <math.h>

static void spacing(struct teller *t, const char *name, const struct spacing *s, bool known,
		    const char *meaning)
{
	tell_open(t, name, known, meaning);
	tell_freq(t, "step_hz", s->step, "from channel to channel");
	tell_freq(t, "offset_hz", s->offset, "of its channels from whole multiples of the step");
	tell_close(t);
}

static void raster(struct teller *t, const struct band *b, const struct raster_told *r)
{
	const struct spacing_verdict *v = &r->verdict;
	char line[RASTER_LINE_TEXT];
	bool guessed = v->word != SPACING_TOO_FEW;

	tell_text(t, "band", b->id, "id of the band");
	tell_text(t, "verdict", raster_word_name(r->word),
		  "not judged, too few, not sure, doubtful, none, right, fits, WRONG");
	spacing(t, "surveyed", &r->surveyed, true, "the raster that was surveyed");
	spacing(t, "best", &v->best, guessed, "the one that explains the centres best");
	tell_figure(t, "odds", guessed ? v->odds : NAN, "for the best against all others together");
	tell_figure(t, "odds_over_surveyed", guessed ? v->asked_odds : NAN,
		    "for the best against the surveyed");
	tell_whole(t, "centres", r->heard, "stations whose centres told");
	tell_whole(t, "centres_agree", v->agree, "of these, on the best");
	tell_text(t, "band_plan_line", r->word == RASTER_WRONG ? rasters_line(b, r, line) : "",
		  "to write into the band plan instead");
}

void tell_rasters(struct teller *t, const void *rastered)
{
	static const struct band nowhere = { .name = "" };
	static const struct raster_told nothing = { .verdict = { .word = SPACING_TOO_FEW } };
	const struct rastered *of = rastered;

	tell_list(t, NULL, "bands, as surveyed");
	for (int b = 0; tell_more(t, b, of->census->bands); b++)
		raster(t, b < of->census->bands ? &of->census->band[b] : &nowhere,
		       b < of->census->bands ? &of->told[b] : &nothing);
}
