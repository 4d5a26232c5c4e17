#include "tools/plan/guess.h"

#include "tools/plan/suspect.h"

#include <stdio.h>
#include <string.h>
#include <strings.h>

#define SURE_KIND  0.6          /* as for the mode a memory gets              */
#define SHORT_S    1.5          /* no voice                                   */

#define ANY 0
#define BIT(x) (1u << (x))
#define VOICE (BIT(KIND_AM) | BIT(KIND_NFM))
#define TONED (BIT(BELOW_TONE) | BIT(BELOW_CODE))

/* Channels that all the world uses alike. */
static const struct {
	struct freq frequency;
	const char *service, *who, *why;
} everywhere[] = {
	/* ICAO Annex 10, from memory */
	{ { INT64_C(364500000) }, "air", "aircraft emergency", "121.5 MHz is that everywhere" },
	{ { INT64_C(369300000) }, "air", "search and rescue", "123.1 MHz is that everywhere" },
	/* ITU Radio Regulations, Appendix 18, from memory */
	{ { INT64_C(468900000) },
	  "marine",
	  "ship to ship, channel 6",
	  "156.3 MHz is that everywhere" },
	{ { INT64_C(469575000) },
	  "marine",
	  "digital calling, channel 70",
	  "156.525 MHz is that everywhere" },
	{ { INT64_C(469950000) },
	  "marine",
	  "ship to ship safety, channel 13",
	  "156.65 MHz is that everywhere" },
	{ { INT64_C(470400000) },
	  "marine",
	  "ships' calling, channel 16",
	  "156.8 MHz is that everywhere" },
	{ { INT64_C(485925000) }, "marine", "ships' positions", "161.975 MHz is that everywhere" },
	{ { INT64_C(486075000) }, "marine", "ships' positions", "162.025 MHz is that everywhere" },
};

/* Where all that a row names holds, it says who: * stands for the band plan's word. The
 * more telling, the higher (common practice, all of it). */
struct rule {
	const char *services;           /* NULL: any                          */
	unsigned    kinds, shapes, below, pairs, speakers;      /* bits; ANY  */
	double      least_s;            /* of a mean over; 0: any             */
	bool        talks;
	int         telling;
	const char *who, *why;
};

#define CREWS "fire ems rescue police public-safety works business mixed service rail"
#define WORDLESS "paging telemetry beacon"

static const struct rule rules[] = {
	{ NULL, ANY, ANY, ANY, BIT(PAIR_OUTPUT), ANY, 0, false, 8, "* repeater",
	  "its input was heard too, keyed with it" },
	{ NULL, ANY, ANY, ANY, BIT(PAIR_INPUT), ANY, 0, false, 8, "* on a repeater's input",
	  "on only while its output is" },
	{ "air", BIT(KIND_AM), BIT(SHAPE_ALWAYS), ANY, ANY, ANY, 0, false, 7,
	  "aerodrome's recording", "a voice that never ends among aircraft" },
	{ "weather", ANY, BIT(SHAPE_ALWAYS), ANY, ANY, ANY, 0, false, 7, "weather broadcast",
	  "a voice that never ends in a weather band" },
	{ "broadcast", BIT(KIND_WFM), ANY, ANY, ANY, ANY, 0, false, 7, "broadcast station",
	  "wide FM in a broadcast band" },
	{ "trunked", BIT(KIND_DATA), BIT(SHAPE_ALWAYS), ANY, ANY, ANY, 0, false, 7,
	  "*'s control channel", "data that never ends in a trunked band" },
	{ "trunked", BIT(KIND_DATA), ~BIT(SHAPE_ALWAYS), ANY, ANY, ANY, 0, false, 6,
	  "*'s traffic channel", "data that comes and goes in a trunked band" },
	{ "trunked", VOICE, ANY, ANY, ANY, ANY, 0, false, 6, "*'s voice channel",
	  "a voice in a trunked band" },
	{ NULL, BIT(KIND_CARRIER), BIT(SHAPE_ALWAYS), ANY, ANY, ANY, 0, false, 7,
	  "a beacon, or a fault", "a bare carrier that never ends" },
	{ "air", BIT(KIND_NFM), ANY, ANY, ANY, ANY, 0, false, 7, "no aircraft",
	  "FM, where they speak AM" },
	{ WORDLESS, VOICE, ~BIT(SHAPE_ALWAYS), ANY, ANY, ANY, 0, false, 6, "somebody in a * band",
	  "a voice, where the band plan has none" },
	{ CREWS " amateur personal marine", BIT(KIND_DATA), ANY, ANY, ANY, ANY, 0, true, 6,
	  "*, digital voice", "data in overs and replies as voice has" },
	{ NULL, BIT(KIND_DATA), BIT(SHAPE_PERIODIC), ANY, ANY, ANY, 0, false, 6,
	  "telemetry or a beacon", "short data at a fixed period" },
	{ "amateur", BIT(KIND_DATA), BIT(SHAPE_BURSTS), ANY, ANY, ANY, 0, false, 5, "* packets",
	  "short bursts of data" },
	{ CREWS, BIT(KIND_DATA), ANY, ANY, ANY, ANY, 0, false, 4, "data of *", "data, not voice" },
	{ CREWS, VOICE, BIT(SHAPE_TALK), ANY, ANY, BIT(SPEAKERS_ONE), 0, false, 5,
	  "*, base or repeater", "always as strong: one fixed station" },
	{ CREWS, VOICE, BIT(SHAPE_TALK), ANY, ANY, BIT(SPEAKERS_SEVERAL), 0, false, 5,
	  "*, cars or handhelds", "levels scatter as of many or moving stations" },
	{ CREWS " amateur marine personal", VOICE, BIT(SHAPE_TALK), ANY, ANY, BIT(SPEAKERS_HALF), 0,
	  false, 5, "*, one side only", "pauses as for answers that are not heard" },
	{ "amateur", VOICE, BIT(SHAPE_TALK), TONED, ANY, BIT(SPEAKERS_ONE), 10, false, 5,
	  "* repeater", "long overs with a tone, always as strong" },
	{ "amateur", VOICE, BIT(SHAPE_TALK), BIT(BELOW_NOTHING), ANY, BIT(SPEAKERS_SEVERAL), 0,
	  false, 4, "*, direct", "no tone, and levels scatter" },
	{ NULL, ANY, ANY, ANY, ANY, ANY, 0, false, 1, "*", "the band plan's word" },
};

#define RULES (int)(sizeof rules / sizeof rules[0])

/* Whether the word is one of a list with blanks between. */
static bool one_of(const char *list, const char *word)
{
	size_t n = strlen(word);

	for (const char *at = list; n && *at; at += strcspn(at, " "), at += strspn(at, " "))
		if (strcspn(at, " ") == n && strncasecmp(at, word, n) == 0)
			return true;
	return false;
}

static bool holds(const struct rule *r, const struct clues *k)
{
	return (!r->services || one_of(r->services, k->service)) &&
	       (r->kinds == ANY || r->kinds & BIT(k->kind)) &&
	       (r->shapes == ANY || r->shapes & BIT(k->shape)) &&
	       (r->below == ANY || r->below & BIT(k->below)) &&
	       (r->pairs == ANY || r->pairs & BIT(k->pair)) && k->over_s >= r->least_s &&
	       (r->speakers == ANY || r->speakers & BIT(k->speakers)) && (!r->talks || k->talks);
}

/* One more, unless it is said already. */
static int add(struct guess *out, int n, const char *who, const char *title, const char *why)
{
	const char *star = strchr(who, '*');
	struct guess *g = &out[n];

	if (n >= GUESSES)
		return n;
	*g = (struct guess){ .why = why };
	if (star)
		snprintf(g->who, sizeof g->who, "%.*s%s%s", (int)(star - who), who, title,
			 star + 1);
	else
		snprintf(g->who, sizeof g->who, "%s", who);
	for (int i = 0; i < n; i++)
		if (strcmp(out[i].who, g->who) == 0)
			return n;
	return n + 1;
}

int guess_who(const struct clues *k, struct guess out[GUESSES])
{
	int n = 0, most = 0;

	for (size_t i = 0; i < sizeof everywhere / sizeof everywhere[0]; i++)
		if (everywhere[i].frequency.thirds == k->centre.thirds &&
		    one_of(everywhere[i].service, k->service))
			n = add(out, n, everywhere[i].who, k->title, everywhere[i].why);
	for (int i = 0; i < RULES; i++)
		most = rules[i].telling > most ? rules[i].telling : most;
	for (int telling = most; telling > 0; telling--)
		for (int i = 0; i < RULES; i++)
			if (rules[i].telling == telling && holds(&rules[i], k))
				n = add(out, n, rules[i].who, k->title, rules[i].why);
	return n;
}

/* As measured, or what the counts say where nothing was. */
static enum shape shape_of(const struct channel *ch)
{
	if (ch->traffic.shape != SHAPE_UNKNOWN)
		return ch->traffic.shape;
	if (ch->occupancy > CONTINUOUS_SHARE)
		return SHAPE_ALWAYS;
	if (ch->overs < 3 || ch->exchanges < 2)
		return SHAPE_UNKNOWN;
	return ch->over_s > 0 && ch->over_s < SHORT_S ? SHAPE_BURSTS : SHAPE_TALK;
}

struct clues guess_clues(const struct census *c, int channel, const struct interest *i)
{
	const struct channel *ch = &c->channel[channel];
	const struct nature *n = &ch->nature;
	const struct band *b = &c->band[ch->band];

	return (struct clues){
		.service = i->service[0] ? i->service : b->service,
		.title = i->title,
		.centre = ch->centre,
		.kind = ch->confidence >= SURE_KIND ? ch->kind : KIND_UNKNOWN,
		.talks = n->talks,
		.shape = shape_of(ch),
		.over_s = ch->over_s,
		.speakers = channel_speakers(ch),
		.below = n->believed < 1 ? BELOW_UNKNOWN : n->users.user[0].tone_ddhz ? BELOW_TONE :
			n->users.user[0].code ? BELOW_CODE : BELOW_NOTHING,
		.pair = ch->pair.is,
	};
}

char *guess_words(const struct guess *g, int n, char out[GUESS_WORDS])
{
	size_t at = 0;

	out[0] = '\0';
	for (int i = 0; i < n && at < GUESS_WORDS; i++) {
		bool why = i == 0 && n > 1;     /* the band plan's word needs none */
		at += (size_t)snprintf(out + at, GUESS_WORDS - at, "%s%s%s%s%s",
				       i ? ", or " : "probably ", g[i].who, why ? " (" : "",
				       why ? g[i].why : "", why ? ")" : "");
	}
	return out;
}
