#include "tools/page/report.h"

#include <math.h>
#include <string.h>

/* Classes of a histogram: from one edge to the next; the last has no end. */
#define CLASSES 8
#define BARS_OVERS 5

struct spread_row {
	const char *name, *unit;
	double      edge[CLASSES];      /* lower ends, rising */
};

static const struct spread_row length_row = { "overs seen for",
					      "s",
					      { 0, 1, 2, 5, 10, 30, 60, 300 } };
static const struct spread_row gap_row = { "gaps between",
					   "s",
					   { 0, 1, 3, 8, 30, 120, 600, 3600 } };
static const struct spread_row level_row = { "levels", "dB", { 0, 8, 12, 16, 20, 30, 40, 50 } };

static int class_of(const struct spread_row *s, double v)
{
	int i = CLASSES - 1;

	while (i > 0 && v < s->edge[i])
		i--;
	return i;
}

/* "overs last: 3 below 1 s, 12 of 1-2 s". */
static void words(struct html *h, const struct spread_row *s, const int n[CLASSES])
{
	bool any = false;

	for (int i = 0; i < CLASSES; i++) {
		if (n[i] == 0)
			continue;
		html_textf(h, any ? ", %d " : "%d ", n[i]);
		if (i == 0)
			html_textf(h, "below %g", s->edge[1]);
		else if (i == CLASSES - 1)
			html_textf(h, "from %g on", s->edge[i]);
		else
			html_textf(h, "of %g-%g", s->edge[i], s->edge[i + 1]);
		any = true;
	}
	html_textf(h, " %s", s->unit);
}

/* At that place of the picture. */
static size_t bars(char *path, size_t room, const int n[CLASSES], int left)
{
	size_t at = 0;
	int most = 1;

	for (int i = 0; i < CLASSES; i++)
		most = n[i] > most ? n[i] : most;
	for (int i = 0; i < CLASSES && at < room; i++)
		if (n[i] > 0)
			at += (size_t)snprintf(path + at, room - at, "M%d 16v-%.0fh7V16z",
					       left + 8 * i, fmax(1, 16.0 * n[i] / most));
	return at;
}

struct counts {
	int length[CLASSES], gap[CLASSES], level[CLASSES];
};

static void count(struct counts *s, const struct census *c, const struct channel *ch)
{
	for (int i = 0; i < ch->overs; i++) {
		const struct over *o = &c->over[ch->over + i];
		s->length[class_of(&length_row, 1e-6 * (double)(o->last_us - o->first_us))]++;
		s->level[class_of(&level_row, 0.1 * o->level_ddb)]++;
		if (i > 0)
			s->gap[class_of(&gap_row, 1e-6 * (double)(o->first_us - o[-1].last_us))]++;
	}
}

void page_bars(struct html *h, const struct census *c, const struct channel *ch)
{
	char path[3 * CLASSES * 24] = "";
	struct counts s = { 0 };

	/* Of few, figures are plainer. */
	if (ch->overs < BARS_OVERS)
		return;
	count(&s, c, ch);
	size_t at = bars(path, sizeof path, s.length, 0);
	at += bars(path + at, sizeof path - at, s.gap, 90);
	bars(path + at, sizeof path - at, s.level, 180);
	html_open(h, "svg", "class", "bars", "width", "244", "height", "18", "aria-hidden", "true",
		  NULL);
	html_void(h, "path", "d", path, NULL);
	html_close(h);
}

static void row(struct html *h, const struct spread_row *s, const int n[CLASSES])
{
	int all = 0;

	for (int i = 0; i < CLASSES; i++)
		all += n[i];
	if (all == 0)
		return;
	html_textf(h, "%s: ", s->name);
	words(h, s, n);
	html_ours(h, "\n");
}

void page_spread(struct html *h, const struct census *c, const struct channel *ch)
{
	struct counts s = { 0 };

	count(&s, c, ch);
	row(h, &length_row, s.length);
	row(h, &gap_row, s.gap);
	row(h, &level_row, s.level);
}
