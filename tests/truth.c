#include "tests/test.h"

#include "tests/truth.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

/* Cuts a line at its commas, in place; how many cells. */
static int cells(char *line, char **cell, int most)
{
	int n = 0;

	line[strcspn(line, "\r\n")] = '\0';
	for (char *at = line; at && n < most; at = strchr(at, ',') ? strchr(at, ',') + 1 : NULL)
		cell[n++] = at;
	for (int i = 1; i < n; i++)
		cell[i][-1] = '\0';
	return n;
}

static double ratio(const char *text)
{
	char *end;
	double x = strtod(text, &end);

	return *end == '/' ? x / strtod(end + 1, NULL) : x;
}

/* "# emitter,Tower,air,118450000,AM,am,0.0,-74.0" */
static void add_sender(struct truth *t, char **cell)
{
	t->of = realloc(t->of, (size_t)(t->senders + 1) * sizeof *t->of);
	assert_non_null(t->of);
	struct sender_told *s = &t->of[t->senders++];
	*s = (struct sender_told){ .hz = ratio(cell[3]), .level_dbm = strtod(cell[7], NULL) };
	snprintf(s->role, sizeof s->role, "%s", cell[0]);
	snprintf(s->name, sizeof s->name, "%s", cell[1]);
	snprintf(s->service, sizeof s->service, "%s", cell[2]);
	snprintf(s->mode, sizeof s->mode, "%s", cell[4]);
	snprintf(s->kind, sizeof s->kind, "%s", cell[5]);
}

static struct sender_told *named(const struct truth *t, const char *name)
{
	for (int i = 0; i < t->senders; i++)
		if (strcmp(t->of[i].name, name) == 0)
			return &t->of[i];
	fail_msg("the truth has no \"%s\"", name);
	return NULL;
}

const struct sender_told *truth_named(const struct truth *t, const char *name)
{
	return named(t, name);
}

/* Room doubles: a power of two is full. */
static void add_sent(struct sender_told *s, struct sent one)
{
	if ((s->n & (s->n - 1)) == 0)
		s->sent = realloc(s->sent, (size_t)(s->n ? 2 * s->n : 1) * sizeof *s->sent);
	assert_non_null(s->sent);
	s->sent[s->n++] = one;
}

struct truth *truth_read(const char *path, int64_t start_us, double seconds)
{
	struct truth *t = calloc(1, sizeof *t);
	struct sender_told *last = NULL;
	char line[512], *cell[16];
	FILE *f = fopen(path, "r");

	assert_true(t && f);
	t->start_us = start_us;
	t->seconds = seconds;
	while (fgets(line, sizeof line, f)) {
		bool who = strncmp(line, "# ", 2) == 0;
		int n = cells(line + (who ? 2 : 0), cell, 16);
		if (who && n == 8 && strstr("emitter birdie noise ghost", cell[0]))
			add_sender(t, cell);
		if (who || n != 13 || strcmp(cell[0], "name") == 0)
			continue;
		if (!last || strcmp(last->name, cell[0]) != 0)
			last = named(t, cell[0]);
		add_sent(last, (struct sent){ 1e-6 * (double)(strtoll(cell[8], NULL, 10) - start_us),
			1e-6 * (double)(strtoll(cell[9], NULL, 10) - start_us), strtod(cell[11], NULL) });
	}
	fclose(f);
	assert_true(t->senders > 0);
	return t;
}

void truth_free(struct truth *t)
{
	for (int i = 0; t && i < t->senders; i++)
		free(t->of[i].sent);
	if (t)
		free(t->of);
	free(t);
}

bool truth_is_input(const struct sender_told *s)
{
	size_t n = strlen(s->name);

	return n > 3 && strcmp(s->name + n - 3, " In") == 0;
}

bool truth_voice(const struct sender_told *s)
{
	return strcmp(s->role, "emitter") == 0 && (strcmp(s->kind, "nfm") == 0 || strcmp(s->kind, "am") == 0) &&
	       !truth_is_input(s);
}

const struct sender_told *truth_partner(const struct truth *t, const struct sender_told *s)
{
	static const char *const ends[2] = { " Out", " In" };

	for (int side = 0; side < 2; side++) {
		size_t n = strlen(s->name), cut = strlen(ends[side]);
		if (n <= cut || strcmp(s->name + n - cut, ends[side]) != 0)
			continue;
		for (int i = 0; i < t->senders; i++)
			if (strncmp(t->of[i].name, s->name, n - cut) == 0 &&
			    strcmp(t->of[i].name + (n - cut), ends[!side]) == 0)
				return &t->of[i];
	}
	return NULL;
}

const struct sender_told *truth_at(const struct truth *t, double hz, double reach_hz)
{
	const struct sender_told *best = NULL;

	for (int i = 0; i < t->senders; i++) {
		const struct sender_told *s = &t->of[i];
		bool fits = truth_voice(s) || truth_is_input(s);
		if (fits && fabs(s->hz - hz) <= (best ? fabs(best->hz - hz) : reach_hz))
			best = s;
	}
	return best;
}

double truth_air_s(const struct sender_told *s, double squelch_db, double from_s, double to_s)
{
	double air = 0;

	for (int i = 0; i < s->n; i++)
		if (s->sent[i].snr_db >= squelch_db)
			air += fmax(0, fmin(s->sent[i].off_s, to_s) - fmax(s->sent[i].on_s, from_s));
	return air;
}
