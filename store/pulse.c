#include "store/pulse.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>

#include "store/picture.h"
#include "store/room.h"
#include "store/survey_file.h"
#include "store/text.h"

#define LIVE_US  (5 * STRIP_MINUTE_US)          /* newer than that is of now */
#define LAST_US  INT64_C(253402300799000000)    /* the year 9999 ends        */

static int64_t within(int64_t us)
{
	return us < 0 ? 0 : us > LAST_US ? LAST_US : us;
}

static int last_run(void *self, const struct run_row *row)
{
	*(struct run_row *)self = *row;
	return 0;
}

/* A query of the run in hand; from_us stands where it has ?2. NULL with why. */
static struct statement *of_run(struct survey *s, const char *sql, int64_t run, int64_t from_us,
				struct fault *why)
{
	struct statement *q = database_prepare(s->db, sql, why);

	if (!q)
		return NULL;
	statement_set_int(q, 1, run);
	statement_set_int(q, 2, from_us);
	return q;
}

/* The newest minute that the run has. A source with a clock of its own is not of this hour. */
static int find_now(struct survey *s, int64_t wall_us, struct pulse *p, struct fault *why)
{
	int64_t start = within(p->run.start_us), newest = start;

	if (s->version >= 2) {
		struct statement *q =
		    of_run(s,
			   "SELECT max(start_us + cells * cell_us) FROM strip WHERE run = ?1 AND"
			   " start_us >= (SELECT max(start_us) FROM strip) - ?2",
			   p->run.id, HOUR_US, why);
		int got = q ? statement_step(s->db, q, why) : -1;
		if (got < 0)
			return -1;
		newest = within(statement_int(q, 0));
		statement_reset(q);
	}
	newest = newest > start ? newest : start;
	if (p->run.end_us)
		newest = within(p->run.end_us);
	else if (llabs(wall_us - newest) < LIVE_US)
		newest = wall_us;
	p->now_us = newest > start ? newest : start;
	return 0;
}

/* Of a band's channels: what its looks add up to. */
static void count_band(struct pulse *p, int64_t channels, double looks, double *all_looks,
		       double *all_channels)
{
	double revisit = looks > 0 ? 1e-6 * (double)p->counted_us * (double)channels / looks : 0;

	if (revisit <= 0)
		return;
	*all_looks += looks;
	*all_channels += (double)channels;
	if (p->revisit_high_s == 0 || revisit < p->revisit_low_s)
		p->revisit_low_s = revisit;
	if (revisit > p->revisit_high_s)
		p->revisit_high_s = revisit;
}

/* Sums are of reals: a hostile file must not overflow them. */
static int count_looks(struct survey *s, struct pulse *p, struct fault *why)
{
	int64_t from = p->now_us - p->now_us % HOUR_US - HOUR_US, start = within(p->run.start_us);
	double looks = 0, channels = 0, clipped = 0, all = 0;
	int got;

	struct statement *q =
	    of_run(s,
		   "SELECT band, total(1.0 * looks * count), total(1.0 * clipped * count)"
		   " FROM coverage WHERE run = ?1 AND hour >= ?2 GROUP BY band",
		   p->run.id, from, why);
	if (!q)
		return -1;
	p->counted_us = p->now_us - (start > from ? start : from);
	while ((got = statement_step(s->db, q, why)) > 0) {
		int64_t band = statement_int(q, 0);
		if (band < 0 || band >= s->n_bands)
			continue;
		double n = (double)statement_int(q, 1);
		clipped += (double)statement_int(q, 2);
		all += n;
		count_band(p, s->bands[band].raster.count, n, &looks, &channels);
	}
	p->revisit_s = looks > 0 ? 1e-6 * (double)p->counted_us * channels / looks : 0;
	p->overload = all > 0 ? fmin(1, clipped / all) : 0;
	return got;
}

static int count_overs(struct survey *s, struct pulse *p, struct fault *why)
{
	/* They are entered as they end: the newest are the last, but for what several receivers
	 * heard. */
	struct statement *q =
	    of_run(s,
		   "SELECT last_us FROM transmission WHERE run = ?1 AND id > (SELECT max(id)"
		   " FROM transmission) - 100000 AND last_us >= ?2",
		   p->run.id, p->now_us - PULSE_SPAN_US, why);
	int got;

	if (!q)
		return -1;
	while ((got = statement_step(s->db, q, why)) > 0)
		p->overs++;
	return got;
}

/* ---- channels ---- */

/* Into its place among the busiest, if it has one. Not by the share of what was looked at: one
 * minute of one is not much. */
static void place(struct pulse_channel list[PULSE_CHANNELS], const struct pulse_channel *c)
{
	int at = PULSE_CHANNELS;

	while (at > 0 && (c->heard > list[at - 1].heard ||
			  (c->heard == list[at - 1].heard && c->peak_db > list[at - 1].peak_db)))
		at--;
	if (at == PULSE_CHANNELS)
		return;
	memmove(&list[at + 1], &list[at], (size_t)(PULSE_CHANNELS - 1 - at) * sizeof *list);
	list[at] = *c;
}

/* Whether the survey has nothing of a channel from before the span but what the cells since
 * from_us, the beginning of an hour, can tell. */
static int heard_before(struct survey *s, struct statement *first, int32_t band, int32_t channel,
			int64_t from_us, int64_t span_us, bool *before, struct fault *why)
{
	statement_set_int(first, 1, band);
	statement_set_int(first, 2, channel);
	statement_set_int(first, 3, from_us);
	statement_set_int(first, 4, span_us);
	int got = statement_step(s->db, first, why);
	if (got > 0) {
		*before = statement_int(first, 0) != 0;
		statement_reset(first);
	}
	return got < 0 ? -1 : 0;
}

struct recent {
	int64_t from_us, span_us;       /* of the cells; of what counts */
	int     cells, early;           /* early: those before the span */
	struct statement *first;
};

/* Of one channel, its cells every so many bytes. Whether any of them was looked at. */
static bool weigh(const uint8_t *cell, size_t every, const struct recent *n,
		  struct pulse_channel *c, bool *early)
{
	int most = STRIP_NOT_LOOKED;

	*early = false;
	for (int i = 0; i < n->cells; i++, cell += every) {
		if (i < n->early) {
			*early |= *cell >= STRIP_HEARD;
			continue;
		}
		c->looked += *cell != STRIP_NOT_LOOKED;
		c->heard += *cell >= STRIP_HEARD;
		most = *cell > most ? *cell : most;
	}
	c->peak_db = most - STRIP_HEARD;
	return c->looked > 0;
}

static int weigh_band(struct survey *s, int32_t band, const struct recent *n, const uint8_t *cells,
		      struct pulse *p, struct fault *why)
{
	const struct band *b = &s->bands[band];
	bool looked = false;

	for (int32_t ch = 0; ch < b->raster.count; ch++) {
		struct pulse_channel c = { .centre = raster_centre(&b->raster, ch) };
		bool before;
		looked |= weigh(cells + ch, (size_t)b->raster.count, n, &c, &before);
		if (c.heard == 0)
			continue;
		snprintf(c.band, sizeof c.band, "%s", b->id);
		p->heard++;
		place(p->busy, &c);
		if (!before &&
		    heard_before(s, n->first, band, ch, n->from_us, n->span_us, &before, why) < 0)
			return -1;
		if (before)
			continue;
		p->fresh++;
		place(p->new, &c);
	}
	size_t used = strlen(p->unseen_band);
	p->unseen += !looked;
	if (!looked)
		snprintf(p->unseen_band + used, sizeof p->unseen_band - used, "%s%s",
			 used ? ", " : "", b->id);
	return 0;
}

static int weigh_all(struct survey *s, struct pulse *p, struct fault *why)
{
	int64_t to = (p->now_us + STRIP_MINUTE_US - 1) / STRIP_MINUTE_US * STRIP_MINUTE_US;
	int64_t span = to - PULSE_SPAN_US;
	struct recent n = { .from_us = span - span % HOUR_US, .span_us = span };
	int result = 0;

	n.cells = (int)((to - n.from_us) / STRIP_MINUTE_US);
	n.early = (int)((span - n.from_us) / STRIP_MINUTE_US);
	n.first = database_prepare(
	    s->db,
	    "SELECT EXISTS(SELECT 1 FROM activity WHERE band = ?1 AND channel = ?2 AND hour < ?3)"
	    " OR EXISTS(SELECT 1 FROM transmission WHERE band = ?1 AND channel = ?2 AND"
	    " first_us < ?4)",
	    why);
	if (!n.first)
		return -1;
	for (int32_t b = 0; b < s->n_bands && result == 0; b++) {
		uint8_t *cells = malloc((size_t)n.cells * (size_t)s->bands[b].raster.count);
		if (!cells)
			return fault_set(why, FAULT_RETRY, "%s: out of memory", s->path);
		p->channels += s->bands[b].raster.count;
		result = picture_read(s, b, n.from_us, to, STRIP_MINUTE_US, cells, NULL, why);
		if (result == 0)
			result = weigh_band(s, b, &n, cells, p, why);
		free(cells);
	}
	p->bands = s->n_bands;
	return result;
}

/* ---- incidents ---- */

static void text_of(struct statement *q, int at, char *out, size_t size)
{
	snprintf(out, size, "%s", statement_text(q, at));
	text_tame(out);
}

static int incidents(struct survey *s, struct pulse *p, struct fault *why)
{
	int got;
	struct statement *q =
	    of_run(s,
		   "SELECT what, count(*), total(max(until_us - at_us, 0)) / 1e6 FROM incident"
		   " WHERE run = ?1 AND ?2 = 0 GROUP BY what ORDER BY what LIMIT 12",
		   p->run.id, 0, why);

	if (!q)
		return -1;
	while ((got = statement_step(s->db, q, why)) > 0 && p->whats < PULSE_WHATS) {
		text_of(q, 0, p->what[p->whats].what, sizeof p->what[0].what);
		p->what[p->whats].n = statement_int(q, 1);
		p->what[p->whats++].s = (double)statement_int(q, 2);
	}
	statement_reset(q);
	if (got < 0)
		return -1;
	q = of_run(s, "SELECT at_us, until_us, what, text FROM incident WHERE run = ?1 AND ?2 = 0"
		   " ORDER BY id DESC LIMIT 3", p->run.id, 0, why);
	if (!q)
		return -1;
	while ((got = statement_step(s->db, q, why)) > 0 && p->incidents < PULSE_INCIDENTS) {
		struct incident_row *i = &p->incident[p->incidents++];
		i->run = p->run.id;
		i->at_us = within(statement_int(q, 0));
		i->until_us = within(statement_int(q, 1));
		text_of(q, 2, i->what, sizeof i->what);
		text_of(q, 3, i->text, sizeof i->text);
	}
	statement_reset(q);
	return got < 0 ? -1 : 0;
}

/* ---- the file ---- */

static void log_path(const char *path, char out[PATH_MAX])
{
	snprintf(out, PATH_MAX, "%s-wal", path);
}

static int64_t changed_us(const char *path)
{
	struct stat st;

	if (stat(path, &st) < 0)
		return 0;
	return (int64_t)st.st_mtim.tv_sec * 1000000 + st.st_mtim.tv_nsec / 1000;
}

uint64_t pulse_mark(const char *path)
{
	char log[PATH_MAX];
	struct stat st;

	log_path(path, log);
	if (stat(path, &st) < 0)
		return 0;
	uint64_t mark =
	    (uint64_t)changed_us(path) * 31 + (uint64_t)st.st_size * 7 + (uint64_t)changed_us(log);
	return mark ? mark : 1;
}

static int look_at_file(struct survey *s, const char *path, struct pulse *p, struct fault *why)
{
	char log[PATH_MAX];
	struct room room;
	int64_t none;

	log_path(path, log);
	snprintf(p->file, sizeof p->file, "%s", path);
	text_tame(p->file);
	p->written_us = changed_us(path) > changed_us(log) ? changed_us(path) : changed_us(log);
	p->disk_bytes = room_of(path, &room) < 0 ? -1 : room.free;
	return survey_size(s, &p->bytes, &none, why);
}

int pulse_read(const char *path, int64_t wall_us, struct pulse *out, struct fault *why)
{
	int result = -1;

	*out = (struct pulse){ 0 };
	struct survey *s = survey_glance(path, why);
	if (!s || survey_each_run(s, last_run, &out->run, why) < 0)
		goto out;
	if (out->run.id == 0) {
		fault_set(why, FAULT_INPUT, "%s: has no run yet, let the daemon write it first",
			  path);
		goto out;
	}
	if (look_at_file(s, path, out, why) == 0 && find_now(s, wall_us, out, why) == 0 &&
	    count_looks(s, out, why) == 0 && count_overs(s, out, why) == 0 &&
	    weigh_all(s, out, why) == 0 && incidents(s, out, why) == 0)
		result = 0;
out:
	survey_close(s);
	return result;
}
