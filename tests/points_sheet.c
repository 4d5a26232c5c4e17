#include "tests/test.h"

#include "tests/points_inside.h"

#include <stdlib.h>

/* The sheet that is typed from. That a bank keeps to its page is for the printed one. */

#define WIDE 100

/* What is typed: "154.27"; what then stands there with so many digits: "154.2700". */
static void typed(char out[40], double hz)
{
	int n = snprintf(out, 40, "%.6f", round(hz) / 1e6);

	while (out[n - 1] == '0')
		out[--n] = '\0';
	if (out[n - 1] == '.')
		out[--n] = '\0';
}

static void shown(char out[40], double hz, int digits)
{
	int n = snprintf(out, 40, "%.6f", floor(hz + 0.01) / 1e6);

	out[n - 6 + digits] = '\0';
}

/* Its line, under its bank; NULL: there is none. */
static const char *line_of(const char *sheet, const json_t *m)
{
	char head[40];

	snprintf(head, sizeof head, "\nBANK %g ", number_of(m, "bank"));
	const char *at = strstr(sheet, head);
	if (!at)
		return NULL;
	const char *end = strstr(at + 1, "\nBANK ");
	snprintf(head, sizeof head, "\n  [ ] %3g  ", number_of(m, "slot"));
	const char *line = strstr(at, head);
	return line && (!end || line < end) ? line + strlen(head) : NULL;
}

/* Presses for one line after another: digits, point and enter; the rest where it differs. */
static int keys(const struct keypad *k, const json_t *m, const json_t *before)
{
	char text[40];

	typed(text, hz_of(m, "landed_hz"));
	int n = (int)strlen(text) + k->enter;
	n += !before || strcmp(text_of(m, "mode"), text_of(before, "mode")) != 0 ? k->mode : 0;
	n += !before || hz_of(m, "step_hz") != hz_of(before, "step_hz") ? k->step : 0;
	n += !before || number_of(m, "delay_s") != number_of(before, "delay_s") ? k->delay : 0;
	return n + (is(m, "locked") ? k->lockout : 0) + (is(m, "priority") ? k->priority : 0);
}

static bool keys_told(const struct evidence *e, char words[POINTS_WORDS])
{
	const json_t *before = NULL;
	int all = 0, told = -1;
	json_t *m;
	size_t i;

	MEMORIES(e->plan, i, m) {
		bool same_bank = before && number_of(before, "bank") == number_of(m, "bank");
		all += keys(&receiver_of(e)->keypad, m, same_bank ? before : NULL);
		before = m;
	}
	const char *at = strstr(e->sheet, "\nkeys ");
	if (at)
		sscanf(at, "\nkeys about %d", &told);
	return told == all ? true : SAY("%d keys are told, %d are pressed", told, all);
}

RULE(sheet)
{
	json_t *m;
	size_t i;

	for (const char *at = e->sheet; *at; at += strcspn(at, "\n"), at += *at != '\0')
		if (strcspn(at, "\n") > WIDE)
			return SAY("a line of %zu columns", strcspn(at, "\n"));
	MEMORIES(e->plan, i, m) {
		char type[40], shows[40], told_type[40], told_shows[40], mode[8];
		const char *line = line_of(e->sheet, m);
		typed(type, hz_of(m, "landed_hz"));
		shown(shows, hz_of(m, "landed_hz"), receiver_of(e)->display_digits);
		if (!line || sscanf(line, "%39s %39s %7s", told_type, told_shows, mode) != 3)
			return SAY("%s is not on the sheet", where(m));
		if (strcmp(told_type, type) != 0 || strcmp(told_shows, shows) != 0 ||
		    strcmp(mode, text_of(m, "mode")) != 0)
			return SAY("%s: type %s, shows %s, want %s and %s", where(m), told_type, told_shows, type,
				   shows);
	}
	return keys_told(e, words);
}
