#include "tests/test.h"

#include "tests/points_inside.h"

#include <stdlib.h>

/* The points that look at a plan line by line. */

#define GUARD_HZ 6250.0         /* nearer than that, a receiver hears it */

static bool has_step(const struct reach *reach, double hz)
{
	for (int i = 0; i < reach->steps; i++)
		if (fabs(freq_to_hz(reach->step[i]) - hz) < 0.5)
			return true;
	return false;
}

static const struct reach *reach_of(const struct receiver *r, double hz, const char *mode)
{
	for (int i = 0; i < r->reaches; i++)
		for (int k = 0; k < MODE_COUNT; k++)
			if (strcmp(mode, mode_name((enum mode)k)) == 0 && r->reach[i].modes >> k & 1 &&
			    hz >= freq_to_hz(r->reach[i].low) && hz <= freq_to_hz(r->reach[i].high))
				return &r->reach[i];
	return NULL;
}

/* Comfortable for a narrow filter (common practice). */
static double error_most(const char *mode)
{
	return strcmp(mode, "WFM") == 0 ? 25000 : strcmp(mode, "AM") == 0 ? 2000 : 2500;
}

RULE(lands)
{
	const struct receiver *r = receiver_of(e);
	json_t *m;
	size_t i;

	MEMORIES(e->plan, i, m) {
		const char *mode = text_of(m, "mode");
		double landed = hz_of(m, "landed_hz"), step = hz_of(m, "step_hz");
		const struct reach *reach = reach_of(r, landed, mode);
		double steps = (landed - freq_to_hz(r->landing_base)) / step;
		double error = landed - hz_of(m, "frequency_hz");
		if (!reach || !has_step(reach, step))
			return SAY("%s is outside the coverage", where(m));
		if (fabs(steps - round(steps)) > 1e-4)
			return SAY("%s is no multiple of %g Hz", where(m), step);
		if (fabs(number_of(m, "error_hz") - error) > 1 || fabs(error) > error_most(mode) + 0.5)
			return SAY("%s is %.1f Hz off, and says %.1f", where(m), error, number_of(m, "error_hz"));
	}
	return true;
}

RULE(no_birdie)
{
	const struct truth *t = truth_of(e);
	const struct receiver *r = receiver_of(e);
	json_t *m;
	size_t i;

	MEMORIES(e->plan, i, m) {
		double hz = hz_of(m, "landed_hz");
		/* The dongle's follow its crystal, 33 ppm high, which the survey corrects for. */
		for (int k = 0; k < t->senders; k++)
			if (strcmp(t->of[k].role, "birdie") == 0 && fabs(t->of[k].hz * (1 + 33e-6) - hz) < GUARD_HZ)
				return SAY("%s is %s", where(m), t->of[k].name);
		for (int k = 0; k < r->birdies; k++)
			if (scanned(m) && fabs(freq_to_hz(r->birdie[k]) - hz) < 1)
				return SAY("%s is the set's own", where(m));
	}
	return true;
}

RULE(nothing_false)
{
	const struct truth *t = truth_of(e);
	json_t *m;
	size_t i;

	MEMORIES(e->plan, i, m) {
		double hz = hz_of(m, "frequency_hz");
		bool someone = false;
		for (int k = 0; k < t->senders; k++)
			someone |= strcmp(t->of[k].role, "emitter") == 0 && fabs(t->of[k].hz - hz) < 1;
		if (!someone)
			return SAY("%s: nobody is there", where(m));
	}
	return true;
}

RULE(nothing_endless)
{
	const struct truth *t = truth_of(e);
	json_t *m;
	size_t i;

	MEMORIES(e->plan, i, m)
		for (int k = 0; k < t->senders; k++)
			if (scanned(m) && fabs(t->of[k].hz - hz_of(m, "landed_hz")) < GUARD_HZ &&
			    truth_air_s(&t->of[k], SQUELCH_DB, 0, t->seconds) > 0.5 * t->seconds)
				return SAY("%s never ends: %s", where(m), t->of[k].name);
	return true;
}

RULE(no_data)
{
	const struct truth *t = truth_of(e);
	json_t *m;
	size_t i;

	MEMORIES(e->plan, i, m)
		for (int k = 0; k < t->senders; k++)
			if (scanned(m) && strcmp(t->of[k].kind, "data") == 0 &&
			    fabs(t->of[k].hz - hz_of(m, "frequency_hz")) < 2000)
				return SAY("%s is data: %s", where(m), t->of[k].name);
	return true;
}

RULE(priority)
{
	const struct truth *t = truth_of(e);
	int n = 0;
	json_t *m;
	size_t i;

	MEMORIES(e->plan, i, m) {
		if (!is(m, "priority"))
			continue;
		n++;
		const struct sender_told *s = truth_at(t, hz_of(m, "frequency_hz"), 1);
		if (!scanned(m) || !s || !truth_voice(s))
			return SAY("priority: %s is no scanned voice", where(m));
		/* What the survey can't know to a hair may pass by a fifth. */
		if (truth_air_s(s, SQUELCH_DB, 0, t->seconds) > 0.06 * t->seconds)
			return SAY("priority: %s is on too much", where(m));
	}
	return n <= 1 ? true : SAY("%d priority channels", n);
}

static bool mentions(const json_t *m, double hz)
{
	char mhz[40];

	int n = snprintf(mhz, sizeof mhz, "%.6f", hz / 1e6);
	while (mhz[n - 1] == '0')
		mhz[--n] = '\0';
	return strstr(text_of(m, "pair"), mhz) || strstr(text_of(m, "reason"), mhz);
}

/* From fewer overs of its input nobody can tell a pair. */
#define PAIR_OVERS 5

RULE(pairs)
{
	const struct truth *t = truth_of(e);

	for (int k = 0; k < t->senders; k++) {
		const struct sender_told *in = &t->of[k], *out = truth_partner(t, in);
		if (!out || !truth_is_input(in) || !reach_of(receiver_of(e), out->hz, "NFM"))
			continue;
		const json_t *heard_in = channel_at(e, in->hz), *heard_out = channel_at(e, out->hz);
		json_t *m_in = memory_at(e->plan, in->hz), *m_out = memory_at(e->plan, out->hz);
		bool wanted = heard_out && number_of(heard_out, "overs") >= PAIR_OVERS &&
			      strncmp(left_for(e, out->hz), "no room", 7) != 0;
		if (wanted && (!m_out || !scanned(m_out)))
			return SAY("%s is not scanned", out->name);
		if (m_in && m_out && scanned(m_in) && number_of(heard_in, "overs") >= PAIR_OVERS)
			return SAY("%s, an input with %g overs, is scanned", where(m_in), number_of(heard_in, "overs"));
		if (m_out && heard_in && number_of(heard_in, "overs") >= PAIR_OVERS && !mentions(m_out, in->hz))
			return SAY("%s does not name its input", where(m_out));
		if (m_in && !scanned(m_in) && !mentions(m_in, out->hz))
			return SAY("%s does not name its output", where(m_in));
	}
	return true;
}

/* 8.333 kHz channels: the carrier's place in its 25 kHz, named .000 (or .005), .010 and .015
 * (ICAO Annex 10; from memory). */
RULE(thirds)
{
	json_t *m;
	size_t i;

	MEMORIES(e->plan, i, m) {
		double hz = hz_of(m, "frequency_hz"), of = floor(hz / 25000 + 1e-6) * 25000;
		long place = lround((hz - of) / (25000.0 / 3));
		char name[20];
		if (hz < 118e6 || hz > 137e6 || place == 0)
			continue;
		snprintf(name, sizeof name, "%.3f", of / 1e6 + 0.005 * (double)(place + 1) - 1e-9);
		double step = hz_of(m, "step_hz");
		if (strcmp(text_of(m, "mode"), "AM") != 0 || (step != 5000 && fabs(step - 25000.0 / 3) > 1))
			return SAY("%s: %s in steps of %g", where(m), text_of(m, "mode"), step);
		if (strncmp(text_of(m, "name"), name, strlen(name)) != 0)
			return SAY("%s is called \"%s\", not %s", where(m), text_of(m, "name"), name);
	}
	return true;
}

RULE(modes)
{
	json_t *m;
	size_t i;

	MEMORIES(e->plan, i, m) {
		double hz = hz_of(m, "landed_hz");
		const char *want = hz > 87.5e6 && hz < 108e6 ? "WFM" : hz >= 108e6 && hz < 137e6 ? "AM" : "NFM";
		if (strcmp(text_of(m, "mode"), want) != 0)
			return SAY("%s is %s", where(m), text_of(m, "mode"));
	}
	return true;
}

RULE(no_doubles)
{
	json_t *m, *o;
	size_t i, k;

	MEMORIES(e->plan, i, m)
		MEMORIES(e->plan, k, o)
			if (k < i && scanned(m) && scanned(o) && !second_seat(m) && !second_seat(o) &&
			    hz_of(m, "landed_hz") == hz_of(o, "landed_hz"))
				return SAY("%s and %s", where(m), where(o));
	return true;
}

#define GAPS_LEAST 20           /* to judge a delay by */

/* Gaps between overs of one exchange, 8 s at most; the share that a delay covers. */
static double covered(const struct sender_told *s, double delay_s, int *gaps)
{
	int in = 0;

	*gaps = 0;
	for (int i = 1; i < s->n; i++) {
		double gap = s->sent[i].on_s - s->sent[i - 1].off_s;
		*gaps += gap < 8;
		in += gap < 8 && gap <= delay_s;
	}
	return *gaps ? (double)in / *gaps : 0;
}

/* It covers most of the true gaps, or is the longest there is, and is not twice as long as what covers
 * nearly all. Where no gaps were measured it is 2 s, or the next that can be set (common practice). */
static bool delay_fits(const struct evidence *e, const json_t *m, char words[POINTS_WORDS])
{
	const struct receiver *r = receiver_of(e);
	const struct sender_told *s = truth_at(truth_of(e), hz_of(m, "frequency_hz"), 1);
	const json_t *ch = channel_at(e, hz_of(m, "frequency_hz"));
	double delay = number_of(m, "delay_s"), longest = 1e-6 * (double)r->delay_us[r->delays - 1];
	int gaps;

	if (!json_is_object(json_object_get(json_object_get(ch, "traffic"), "gap_s")))
		return delay >= 2 || delay == longest ? true : SAY("%s: %g s, no gaps measured", where(m), delay);
	double share = s ? covered(s, delay, &gaps) : 0;
	if (!s || gaps < GAPS_LEAST)
		return true;
	if (share < 0.6 && delay < longest)
		return SAY("%s: %g s covers %.0f %% of %s's gaps", where(m), delay, 100 * share, s->name);
	if (delay > 2 && covered(s, delay / 2, &gaps) > 0.97)
		return SAY("%s: %g s, half would do for %s", where(m), delay, s->name);
	return true;
}

RULE(delays)
{
	const struct receiver *r = receiver_of(e);
	json_t *m;
	size_t i;

	MEMORIES(e->plan, i, m) {
		double delay = number_of(m, "delay_s");
		bool can = delay == 0;
		if (!scanned(m) && delay != 0)
			return SAY("%s is locked and has a delay", where(m));
		for (int k = 0; k < r->delays; k++)
			can |= fabs(1e-6 * (double)r->delay_us[k] - delay) < 1e-3;
		if (!can)
			return SAY("%s: %g s can't be set", where(m), delay);
		if (scanned(m) && !delay_fits(e, m, words))
			return false;
	}
	return true;
}

RULE(marked)
{
	json_t *m;
	size_t i;

	MEMORIES(e->plan, i, m) {
		const json_t *ch = channel_at(e, hz_of(m, "frequency_hz"));
		const char *words_of_it = text_of(m, "evidence"), *sure = text_of(m, "certainty");
		if (!ch)
			continue;
		if (number_of(ch, "level_db") < 7.5 && number_of(ch, "overs") > 0 && !strstr(words_of_it, "faint"))
			return SAY("%s, %g dB, is not called faint", where(m), number_of(ch, "level_db"));
		if (number_of(ch, "occupancy") < 0.5 && number_of(ch, "overs") < 3 && strcmp(sure, "weak") != 0)
			return SAY("%s, %g overs, is called %s", where(m), number_of(ch, "overs"), sure);
		if (number_of(ch, "overs") < 10 && number_of(ch, "occupancy") < 0.5 && strcmp(sure, "sure") == 0)
			return SAY("%s, %g overs, is called sure", where(m), number_of(ch, "overs"));
	}
	return true;
}

/* "23 overs, 20:20-02:06, median 52 dB", "always on: 1265 looks over 12 h, median 30 dB". */
RULE(explained)
{
	json_t *m;
	size_t i;

	MEMORIES(e->plan, i, m) {
		const char *heard = text_of(m, "evidence"), *sure = text_of(m, "certainty");
		int n, a, b, c, d;
		bool counted = sscanf(heard, "%d over%*[s,] %d:%d-%d:%d", &n, &a, &b, &c, &d) == 5 ||
			       sscanf(heard, "always on: %d looks over %d h", &n, &a) == 2;
		if (!counted || !strstr(heard, "median ") || !strstr(heard, " dB"))
			return SAY("%s: evidence is \"%.120s\"", where(m), heard);
		if (!text_of(m, "reason")[0] || !text_of(m, "name")[0] || !sure[0] || !strstr("weak likely sure", sure))
			return SAY("%s lacks a reason, a name or how sure it is", where(m));
	}
	return true;
}
