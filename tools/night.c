#include "tools/night.h"

/* One for each kind of row: hands it to the tally. */
static int run(void *self, const struct run_row *row)
{
	return tally_run(self, row);
}

static int coverage(void *self, const struct coverage_row *row)
{
	return tally_coverage(self, row);
}

static int activity(void *self, const struct activity_row *row)
{
	return tally_activity(self, row);
}

static int transmission(void *self, const struct transmission_row *row)
{
	return tally_transmission(self, row);
}

static int artefact(void *self, const struct artefact_row *row)
{
	return tally_artefact(self, row);
}

struct census *night_read(const char *path, int squelch_ddb, struct fault *why)
{
	const struct band *band;
	struct census *c = NULL;
	struct tally *t = NULL;
	struct survey *s = survey_read(path, why);

	if (!s)
		return NULL;
	/* What a see returns -1 for is want of memory; the survey fills why itself. */
	fault_set(why, FAULT_FATAL, "%s: no memory", path);
	int n = survey_bands(s, &band);
	t = tally_create(band, n, squelch_ddb);
	if (t && survey_each_run(s, run, t, why) == 0 &&
	    survey_each_coverage(s, coverage, t, why) == 0 &&
	    survey_each_activity(s, activity, t, why) == 0 &&
	    survey_each_transmission(s, transmission, t, why) == 0 &&
	    survey_each_artefact(s, artefact, t, why) == 0)
		c = tally_finish(t);
	tally_destroy(t);
	survey_close(s);
	return c;
}
