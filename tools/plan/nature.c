#include "tools/plan/nature.h"

#include "tools/plan/census.h"
#include "tools/plan/list.h"

#include <math.h>
#include <stdarg.h>
#include <stdio.h>
#include <string.h>

/* ---- kind ---- */

/* An over of so many looks was heard well enough to count as three. */
#define LONG_LOOKS 30
#define VOTES_LEAST 3
#define KEYED_LEAST 2 /* of data, when no over says otherwise: speech hardly looks keyed */
#define BARE_LEAST  8           /* of a carrier, unless an over was sure: speech pauses */
#define VOTES_AGREE 0.6

/* Overs are to a channel what looks are to an over: those on a bare carrier were
 * pauses when others spoke. */
static void vote(const struct over *o, struct channel *ch)
{
	struct votes votes = { 0 };
	int all = 0, least = VOTES_LEAST, sure_bare = 0;

	for (int i = 0; i < ch->overs; i++) {
		int times = o[i].looks >= LONG_LOOKS ? 3 : 1;
		if (o[i].kind > KIND_UNKNOWN && o[i].kind < KIND_COUNT &&
		    votes.n[o[i].kind] <= UINT16_MAX - times)
			votes.n[o[i].kind] = (uint16_t)(votes.n[o[i].kind] + times);
		sure_bare += o[i].kind == KIND_CARRIER && o[i].confidence >= 1000 * KIND_SURE;
	}
	ch->kind = votes_kind(&votes, &ch->confidence);
	for (int k = KIND_CARRIER; k < KIND_COUNT; k++)
		if (k != KIND_CARRIER || ch->kind == KIND_CARRIER)
			all += votes.n[k];
	ch->agreed = all > 0 ? (double)votes.n[ch->kind] / all : 0;
	if (ch->kind == KIND_CARRIER)
		least = sure_bare ? VOTES_LEAST : BARE_LEAST;
	else if (ch->kind == KIND_DATA && votes.n[KIND_DATA] == all)
		least = KEYED_LEAST;
	if (votes.n[ch->kind] < least || ch->agreed <= VOTES_AGREE) {
		ch->kind = KIND_UNKNOWN;
		ch->confidence = ch->agreed = 0;
	}
}

/* ---- figures ---- */

/* Ranks between which the median of all lies, by the binomial law with its normal
 * approximation (Conover, from memory). x ascending. */
static struct interval around_median(const double *x, int n)
{
	double half = 0.98 * sqrt(n);
	int low = (int)lround(n / 2.0 - half) - 1, high = (int)lround(n / 2.0 + half);

	return (struct interval){ x[low < 0 ? 0 : low], x[high > n - 1 ? n - 1 : high] };
}

/* Heard for less, speech has not yet filled its peak. */
#define WIDTH_MS 200
#define PEAK_MS  1000

static struct gauge gauge(const struct over *o, int overs, size_t field, int32_t least_ms,
			  double unit, double *work)
{
	int n = 0;

	for (int i = 0; i < overs; i++) {
		int32_t v;
		memcpy(&v, (const char *)&o[i] + field, sizeof v);
		if (v > 0 && o[i].heard_ms >= least_ms)
			work[n++] = v * unit;
	}
	if (n == 0)
		return (struct gauge){ 0 };
	double median = list_quantile(work, n, 0.5);    /* it sorts them */
	return (struct gauge){ n, median, around_median(work, n) };
}

/* Data that may be digital voice: overs of seconds, each with a reply (common practice). */
#define TALK_LEAST_S 1.0
#define TALK_MOST_S  15.0
#define TALK_REPLIES 1.5
#define TALK_SHARE   0.5

static bool talks(const struct channel *ch)
{
	return ch->over_s >= TALK_LEAST_S && ch->over_s <= TALK_MOST_S &&
	       ch->occupancy < TALK_SHARE && ch->overs >= TALK_REPLIES * ch->exchanges;
}

static void measure(const struct over *o, struct channel *ch, double *work)
{
	struct nature *n = &ch->nature;
	int overs = ch->overs;

	n->occupied_hz = gauge(o, overs, offsetof(struct over, occupied_hz), WIDTH_MS, 1, work);
	n->down26_hz = gauge(o, overs, offsetof(struct over, down26_hz), WIDTH_MS, 1, work);
	n->am_depth = gauge(o, overs, offsetof(struct over, depth_pm), PEAK_MS, 1e-3, work);
	n->deviation_hz = gauge(o, overs, offsetof(struct over, deviation_hz), PEAK_MS, 1, work);
	if (n->occupied_hz.overs == 0 || (ch->kind == KIND_NFM && n->deviation_hz.overs == 0))
		return;
	/* Soft talkers stay below it: the louder tell what a set is built for. The work left
	 * is the deviations, sorted. */
	struct features f = { .width_hz = n->occupied_hz.median };
	f.deviation_hz = list_quantile(work, n->deviation_hz.overs, 0.75);
	if (ch->kind == KIND_NFM)
		n->system_hz = deviation_system(f.deviation_hz);
	if (ch->kind != KIND_CARRIER)
		designator_format(n->designator, ch->kind, &f, n->talks);
}

static void hear_users(const struct over *o, int overs, struct nature *n)
{
	for (int i = 0; i < overs; i++)
		users_hear(&n->users, &(struct subtone_word){ .below = o[i].below,
			   .tone_ddhz = o[i].tone_ddhz, .code = o[i].code });
	n->believed = users_settle(&n->users);
}

void nature_settle(const struct census *c, struct channel *ch, double *work)
{
	const struct over *o = &c->over[ch->over];

	ch->nature = (struct nature){ 0 };
	vote(o, ch);
	ch->nature.talks = ch->kind == KIND_DATA && talks(ch);
	measure(o, ch, work);
	hear_users(o, ch->overs, &ch->nature);
}

int32_t nature_tone_ddhz(const struct nature *n)
{
	return n->believed > 0 ? n->users.user[0].tone_ddhz : 0;
}

/* ---- words ---- */

/* More at the end of out, as far as there is room. */
static void __attribute__((format(printf, 3, 4)))
add(char *out, size_t size, const char *format, ...)
{
	size_t n = strlen(out);
	va_list args;

	va_start(args, format);
	vsnprintf(out + n, size - n, format, args);
	va_end(args);
}

/* One user's tone or code; alone: with what it is. */
static void add_user(char *out, size_t size, const struct nature *n, int i, bool alone)
{
	if (n->users.user[i].tone_ddhz)
		add(out, size, "%s%.1f", alone ? "tone " : "", 0.1 * n->users.user[i].tone_ddhz);
	else if (n->users.user[i].code)
		add(out, size, "code %03o (or %03o inverted)", (unsigned)n->users.user[i].code,
		    (unsigned)code_inverse(n->users.user[i].code));
	else
		add(out, size, alone ? "no tone" : "none");
}

char *nature_users_words(const struct nature *n, char *out, size_t size)
{
	out[0] = '\0';
	if (n->believed == 2)
		add(out, size, "two users: ");
	else if (n->believed > 2)
		add(out, size, "%d users: ", n->believed);
	for (int i = 0; i < n->believed; i++) {
		if (i > 0)
			add(out, size, i + 1 < n->believed ? ", " : " and ");
		add_user(out, size, n, i, n->believed == 1);
	}
	return out;
}

char *nature_brief(const struct nature *n, char *out, size_t size)
{
	nature_users_words(n, out, size);
	if (n->system_hz)
		add(out, size, "%s%s probably", out[0] ? ", " : "", n->designator);
	return out;
}

/* "99 % in 8.4 kHz (17 overs: 8.1-8.9)" */
static void add_gauge(char *out, size_t size, const char *what, const struct gauge *g, double unit,
		      const char *name)
{
	if (g->overs == 0)
		return;
	add(out, size, "%s%s %.1f %s (%d over%s", out[0] ? "; " : "", what, g->median / unit, name,
	    g->overs, g->overs == 1 ? "" : "s");
	if (g->overs > 1)
		add(out, size, ": %.1f-%.1f", g->likely.low / unit, g->likely.high / unit);
	add(out, size, ")");
}

char *nature_words(const struct nature *n, char *out, size_t size)
{
	nature_users_words(n, out, size);
	for (int i = 0; i < n->believed; i++)
		add(out, size, "%s%d", i == 0 ? " (" : " + ", n->users.user[i].overs);
	if (n->believed)
		add(out, size, " of %d overs)", n->users.overs);
	add_gauge(out, size, "99 % in", &n->occupied_hz, 1e3, "kHz");
	add_gauge(out, size, "deviation", &n->deviation_hz, 1e3, "kHz");
	add_gauge(out, size, "AM depth", &n->am_depth, 0.01, "%");
	if (n->designator[0])
		add(out, size, "%s%s probably", out[0] ? "; " : "", n->designator);
	return out;
}
