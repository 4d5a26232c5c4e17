#include "tools/export.h"

#include <math.h>

#include "tools/plan/words.h"

/* A figure with its interval and in how many overs it was measured. */
static void gauge(struct teller *t, const char *name, const struct gauge *g, int digits,
		  const char *meaning)
{
	tell_open(t, name, g->overs > 0, meaning);
	tell_real(t, "median", g->median, digits, "median of the overs it was measured in");
	tell_real(t, "low", g->likely.low, digits,
		  "the median of all such overs is not below (95 %)");
	tell_real(t, "high", g->likely.high, digits, "nor above");
	tell_whole(t, "overs", g->overs, "overs it was measured in");
	tell_close(t);
}

static void estimate(struct teller *t, const char *name, const struct estimate *e,
		     const char *meaning)
{
	tell_open(t, name, e->value > 0, meaning);
	tell_real(t, "mean", e->value, 2, "most likely mean");
	tell_real(t, "low", e->likely.low, 2, "not below (95 %)");
	tell_real(t, "high", e->likely.high, 2, "nor above");
	tell_close(t);
}

static void code(struct teller *t, const char *name, int code, const char *meaning)
{
	char octal[16] = "";

	if (code)
		snprintf(octal, sizeof octal, "%03o", (unsigned)code);
	tell_text(t, name, octal, meaning);
}

static void nature(struct teller *t, const struct nature *n)
{
	char words[NATURE_TEXT];

	tell_list(t, "users", "who shares the channel, by the tone or code below speech");
	for (int i = 0; tell_more(t, i, n->believed); i++) {
		int32_t tone = n->users.user[i].tone_ddhz;
		int bits = n->users.user[i].code;
		tell_real(t, "tone_hz", tone ? 0.1 * tone : NAN, 1, "continuous tone below speech");
		code(t, "code", bits, "digital code, in octal");
		code(t, "code_inverted", bits ? code_inverse(bits) : 0,
		     "the same bits upside down");
		tell_whole(t, "overs", n->users.user[i].overs,
			   "overs that say so; without tone and code: somebody without");
	}
	tell_text(t, "users_words", nature_users_words(n, words, sizeof words),
		  "the same in words");
	tell_whole(t, "users_of_overs", n->users.overs, "overs long enough to tell");
	gauge(t, "occupied_hz", &n->occupied_hz, 0, "99 % of the power (ITU RR 1.153)");
	gauge(t, "down26_hz", &n->down26_hz, 0, "outside it all is 26 dB down");
	gauge(t, "deviation_hz", &n->deviation_hz, 0, "peak deviation of FM");
	gauge(t, "am_depth", &n->am_depth, 3, "peak depth of AM, 0 to 1");
	tell_real(t, "deviation_system_hz", n->system_hz ? (double)n->system_hz : NAN, 0,
		  "peak deviation the system is built for");
	tell_text(t, "designator", n->designator, "designation of emission, a hint");
	tell_yes(t, "talks", n->talks, "data in overs and replies as voice has");
}

static void traffic(struct teller *t, const struct traffic *f)
{
	tell_text(t, "use", shape_name(f->shape), "always on, periodic, bursts, talk or unknown");
	estimate(t, "over_s", &f->over_s, "length of an over");
	estimate(t, "gap_s", &f->gap_s, "silence between two overs of an exchange");
	estimate(t, "exchanges_h", &f->exchanges_h, "exchanges met, an hour of the survey");
	tell_whole(t, "exchanges", f->exchanges, "exchanges met");
	tell_real(t, "period_s", f->period_s > 0 ? f->period_s : NAN, 2,
		  "of what comes at a fixed period");
	tell_real(t, "stuck_s", f->stuck_s > 0 ? f->stuck_s : NAN, 0,
		  "somebody sat on the key for so long; in no figure here");
}

static void occupancy(struct teller *t, const struct channel *ch)
{
	tell_time(t, "first_seen", ch->first_us, "first over");
	tell_time(t, "last_seen", ch->last_us, "end of the last over");
	tell_whole(t, "looks", ch->looks.looks, "looks that could judge the channel");
	tell_whole(t, "busy_looks", ch->looks.busy, "of these, at or above the squelch");
	tell_real(t, "looked_s", 1e-6 * (double)ch->looked_us, 3, "time listened to it");
	tell_real(t, "busy_s", 1e-6 * (double)ch->busy_us, 3, "of this, busy");
	tell_real(t, "occupancy", ch->occupancy, 6, "share of the looked time that it was busy");
	tell_real(t, "occupancy_low", ch->likely.low, 6, "the channel's own is not below (95 %)");
	tell_real(t, "occupancy_high", ch->likely.high, 6, "nor above");
	tell_whole(t, "overs", ch->overs, "overs met");
	tell_real(t, "level_db", ch->level_db, 1, "over the noise, median of overs");
	tell_real(t, "peak_db", ch->peak_db, 1, "over the noise, strongest");
	tell_real(t, "offset_hz", ch->offset_hz, 0,
		  "of the emission from the channel's centre, median");
	tell_real(t, "width_hz", ch->width_hz, 0, "as sweeps see it, median");
}

/* Who it probably is, the likeliest first; what is no station is nobody. */
static void guesses(struct teller *t, const struct told *of, int i, bool any)
{
	struct guess g[GUESSES] = { 0 };
	int n = any ? told_guess(of, i, g) : 0;

	tell_text(t, "probably", g[0].who, "who it probably is");
	tell_text(t, "probably_why", g[0].why, "what that is guessed from");
	tell_list(t, "guesses", "the same and what else it may be, the likeliest first");
	for (int k = 0; tell_more(t, k, n); k++) {
		tell_text(t, "who", n ? g[k].who : "", "who");
		tell_text(t, "why", n ? g[k].why : "", "guessed from what");
	}
}

/* any: there is a channel i; else its fields are told of nothing. */
static void channel(struct teller *t, const struct told *of, int i, bool any)
{
	static const struct channel nothing = { .pair = { .other = -1 } };
	static const struct band nowhere = { .name = "" };
	const struct channel *ch = any ? &of->census->channel[i] : &nothing;
	const struct band *b = any ? &of->census->band[ch->band] : &nowhere;
	enum suspicion is = any ? of->suspect[i].is : SUSPECT_NONE;
	int32_t tone = nature_tone_ddhz(&ch->nature);
	char listed[LISTED_TEXT] = "", pair[PAIR_TEXT] = "";

	tell_text(t, "band", b->id, "id of its band in the band plan");
	tell_whole(t, "channel", ch->channel, "its number in the band's raster, from 0");
	tell_freq(t, "frequency_hz", ch->centre, "its centre; thirds of a hertz as .333 and .667");
	tell_freq(t, "step_hz", b->raster.step, "of the band's raster");
	tell_text(t, "mode", mode_name(b->mode), "of the band: AM, NFM, WFM");
	tell_text(t, "service", b->service, "of the band");
	occupancy(t, ch);
	tell_text(t, "kind", kind_name(ch->kind), "of emission, as its overs agree");
	tell_real(t, "confidence", ch->confidence, 3, "in the kind, 0 to 1");
	tell_real(t, "tone_hz", tone > 0 ? 0.1 * tone : NAN, 1, "of the user heard most");
	nature(t, &ch->nature);
	traffic(t, &ch->traffic);
	tell_text(t, "pair", any ? pair_evidence(of->census, i, pair, sizeof pair) : "",
		  "its input, output or other side, with the evidence");
	tell_text(t, "suspect", suspicion_name(is), "why it may be no station, or none to scan");
	tell_text(t, "suspect_why", is ? of->suspect[i].why : "", "the evidence");
	guesses(t, of, i, any);
	tell_text(t, "listed",
		  any ? licences_words(of->licences, ch->centre, b->raster.step, listed) : "",
		  "what your list of licences has there");
}

void tell_channels(struct teller *t, const void *told)
{
	const struct told *of = told;
	int n = 0, at = -1;

	for (int i = 0; i < of->census->channels; i++)
		n += of->census->channel[i].overs >= of->min_overs;
	tell_list(t, NULL, "channels heard, by band and frequency");
	for (int k = 0; tell_more(t, k, n); k++) {
		do
			at++;
		while (k < n && of->census->channel[at].overs < of->min_overs);
		channel(t, of, at, k < n);
	}
}
