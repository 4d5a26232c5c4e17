#include "tools/page/report.h"

#include <stdlib.h>

struct reading {
	struct report         *report;
	const struct narrowed *part;
};

/* Room for one more row behind n; NULL: no memory. It grows at powers of two. */
static void *more(void **array, int n, size_t size)
{
	if ((n & (n - 1)) == 0) {
		void *grown = realloc(*array, (n ? 2 * (size_t)n : 1) * size);
		if (!grown)
			return NULL;
		*array = grown;
	}
	return (char *)*array + (size_t)n * size;
}

static int run(void *self, const struct run_row *row)
{
	struct reading *in = self;
	struct report *r = in->report;
	void *array = r->run;

	if (!narrow_has(in->part, row->id, row->start_us, row->end_us ? row->end_us : INT64_MAX))
		return 0;
	struct run_row *to = more(&array, r->runs, sizeof *to);
	r->run = array;
	if (!to)
		return -1;
	*to = *row;
	r->runs++;
	return 0;
}

static int incident(void *self, const struct incident_row *row)
{
	struct reading *in = self;
	struct report *r = in->report;
	void *array = r->incident;

	if (!narrow_has(in->part, row->run, row->at_us,
			row->until_us > row->at_us ? row->until_us : row->at_us + 1))
		return 0;
	struct incident_row *to = more(&array, r->incidents, sizeof *to);
	r->incident = array;
	if (!to)
		return -1;
	*to = *row;
	r->incidents++;
	return 0;
}

static int find_outcomes(struct report *r)
{
	const struct plan *p = r->plan;

	r->outcome = calloc((size_t)r->told.census->channels + 1, sizeof *r->outcome);
	if (!r->outcome)
		return -1;
	for (int i = 0; p && i < p->memories; i++)
		if (p->memory[i].channel >= 0 && p->memory[i].same_as.bank == 0)
			r->outcome[p->memory[i].channel].memory = &p->memory[i];
	for (int i = 0; p && i < p->lefts; i++)
		r->outcome[p->left[i].channel].left = &p->left[i];
	return 0;
}

/* Each bank with a memory that is scanned, played alone. */
static int rehearse_banks(struct report *r)
{
	struct repertoire on = { 0 };
	int result = -1;

	if (!r->plan)
		return 0;
	if (repertoire_create(&on, r->told.census) < 0)
		goto out;
	uint64_t banks = review_banks(r->plan);
	for (int b = 0; b < 64; b++) {
		if (!(banks >> b & 1))
			continue;
		if (review_create(r->plan, r->told.census, r->receiver, &on, UINT64_C(1) << b,
				  &r->review[r->reviews]) < 0)
			goto out;
		r->reviews++;
	}
	result = 0;
out:
	repertoire_free(&on);
	return result;
}

int report_read(struct report *r, const char *path, const struct night_wants *wants,
		struct fault *why)
{
	struct narrowed part = { 0 };
	struct reading in = { r, &part };
	struct survey *s = survey_read(path, why);
	int result = -1;

	if (!s || narrow(wants, s, path, &part, why) < 0)
		goto out;
	/* What a see returns -1 for is want of memory; the survey fills why itself. */
	fault_set(why, FAULT_FATAL, "%s: no memory", path);
	if (find_outcomes(r) == 0 && rehearse_banks(r) == 0 &&
	    survey_each_run(s, run, &in, why) == 0 &&
	    survey_each_incident(s, incident, &in, why) == 0)
		result = panorama_read(s, &part, r->told.census, &r->panorama, why);
out:
	narrow_free(&part);
	survey_close(s);
	return result;
}

void report_free(struct report *r)
{
	panorama_free(&r->panorama);
	for (int i = 0; i < r->reviews; i++)
		review_free(&r->review[i]);
	free(r->outcome);
	free(r->run);
	free(r->incident);
}
