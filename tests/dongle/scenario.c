#include "tests/dongle/scenario.h"

#include <errno.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

/* What a word sets, and of what. */
enum of { OF_SCENARIO, OF_DONGLE, OF_MISCHIEF };
enum type { TYPE_NUMBER, TYPE_WHOLE, TYPE_LONG, TYPE_BOOL, TYPE_TEXT, TYPE_WHEN };

#define AT(of, field) offsetof(struct of, field), sizeof ((struct of *)0)->field

static const struct word {
	const char *word;
	enum of     of;
	enum type   type;
	size_t      at, size;
} words[] = {
	{ "town", OF_SCENARIO, TYPE_TEXT, AT(scenario, town) },
	{ "seed", OF_SCENARIO, TYPE_LONG, AT(scenario, seed) },
	{ "start", OF_SCENARIO, TYPE_LONG, AT(scenario, start_us) },
	{ "town_events", OF_SCENARIO, TYPE_BOOL, AT(scenario, town_events) },
	{ "control_us", OF_SCENARIO, TYPE_NUMBER, AT(scenario, control_us) },
	{ "i2c_us", OF_SCENARIO, TYPE_NUMBER, AT(scenario, i2c_us) },
	{ "settle_us", OF_SCENARIO, TYPE_NUMBER, AT(scenario, settle_us) },
	{ "image_db", OF_SCENARIO, TYPE_NUMBER, AT(scenario, image_db) },
	{ "spur_hz", OF_SCENARIO, TYPE_NUMBER, AT(scenario, spur_hz) },
	{ "spur_dbfs", OF_SCENARIO, TYPE_NUMBER, AT(scenario, spur_dbfs) },
	{ "third_dbfs", OF_SCENARIO, TYPE_NUMBER, AT(scenario, third_dbfs) },
	{ "leaps", OF_SCENARIO, TYPE_BOOL, AT(scenario, leaps) },
	{ "grace_ms", OF_SCENARIO, TYPE_NUMBER, AT(scenario, grace_ms) },
	{ "hastens", OF_SCENARIO, TYPE_BOOL, AT(scenario, hastens) },
	{ "speed", OF_SCENARIO, TYPE_NUMBER, AT(scenario, speed) },
	{ "ppm", OF_DONGLE, TYPE_NUMBER, AT(scenario_dongle, ppm) },
	{ "cold_ppm", OF_DONGLE, TYPE_NUMBER, AT(scenario_dongle, cold_ppm) },
	{ "warm_ppm", OF_DONGLE, TYPE_NUMBER, AT(scenario_dongle, warm_ppm) },
	{ "warm_up_s", OF_DONGLE, TYPE_NUMBER, AT(scenario_dongle, warm_up_s) },
	{ "of", OF_MISCHIEF, TYPE_WHOLE, AT(mischief, dongle) },
	{ "when", OF_MISCHIEF, TYPE_WHEN, AT(mischief, when) },
	{ "at", OF_MISCHIEF, TYPE_NUMBER, AT(mischief, at) },
	{ "for_s", OF_MISCHIEF, TYPE_NUMBER, AT(mischief, for_s) },
	{ "times", OF_MISCHIEF, TYPE_LONG, AT(mischief, times) },
	{ "value", OF_MISCHIEF, TYPE_NUMBER, AT(mischief, value) },
	{ "low_mhz", OF_MISCHIEF, TYPE_NUMBER, AT(mischief, low_mhz) },
	{ "high_mhz", OF_MISCHIEF, TYPE_NUMBER, AT(mischief, high_mhz) },
};

static const char *const kinds[MISCHIEF_KINDS] = {
	[MISCHIEF_VANISH] = "vanish", [MISCHIEF_SILENCE] = "silence", [MISCHIEF_ERROR] = "error",
	[MISCHIEF_TIMEOUT] = "timeout", [MISCHIEF_STALL] = "stall",
	[MISCHIEF_OVERFLOW] = "overflow", [MISCHIEF_EMPTY] = "empty", [MISCHIEF_SHORT] = "short",
	[MISCHIEF_DROP] = "drop", [MISCHIEF_UNLOCKED] = "unlocked",
	[MISCHIEF_REFUSED] = "refused", [MISCHIEF_MUTE] = "mute",
	[MISCHIEF_HANG_CONTROL] = "hang_control", [MISCHIEF_HANG_EVENTS] = "hang_events",
	[MISCHIEF_BUSY] = "busy", [MISCHIEF_DRIVER] = "driver", [MISCHIEF_DENIED] = "denied",
	[MISCHIEF_LATE_CANCEL] = "late_cancel", [MISCHIEF_NO_TUNER] = "no_tuner",
	[MISCHIEF_DEAF] = "deaf", [MISCHIEF_CLOCK] = "clock",
};

static const char *const whens[] = {
	[WHEN_TIME] = "time", [WHEN_BYTES] = "bytes", [WHEN_RETUNES] = "retunes",
	[WHEN_OPENS] = "opens",
};

#define COUNT(list) ((int)(sizeof (list) / sizeof (list)[0]))

/* Index of a name; -1: not in the list. */
static int named(const char *const *list, int count, const char *name)
{
	for (int i = 0; i < count; i++)
		if (list[i] && strcmp(list[i], name) == 0)
			return i;
	return -1;
}

struct scenario scenario_usual(void)
{
	struct scenario s = { .seed = 1, .leaps = true, .grace_ms = 30, .speed = 1 };

	scenario_dongle(&s, "00000001");
	return s;
}

void scenario_unhurried(struct scenario *s)
{
	s->hastens = true;
	s->speed = 0.1;
}

struct scenario_dongle *scenario_dongle(struct scenario *s, const char *serial)
{
	if (s->n_dongles == DONGLES_MOST)
		return NULL;
	struct scenario_dongle *d = &s->dongles[s->n_dongles++];
	snprintf(d->serial, sizeof d->serial, "%s", serial);
	return d;
}

struct mischief *scenario_mischief(struct scenario *s, enum mischief_kind kind)
{
	if (s->n_mischief == MISCHIEF_MOST)
		return NULL;
	struct mischief *m = &s->mischief[s->n_mischief++];
	*m = (struct mischief){ .kind = kind, .dongle = -1 };
	return m;
}

/* ---- reading ---- */

/* 0 when the text is no such value. */
static int set(const struct word *w, char *base, const char *text)
{
	char *end = NULL, *at = base + w->at;
	int when;

	errno = 0;
	switch (w->type) {
	case TYPE_NUMBER:
		*(double *)(void *)at = strtod(text, &end);
		break;
	case TYPE_WHOLE:
		*(int *)(void *)at = (int)strtol(text, &end, 10);
		break;
	case TYPE_LONG:
		*(int64_t *)(void *)at = strtoll(text, &end, 10);
		break;
	case TYPE_BOOL:
		*(bool *)at = strtol(text, &end, 10) != 0;
		break;
	case TYPE_TEXT:
		return snprintf(at, w->size, "%s", text) < (int)w->size;
	case TYPE_WHEN:
		when = named(whens, COUNT(whens), text);
		*(int *)(void *)at = when;
		return when >= 0;
	}
	return end != text && !*end && errno == 0;
}

/* What the words of that kind are about at present; NULL: nothing yet. */
static void *subject(struct scenario *s, enum of of)
{
	switch (of) {
	case OF_DONGLE:
		return s->n_dongles > 0 ? &s->dongles[s->n_dongles - 1] : NULL;
	case OF_MISCHIEF:
		return s->n_mischief > 0 ? &s->mischief[s->n_mischief - 1] : NULL;
	default:
		return s;
	}
}

static int take(struct scenario *s, const char *word, const char *text)
{
	int kind = named(kinds, MISCHIEF_KINDS, text);

	if (strcmp(word, "dongle") == 0)
		return scenario_dongle(s, text) != NULL;
	if (strcmp(word, "mischief") == 0)
		return kind > 0 && scenario_mischief(s, (enum mischief_kind)kind) != NULL;
	for (int i = 0; i < COUNT(words); i++)
		if (strcmp(words[i].word, word) == 0)
			return subject(s, words[i].of) &&
			       set(&words[i], subject(s, words[i].of), text);
	return 0;
}

int scenario_read(const char *path, struct scenario *out, struct fault *why)
{
	char line[512], word[64], text[400];
	FILE *f = fopen(path, "r");
	int n = 0, r = 0;

	if (!f)
		return fault_set(why, FAULT_INPUT, "%s: can't be read: %s", path, strerror(errno));
	*out = scenario_usual();
	out->n_dongles = 0;
	while (r == 0 && fgets(line, sizeof line, f)) {
		n++;
		int got = sscanf(line, " %63s %399[^\n]", word, text);
		if (got <= 0 || word[0] == '#')
			continue;
		if (got < 2 || !take(out, word, text))
			r = fault_set(why, FAULT_INPUT, "%s:%d: \"%s\" can't be set to that", path,
				      n, word);
	}
	fclose(f);
	return r;
}

/* ---- writing ---- */

static void write_value(FILE *f, const struct word *w, const char *base)
{
	const char *at = base + w->at;

	switch (w->type) {
	case TYPE_NUMBER:
		fprintf(f, "%s %.17g\n", w->word, *(const double *)(const void *)at);
		break;
	case TYPE_WHOLE:
		fprintf(f, "%s %d\n", w->word, *(const int *)(const void *)at);
		break;
	case TYPE_LONG:
		fprintf(f, "%s %lld\n", w->word, (long long)*(const int64_t *)(const void *)at);
		break;
	case TYPE_BOOL:
		fprintf(f, "%s %d\n", w->word, *(const bool *)at);
		break;
	case TYPE_TEXT:
		if (*at)
			fprintf(f, "%s %s\n", w->word, at);
		break;
	case TYPE_WHEN:
		fprintf(f, "%s %s\n", w->word, whens[*(const int *)(const void *)at]);
		break;
	}
}

static void write_all(FILE *f, enum of of, const void *base)
{
	for (int i = 0; i < COUNT(words); i++)
		if (words[i].of == of)
			write_value(f, &words[i], base);
}

void scenario_write(FILE *f, const struct scenario *s)
{
	write_all(f, OF_SCENARIO, s);
	for (int i = 0; i < s->n_dongles; i++) {
		fprintf(f, "dongle %s\n", s->dongles[i].serial);
		write_all(f, OF_DONGLE, &s->dongles[i]);
	}
	for (int i = 0; i < s->n_mischief; i++) {
		fprintf(f, "mischief %s\n", kinds[s->mischief[i].kind]);
		write_all(f, OF_MISCHIEF, &s->mischief[i]);
	}
}
