#include "tools/export.h"

#include "tools/plan/words.h"

#include <inttypes.h>
#include <math.h>
#include <string.h>

/* A field, quoted when RFC 4180 asks for it. */
static void text(FILE *to, const char *s)
{
	if (!strpbrk(s, "\",\r\n")) {
		fputs(s, to);
		return;
	}
	fputc('"', to);
	for (; *s; s++) {
		if (*s == '"')
			fputc('"', to);
		fputc(*s, to);
	}
	fputc('"', to);
}

/* Fields of a row: comma in front of all but the first, CR LF behind the last. */
static void fields(FILE *to, const char *const *field, int n)
{
	for (int i = 0; i < n; i++) {
		if (i)
			fputc(',', to);
		text(to, field[i]);
	}
	fputs("\r\n", to);
}

/* Text that a spreadsheet would reckon with (CSV injection as OWASP describes it, from
 * memory) gets a quote in front, which it does not show. */
static const char *harmless(char *out, size_t size, const char *s)
{
	snprintf(out, size, "%s%s", *s && strchr("=+-@\t\r", *s) ? "'" : "", s);
	return out;
}

#define GAUGES  4               /* figures measured, each of four columns */
#define USES    9               /* of how it is used                        */
#define COLUMNS (28 + 4 + 4 * GAUGES + USES)

static const char *const channel_head[COLUMNS] = {
	"band",	    "channel",	  "frequency_hz", "step_hz",	   "mode",
	"service",  "first_seen", "last_seen",	  "looks",	   "busy_looks",
	"looked_s", "busy_s",	  "occupancy",	  "occupancy_low", "occupancy_high",
	"overs",    "level_db",	  "peak_db",	  "offset_hz",	   "width_hz",
	"kind",	    "confidence", "tone_hz",	  "suspect",	   "suspect_why",
	"probably", "probably_why", "listed",
	"users",    "users_of_overs", "deviation_system_hz", "designator",
	"occupied_hz",	"occupied_low_hz",  "occupied_high_hz",	 "occupied_overs",
	"down26_hz",	"down26_low_hz",    "down26_high_hz",	 "down26_overs",
	"deviation_hz", "deviation_low_hz", "deviation_high_hz", "deviation_overs",
	"am_depth",	"am_depth_low",	    "am_depth_high",	 "am_depth_overs",
	"use",		"over_s",	    "over_low_s",	 "over_high_s",
	"gap_s",	"gap_low_s",	    "gap_high_s",	 "period_s",
	"pair",
};

#define NUMBER 32

/* v with so many decimals, and no minus before nothing. */
static const char *decimal(char out[NUMBER], double v, int digits)
{
	snprintf(out, NUMBER, "%.*f", digits, v);
	if (out[0] == '-' && strspn(out + 1, "0.") == strlen(out + 1))
		memmove(out, out + 1, strlen(out));
	return out;
}

/* Four fields that are empty when it was measured in no over. */
static void gauge_fields(const char *field[4], char n[4][NUMBER], const struct gauge *g, int digits)
{
	for (int i = 0; i < 4; i++)
		field[i] = n[i];
	memset(n, 0, 4 * NUMBER);
	if (g->overs == 0)
		return;
	decimal(n[0], g->median, digits);
	decimal(n[1], g->likely.low, digits);
	decimal(n[2], g->likely.high, digits);
	decimal(n[3], g->overs, 0);
}

/* Three fields that are empty where nothing can be said. */
static void estimate_fields(const char *field[3], char n[3][NUMBER], const struct estimate *e)
{
	for (int i = 0; i < 3; i++)
		field[i] = "";
	if (e->value <= 0)
		return;
	field[0] = decimal(n[0], e->value, 2);
	field[1] = decimal(n[1], e->likely.low, 2);
	field[2] = decimal(n[2], e->likely.high, 2);
}

static void use_fields(const char *field[USES], char n[USES][NUMBER], const struct census *c, int i,
		       char pair[PAIR_TEXT])
{
	const struct traffic *t = &c->channel[i].traffic;

	field[0] = shape_name(t->shape);
	estimate_fields(&field[1], &n[1], &t->over_s);
	estimate_fields(&field[4], &n[4], &t->gap_s);
	field[7] = t->period_s > 0 ? decimal(n[7], t->period_s, 2) : "";
	field[8] = pair_evidence(c, i, pair, PAIR_TEXT);
}

static void channel_row(FILE *to, const struct told *t, int i)
{
	const struct census *c = t->census;
	const struct channel *ch = &c->channel[i];
	const struct suspect *s = &t->suspect[i];
	char n[COLUMNS][NUMBER], first[TIME_TEXT] = "", last[TIME_TEXT] = "";
	char frequency[FREQ_TEXT], step[FREQ_TEXT];
	char listed[LISTED_TEXT], safe[LISTED_TEXT + 1];
	struct guess g[GUESSES] = { 0 };
	bool guessed = told_guess(t, i, g) > 0;
	char users[NATURE_TEXT], measured[GAUGES][4][NUMBER], use[USES][NUMBER], pair[PAIR_TEXT];
	const struct band *b = &c->band[ch->band];
	const struct nature *nature = &ch->nature;
	int32_t tone = nature_tone_ddhz(nature);

	if (ch->overs) {
		words_time(first, ch->first_us);
		words_time(last, ch->last_us);
	}
	const char *row[COLUMNS] = {
		b->id,
		decimal(n[0], ch->channel, 0),
		freq_format(frequency, ch->centre),
		freq_format(step, b->raster.step),
		mode_name(b->mode),
		b->service,
		first,
		last,
		decimal(n[1], (double)ch->looks.looks, 0),
		decimal(n[2], (double)ch->looks.busy, 0),
		decimal(n[3], 1e-6 * (double)ch->looked_us, 3),
		decimal(n[4], 1e-6 * (double)ch->busy_us, 3),
		decimal(n[5], ch->occupancy, 6),
		decimal(n[6], ch->likely.low, 6),
		decimal(n[7], ch->likely.high, 6),
		decimal(n[8], ch->overs, 0),
		decimal(n[9], ch->level_db, 1),
		decimal(n[10], ch->peak_db, 1),
		decimal(n[11], ch->offset_hz, 0),
		decimal(n[12], ch->width_hz, 0),
		kind_name(ch->kind),
		decimal(n[13], ch->confidence, 3),
		tone > 0 ? decimal(n[14], 0.1 * tone, 1) : "",
		s->is ? suspicion_name(s->is) : "",
		s->is ? s->why : "",
		guessed ? g[0].who : "",
		guessed ? g[0].why : "",
		harmless(safe, sizeof safe, licences_words(t->licences, ch->centre, b->raster.step, listed)),
		nature_users_words(nature, users, sizeof users),
		decimal(n[15], nature->users.overs, 0),
		nature->system_hz ? decimal(n[16], nature->system_hz, 0) : "",
		nature->designator,
	};
	gauge_fields(&row[COLUMNS - USES - 16], measured[0], &nature->occupied_hz, 0);
	gauge_fields(&row[COLUMNS - USES - 12], measured[1], &nature->down26_hz, 0);
	gauge_fields(&row[COLUMNS - USES - 8], measured[2], &nature->deviation_hz, 0);
	gauge_fields(&row[COLUMNS - USES - 4], measured[3], &nature->am_depth, 3);
	use_fields(&row[COLUMNS - USES], use, c, i, pair);
	fields(to, row, COLUMNS);
}

int csv_channels(FILE *to, const struct told *t)
{
	fields(to, channel_head, COLUMNS);
	for (int i = 0; i < t->census->channels; i++)
		if (t->census->channel[i].overs >= t->min_overs)
			channel_row(to, t, i);
	return 0;
}

static const char *const plan_head[] = {
	"bank",	   "slot",	"type_mhz", "frequency_hz", "landed_hz", "error_hz",
	"step_hz", "mode",	"delay_s",  "locked",	    "priority",	 "name",
	"service", "certainty", "evidence", "reason",	    "pair",
	"listed",  "guess",
};

int csv_plan(FILE *to, const struct plan *p)
{
	const int columns = (int)(sizeof plan_head / sizeof plan_head[0]);

	fields(to, plan_head, columns);
	for (int i = 0; i < p->memories; i++) {
		const struct memory *m = &p->memory[i];
		char n[4][NUMBER], f[4][FREQ_TEXT], name[sizeof m->name + 1], listed[LISTED_TEXT + 1];
		const char *const row[] = {
			decimal(n[0], m->bank, 0),
			decimal(n[1], m->slot, 0),
			words_typed(m->landing.landed, f[0]),
			freq_format(f[1], m->frequency),
			freq_format(f[2], m->landing.landed),
			decimal(n[2], freq_to_hz(m->landing.error), 0),
			freq_format(f[3], m->landing.step),
			mode_name(m->mode),
			decimal(n[3], 1e-6 * (double)m->delay_us, 1),
			m->locked ? "yes" : "no",
			m->priority ? "yes" : "no",
			harmless(name, sizeof name, m->name),
			m->service,
			certainty_name(m->certainty),
			m->evidence,
			m->reason,
			m->pair,
			harmless(listed, sizeof listed, m->listed),
			m->guess,
		};
		fields(to, row, columns);
	}
	return 0;
}

static const char *const raster_head[] = {
	"band",		   "surveyed_step_hz", "surveyed_offset_hz", "verdict",	     "step_hz",
	"offset_hz",	   "odds",	       "odds_over_surveyed", "centres",	     "centres_agree",
	"band_plan_line",
};

static void raster_row(FILE *to, const struct band *b, const struct raster_told *t)
{
	char f[4][FREQ_TEXT], n[4][NUMBER], line[RASTER_LINE_TEXT] = "";
	const struct spacing_verdict *v = &t->verdict;
	bool guessed = v->word != SPACING_TOO_FEW;

	if (t->word == RASTER_WRONG)
		rasters_line(b, t, line);
	snprintf(n[0], NUMBER, "%.3g", v->odds);
	snprintf(n[1], NUMBER, "%.3g", v->asked_odds);
	const char *const row[] = {
		b->id,
		freq_format(f[0], t->surveyed.step),
		freq_format(f[1], t->surveyed.offset),
		raster_word_name(t->word),
		guessed ? freq_format(f[2], v->best.step) : "",
		guessed ? freq_format(f[3], v->best.offset) : "",
		guessed ? n[0] : "",
		guessed ? n[1] : "",
		decimal(n[2], t->heard, 0),
		decimal(n[3], v->agree, 0),
		line,
	};
	fields(to, row, (int)(sizeof row / sizeof row[0]));
}

int csv_rasters(FILE *to, const struct census *c, const struct raster_told *t)
{
	fields(to, raster_head, (int)(sizeof raster_head / sizeof raster_head[0]));
	for (int b = 0; b < c->bands; b++)
		raster_row(to, &c->band[b], &t[b]);
	return 0;
}

static const char *const compare_head[] = {
	"band", "frequency_hz", "change", "first_exchanges", "first_hours", "second_exchanges",
	"second_hours", "times_low", "times_high", "p", "was", "now",
};

int csv_compare(FILE *to, const struct comparison *c)
{
	const int columns = (int)(sizeof compare_head / sizeof compare_head[0]);

	fields(to, compare_head, columns);
	for (int i = 0; i < c->n; i++) {
		const struct difference *d = &c->of[i];
		char n[6][NUMBER], p[NUMBER], f[FREQ_TEXT];
		snprintf(p, sizeof p, "%.3g", d->p);
		const char *const row[] = {
			c->census[d->second]->band[d->band].id,
			freq_format(f, d->centre),
			change_name(d->is),
			decimal(n[0], d->side[0].exchanges, 0),
			decimal(n[1], d->side[0].hours, 3),
			decimal(n[2], d->side[1].exchanges, 0),
			decimal(n[3], d->side[1].hours, 3),
			decimal(n[4], d->times.low, 3),
			isfinite(d->times.high) ? decimal(n[5], d->times.high, 3) : "",
			p,
			d->was,
			d->now,
		};
		fields(to, row, columns);
	}
	return 0;
}
