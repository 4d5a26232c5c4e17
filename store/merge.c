#include "store/merge.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>

#include "store/draft.h"
#include "store/picture.h"

/* A run of one of the surveys, and what becomes of it. */
struct origin {
	int            inlet;
	struct run_row row;             /* with its id there                       */
	int64_t        looks;           /* of all its coverage                     */
	bool           again;           /* another one is the same, and kept       */
	int64_t        id;              /* in the new survey                       */
};

struct inlet {
	struct survey *s;
	int32_t       *band;            /* [bands there] index in the new survey   */
	int            got;             /* 1: row is its next one, to be put       */
	union any_row  row;
};

struct merger {
	struct inlet  *inlet;
	int            inlets;
	struct band   *band;
	int            bands;
	struct origin *origin;          /* by start                                */
	int            origins;
	struct draft   draft;
};

/* ---- what is to go together ---- */

static int no_memory(const struct survey *s, struct fault *why)
{
	return fault_set(why, FAULT_RETRY, "%s: out of memory", s->path);
}

static bool same_raster(const struct raster *a, const struct raster *b)
{
	return a->first.thirds == b->first.thirds && a->step.thirds == b->step.thirds &&
	       a->count == b->count;
}

static int unite_band(struct merger *m, struct inlet *in, int32_t b, struct fault *why)
{
	const struct band *of = &in->s->bands[b];

	for (int i = 0; i < m->bands; i++)
		if (strcmp(m->band[i].id, of->id) == 0) {
			in->band[b] = i;
			if (m->band[i].split[0].thirds == 0)
				memcpy(m->band[i].split, of->split, sizeof of->split);
			if (same_raster(&m->band[i].raster, &of->raster))
				return 0;
			return fault_set(why, FAULT_INPUT,
					 "%s: its band %s has other channels than that of the "
					 "surveys before it, such can't be merged",
					 in->s->path, of->id);
		}
	struct band *more = reallocarray(m->band, (size_t)m->bands + 1, sizeof *more);
	if (!more)
		return no_memory(in->s, why);
	m->band = more;
	in->band[b] = m->bands;
	m->band[m->bands++] = *of;
	return 0;
}

static int unite_bands(struct merger *m, struct inlet *in, struct fault *why)
{
	in->band = calloc((size_t)in->s->n_bands + 1, sizeof *in->band);
	if (!in->band)
		return no_memory(in->s, why);
	for (int32_t b = 0; b < in->s->n_bands; b++)
		if (unite_band(m, in, b, why) < 0)
			return -1;
	return 0;
}

static struct origin *origin_of(struct merger *m, int inlet, int64_t run)
{
	for (int i = 0; i < m->origins; i++)
		if (m->origin[i].inlet == inlet && m->origin[i].row.id == run)
			return &m->origin[i];
	return NULL;
}

static int list_runs(struct merger *m, int inlet, struct fault *why)
{
	struct survey *s = m->inlet[inlet].s;
	struct run_row row;
	struct coverage_row c;
	int got;

	while ((got = survey_next_row(s, TABLE_RUN, &row, why)) > 0) {
		struct origin *more = reallocarray(m->origin, (size_t)m->origins + 1, sizeof *more);
		if (!more)
			return no_memory(s, why);
		m->origin = more;
		m->origin[m->origins++] = (struct origin){ .inlet = inlet, .row = row };
	}
	while (got == 0 && (got = survey_next_row(s, TABLE_COVERAGE, &c, why)) > 0) {
		struct origin *o = origin_of(m, inlet, c.run);
		if (o)
			o->looks += c.looks;
		got = 0;
	}
	return got;
}

static int by_start(const void *a, const void *b)
{
	const struct origin *x = a, *y = b;
	int order = (x->row.start_us > y->row.start_us) - (x->row.start_us < y->row.start_us);

	if (!order)
		order = strcmp(x->row.station, y->row.station);
	if (!order)
		order = strcmp(x->row.source, y->row.source);
	if (!order)             /* the same run: most looks first, then the longer one */
		order = (x->looks < y->looks) - (x->looks > y->looks);
	if (!order)
		order = (x->row.end_us < y->row.end_us) - (x->row.end_us > y->row.end_us);
	return order ? order : x->inlet - y->inlet;
}

static bool same_run(const struct run_row *a, const struct run_row *b)
{
	return a->start_us == b->start_us && strcmp(a->station, b->station) == 0 &&
	       strcmp(a->source, b->source) == 0;
}

static void tell_again(const struct merger *m, const struct origin *kept, const struct origin *o,
		       void (*say)(void *self, const char *line), void *self)
{
	char line[2 * PATH_MAX + 200], when[32];
	time_t s = (time_t)(o->row.start_us / 1000000);
	struct tm tm;

	gmtime_r(&s, &tm);
	strftime(when, sizeof when, "%Y-%m-%dT%H:%M:%SZ", &tm);
	snprintf(line, sizeof line, "%s: its run of %s at %s is in %s too, and is kept once",
		 m->inlet[o->inlet].s->path, when, o->row.station, m->inlet[kept->inlet].s->path);
	say(self, line);
}

static void find_again(struct merger *m, void (*say)(void *self, const char *line), void *self,
		       struct merge_sum *sum)
{
	const struct origin *kept = NULL;

	if (m->origins)
		qsort(m->origin, (size_t)m->origins, sizeof *m->origin, by_start);
	for (int i = 0; i < m->origins; i++) {
		struct origin *o = &m->origin[i];
		o->again = kept && same_run(&kept->row, &o->row);
		sum->again += o->again;
		if (o->again && say)
			tell_again(m, kept, o, say, self);
		if (!o->again)
			kept = o;
	}
}

/* ---- the new file ---- */

static int put_runs(struct merger *m, struct merge_sum *sum, struct fault *why)
{
	for (int i = 0; i < m->origins; i++) {
		struct origin *o = &m->origin[i];
		bool new_site = true;
		if (o->again)
			continue;
		if (survey_add_row(m->draft.survey, TABLE_RUN, &o->row, why) < 0)
			return -1;
		o->id = database_last_id(m->draft.survey->db);
		sum->runs++;
		for (int k = 0; k < i; k++)
			new_site &= strcmp(m->origin[k].row.station, o->row.station) != 0;
		sum->sites += new_site;
	}
	return 0;
}

/* One row goes over, with the run and the band it has there. */
static int put_row(struct merger *m, int inlet, enum table_id t, union any_row *row,
		   struct fault *why)
{
	int64_t *run = survey_row_run(t, row);
	int32_t *band = survey_row_band(t, row);
	const struct origin *o = run ? origin_of(m, inlet, *run) : NULL;

	if (run && !o)
		return survey_damaged(m->inlet[inlet].s, t, "run", why);
	if (run && o->again)
		return 0;
	if (t == TABLE_STRIP && picture_check(m->inlet[inlet].s, &row->strip, why) < 0)
		return -1;
	if (run)
		*run = o->id;
	if (band)
		*band = m->inlet[inlet].band[*band];
	return survey_add_row(m->draft.survey, t, row, why);
}

/* By band, channel and time: so they are read, and a file that holds them so is read in one go. */
static bool comes_before(const struct inlet *a, const struct inlet *b)
{
	const struct transmission_row *x = &a->row.transmission, *y = &b->row.transmission;
	int32_t left = a->band[x->band], right = b->band[y->band];

	if (left != right)
		return left < right;
	if (x->channel != y->channel)
		return x->channel < y->channel;
	return x->first_us < y->first_us;
}

static int put_transmissions(struct merger *m, struct fault *why)
{
	const enum table_id t = TABLE_TRANSMISSION;

	for (int i = 0; i < m->inlets; i++)
		if ((m->inlet[i].got = survey_next_row(m->inlet[i].s, t, &m->inlet[i].row, why)) <
		    0)
			return -1;
	for (;;) {
		int next = -1;
		for (int i = 0; i < m->inlets; i++)
			if (m->inlet[i].got &&
			    (next < 0 || comes_before(&m->inlet[i], &m->inlet[next])))
				next = i;
		if (next < 0)
			return 0;
		struct inlet *in = &m->inlet[next];
		if (put_row(m, next, t, &in->row, why) < 0 ||
		    (in->got = survey_next_row(in->s, t, &in->row, why)) < 0)
			return -1;
	}
}

static int put_table(struct merger *m, enum table_id t, struct fault *why)
{
	union any_row row;

	for (int i = 0; i < m->inlets; i++) {
		int got;
		while ((got = survey_next_row(m->inlet[i].s, t, &row, why)) > 0)
			if (put_row(m, i, t, &row, why) < 0)
				return -1;
		if (got < 0)
			return -1;
	}
	return 0;
}

static int write_draft(struct merger *m, struct merge_sum *sum, struct fault *why)
{
	if (survey_begin(m->draft.survey, why) < 0 ||
	    survey_lay_out(m->draft.survey, m->band, m->bands, why) < 0 ||
	    put_runs(m, sum, why) < 0)
		return -1;
	for (enum table_id t = TABLE_RUN + 1; t < TABLE_COUNT; t++)
		if ((t == TABLE_TRANSMISSION ? put_transmissions(m, why) : put_table(m, t, why)) <
		    0)
			return -1;
	return survey_commit(m->draft.survey, why);
}

static void merger_clear(struct merger *m)
{
	for (int i = 0; i < m->inlets; i++) {
		survey_close(m->inlet[i].s);
		free(m->inlet[i].band);
	}
	draft_drop(&m->draft);
	free(m->inlet);
	free(m->origin);
	free(m->band);
	free(m);
}

static int gather(struct merger *m, char *const *from, int n, struct fault *why)
{
	for (int i = 0; i < n; i++) {
		m->inlet[i].s = survey_read(from[i], why);
		if (!m->inlet[i].s)
			return -1;
		m->inlets = i + 1;
		if (unite_bands(m, &m->inlet[i], why) < 0 || list_runs(m, i, why) < 0)
			return -1;
	}
	return 0;
}

int survey_merge(const char *out, char *const *from, int n,
		 void (*say)(void *self, const char *line), void *self,
		 struct merge_sum *sum, struct fault *why)
{
	struct merger *m = calloc(1, sizeof *m);
	int result = -1;

	*sum = (struct merge_sum){ 0 };
	if (m)
		m->inlet = calloc((size_t)n + 1, sizeof *m->inlet);
	if (!m || !m->inlet) {
		free(m);
		return fault_set(why, FAULT_RETRY, "%s: out of memory", out);
	}
	if (draft_open(&m->draft, out, why) < 0 || gather(m, from, n, why) < 0)
		goto out;
	find_again(m, say, self, sum);
	if (write_draft(m, sum, why) < 0)
		goto out;
	sum->bands = m->bands;
	result = draft_finish(&m->draft, out, why);
out:
	merger_clear(m);
	return result;
}
