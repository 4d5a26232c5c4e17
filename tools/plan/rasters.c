#include "tools/plan/rasters.h"

#include <inttypes.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#define REACH_HZ   1500.0       /* overs of one station lie so near its middle             */
#define APART_HZ   2500.0       /* nearer than that are two on no raster: half the finest; or, */
                                /* where it is wider, half the emission: a look at part of data */
                                /* puts its centre anywhere in it                          */
#define OVER_HZ    150.0        /* spread of a station's overs before any is heard         */
#define OVER_WORTH 2.0          /* overs that this is worth                                */
#define CLEAR_DDB  120          /* no single look at noise reaches this                    */
#define RULED_OUT  1e4          /* odds against it; one stray among few makes hundreds     */
#define SKIRT_HZ   150e3        /* so near one so much stronger, and it may be its splatter */
#define SKIRT_DDB  400
#define STATIONS   200          /* told apart in one band; the busiest first               */

const char *raster_word_name(enum raster_word w)
{
	static const char *const names[] = {
		"not judged", "too few", "not sure", "doubtful", "none", "right", "fits", "WRONG",
	};

	return names[w];
}

/* One over where it was, whatever channel it was put on. */
struct spot {
	double  hz, width_hz;
	int32_t level_ddb;
};

static int ascending(const void *a, const void *b)
{
	const struct spot *x = a, *y = b;

	return (x->hz > y->hz) - (x->hz < y->hz);
}

/* Tenths of a dB below which an over there says nothing of where stations are. */
static int32_t drowned_ddb(const struct census *c, const struct channel *ch)
{
	double most = 0;

	for (int i = 0; i < c->channels; i++)
		if (fabs(freq_to_hz(c->channel[i].centre) - freq_to_hz(ch->centre)) < SKIRT_HZ)
			most = fmax(most, c->channel[i].peak_db);
	return (int32_t)lround(10 * most) - SKIRT_DDB;
}

static int gather(const struct census *c, const struct suspect *s, int band, struct spot *out)
{
	int n = 0;

	for (int i = 0; i < c->channels; i++) {
		const struct channel *ch = &c->channel[i];
		if (ch->band != band || suspicion_false(s[i].is) || ch->kind == KIND_NOISE)
			continue;
		int32_t drowned = drowned_ddb(c, ch);
		for (int k = 0; k < ch->overs; k++) {
			const struct over *o = &c->over[ch->over + k];
			if (o->level_ddb < drowned)
				continue;
			out[n++] = (struct spot){ freq_to_hz(ch->centre) + o->offset_hz,
						  o->width_hz, o->level_ddb };
		}
	}
	qsort(out, (size_t)n, sizeof *out, ascending);
	return n;
}

/* The most overs within reach of one another: from the first of them. */
static int thickest(const struct spot *p, int n, int *first)
{
	int most = 0;

	for (int i = 0, k = 0; i < n; i++) {
		while (p[i].hz - p[k].hz > 2 * REACH_HZ)
			k++;
		if (i - k + 1 > most) {
			most = i - k + 1;
			*first = k;
		}
	}
	return most;
}

/* Their median and its standard error. */
static struct witness station(const struct spot *p, int n)
{
	double middle = n % 2 ? p[n / 2].hz : 0.5 * (p[n / 2 - 1].hz + p[n / 2].hz);
	double sum = OVER_WORTH * OVER_HZ * OVER_HZ;

	for (int i = 0; i < n; i++)
		sum += (p[i].hz - middle) * (p[i].hz - middle);
	return (struct witness){ middle, sqrt(sum / (OVER_WORTH + n - 1) / n) };
}

/* Without what belongs to the station, skirts of it included. */
static int leave_out(struct spot *p, int n, double hz)
{
	double width_hz = 0;
	int left = 0;

	for (int i = 0; i < n; i++)
		if (fabs(p[i].hz - hz) <= REACH_HZ)
			width_hz = fmax(width_hz, p[i].width_hz);
	for (int i = 0; i < n; i++)
		if (fabs(p[i].hz - hz) > fmax(APART_HZ, 0.5 * width_hz))
			p[left++] = p[i];
	return left;
}

/* One faint over alone may be noise. */
static int stations(struct spot *p, int n, struct witness out[STATIONS])
{
	int found = 0, first = 0;

	while (n > 0 && found < STATIONS) {
		int most = thickest(p, n, &first);
		struct witness w = station(p + first, most);
		if (most > 1 || p[first].level_ddb >= CLEAR_DDB)
			out[found++] = w;
		n = leave_out(p, n, w.hz);
	}
	return found;
}

static enum raster_word word_of(const struct raster_told *t)
{
	const struct spacing_verdict *v = &t->verdict;

	switch (v->word) {
	case SPACING_TOO_FEW:
		return RASTER_TOO_FEW;
	case SPACING_NOT_SURE:
		return v->asked_odds >= RULED_OUT && t->heard > 2 ? RASTER_DOUBTFUL :
								    RASTER_NOT_SURE;
	case SPACING_NONE:
		return RASTER_NONE;
	case SPACING_SURE:
		break;
	}
	if (!spacing_holds(&t->surveyed, &v->best))
		return RASTER_WRONG;
	return spacing_holds(&v->best, &t->surveyed) ? RASTER_RIGHT : RASTER_FITS;
}

static void judge_band(const struct band *b, struct spot *spot, int n, struct raster_told *out)
{
	struct witness w[STATIONS];

	*out = (struct raster_told){ .surveyed = spacing_of(&b->raster) };
	if (b->mode == MODE_WFM)
		return;
	out->heard = stations(spot, n, w);
	for (int i = 0; i < out->heard; i++) {
		out->low_hz = i ? fmin(out->low_hz, w[i].hz) : w[i].hz;
		out->high_hz = fmax(out->high_hz, w[i].hz);
	}
	spacing_judge(w, out->heard, &out->surveyed, &out->verdict);
	out->word = word_of(out);
}

struct raster_told *rasters_all(const struct census *c, const struct suspect *s)
{
	struct raster_told *told = calloc((size_t)c->bands + 1, sizeof *told);
	struct spot *spot = calloc((size_t)c->overs + 1, sizeof *spot);

	if (!told || !spot)
		goto fail;
	for (int b = 0; b < c->bands; b++)
		judge_band(&c->band[b], spot, gather(c, s, b, spot), &told[b]);
	free(spot);
	return told;
fail:
	free(told);
	free(spot);
	return NULL;
}

/* ---- words ---- */

/* As a band plan file takes it, exactly: "12.5 kHz", "25/3 kHz". */
static char *step_text(struct freq f, char out[FREQ_TEXT])
{
	if (f.thirds % 3 == 0)
		snprintf(out, FREQ_TEXT, "%.9g kHz", freq_to_hz(f) / 1e3);
	else if (f.thirds % 1000 == 0)
		snprintf(out, FREQ_TEXT, "%" PRId64 "/3 kHz", f.thirds / 1000);
	else
		snprintf(out, FREQ_TEXT, "%" PRId64 "/3 Hz", f.thirds);
	return out;
}

/* Likewise: "154.235 MHz", "363925000/3 Hz". */
static char *place_text(struct freq f, char out[FREQ_TEXT])
{
	char mhz[FREQ_TEXT];

	if (f.thirds % 3 == 0)
		snprintf(out, FREQ_TEXT, "%.24s MHz", freq_format_mhz(mhz, f));
	else
		snprintf(out, FREQ_TEXT, "%" PRId64 "/3 Hz", f.thirds);
	return out;
}

char *rasters_spacing_words(const struct spacing *s, char out[SPACING_TEXT])
{
	char step[FREQ_TEXT];

	if (s->step.thirds == 0)
		snprintf(out, SPACING_TEXT, "no raster");
	else if (s->offset.thirds == 0)
		snprintf(out, SPACING_TEXT, "%s", step_text(s->step, step));
	else
		snprintf(out, SPACING_TEXT, "%.30s + %.6g", step_text(s->step, step),
			 freq_to_hz(s->offset) / 1e3);
	return out;
}

char *rasters_words(const struct raster_told *t, char *out, size_t size)
{
	char best[SPACING_TEXT], surveyed[SPACING_TEXT];

	snprintf(out, size,
		 "%s explains %d of %d centres heard, the %s it was surveyed on does not "
		 "(odds %.2g to 1)",
		 rasters_spacing_words(&t->verdict.best, best), t->verdict.agree, t->heard,
		 rasters_spacing_words(&t->surveyed, surveyed), t->verdict.asked_odds);
	return out;
}

/* Text between quotes of a settings file; cut where it does not fit. */
static char *quoted(const char *text, char *out, size_t size)
{
	size_t n = 0;

	for (; *text && n + 3 < size; text++) {
		if (*text == '"' || *text == '\\')
			out[n++] = '\\';
		out[n++] = *text;
	}
	out[n] = '\0';
	return out;
}

/* The raster that is right, over what the band had and what was heard beyond it. */
static struct raster mended(const struct band *b, const struct raster_told *t)
{
	const struct spacing *s = &t->verdict.best;
	double first = t->low_hz - spacing_beside(s, t->low_hz);
	double last = t->high_hz - spacing_beside(s, t->high_hz);
	double low = fmin(freq_to_hz(b->raster.first), first);
	double high = fmax(freq_to_hz(raster_last(&b->raster)), last);

	return raster_between(freq_from_hz(low), freq_from_hz(high), s->offset, s->step);
}

/* "; split = [ \"5 MHz\" ]"; "" where there is none. */
static char *splits_text(const struct band *b, char *out, size_t size)
{
	char mhz[FREQ_TEXT];
	int n = 0;

	out[0] = '\0';
	for (int i = 0; i < BAND_SPLITS && b->split[i].thirds; i++)
		n += snprintf(out + n, size - (size_t)n, "%s\"%s\"", i ? ", " : " split = [ ",
			      place_text(b->split[i], mhz));
	if (n > 0)
		snprintf(out + n, size - (size_t)n, " ];");
	return out;
}

char *rasters_line(const struct band *b, const struct raster_told *t, char out[RASTER_LINE_TEXT])
{
	char id[2 * sizeof b->id], name[2 * sizeof b->name], low[FREQ_TEXT], high[FREQ_TEXT],
		step[FREQ_TEXT], splits[(FREQ_TEXT + 4) * BAND_SPLITS + 20];
	struct raster r = mended(b, t);

	snprintf(out, RASTER_LINE_TEXT,
		 "{ id = \"%s\"; name = \"%s\"; service = \"%s\"; low = \"%s\"; "
		 "high = \"%s\"; step = \"%s\"; mode = \"%s\"; width = \"%.9g kHz\";%s }",
		 quoted(b->id, id, sizeof id), quoted(b->name, name, sizeof name), b->service,
		 place_text(r.first, low), place_text(raster_last(&r), high),
		 step_text(r.step, step), mode_name(b->mode), b->width_hz / 1e3,
		 splits_text(b, splits, sizeof splits));
	return out;
}
