#include "tools/night.h"

#include "tools/plan/words.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

/* ---- bands ---- */

static bool named(const struct option_texts *of, const char *name)
{
	for (int i = 0; i < of->n; i++)
		if (strcmp(of->at[i], name) == 0)
			return true;
	return false;
}

/* The names that the survey has, each once, for a complaint. Returns how many. */
static int name_all(const struct band *band, int n, bool services, const char **name)
{
	int names = 0;

	for (int i = 0; i < n; i++) {
		int k = 0;
		name[names] = services ? band[i].service : band[i].id;
		while (strcmp(name[k], name[names]) != 0)
			k++;
		names += k == names;
	}
	return names;
}

static int unknown_name(const char *option, const char *word, const struct band *band, int n,
			const char *path, struct fault *why)
{
	const char **name = calloc((size_t)n + 1, sizeof *name);
	char all[300];
	size_t at = 0;

	if (!name)
		return fault_set(why, FAULT_FATAL, "%s: no memory", path);
	int names = name_all(band, n, strcmp(option, "service") == 0, name);
	const char *meant = word_nearest(word, name, names);
	for (int i = 0; i < names && at + 40 < sizeof all; i++)
		at += (size_t)snprintf(all + at, sizeof all - at, "%s%s", i ? ", " : "", name[i]);
	if (at + 40 >= sizeof all)
		snprintf(all + at, sizeof all - at, " and others");
	fault_set(why, FAULT_INPUT, "%s: has no %s \"%.40s\", %s %s", path, option, word,
		  meant ? "did you mean" : "must be one of", meant ? meant : all);
	free(name);
	return -1;
}

static int check_names(const struct option_texts *of, const char *option, const struct band *band,
		       int n, const char *path, struct fault *why)
{
	bool services = strcmp(option, "service") == 0;

	for (int i = 0; i < of->n; i++) {
		int b = 0;
		while (b < n && strcmp(services ? band[b].service : band[b].id, of->at[i]) != 0)
			b++;
		if (b == n)
			return unknown_name(option, of->at[i], band, n, path, why);
	}
	return 0;
}

/* What was chosen: "bands air, marine; service fire". */
static void words_part(const struct night_wants *w, char *out, size_t size)
{
	const struct { const char *what; const struct option_texts *of; } kinds[] = {
		{ "band", &w->band }, { "service", &w->service },
	};
	size_t at = 0;

	out[0] = '\0';
	for (int k = 0; k < 2; k++)
		for (int i = 0; i < kinds[k].of->n && at < size; i++)
			at += (size_t)snprintf(out + at, size - at,
					       i  ? ", %s" :
					       at ? "; %s %s" :
						    "%s %s",
					       i ? kinds[k].of->at[i] : kinds[k].what,
					       kinds[k].of->at[i]);
}

static int choose_bands(const struct night_wants *w, struct survey *s, const char *path,
			struct narrowed *out, struct fault *why)
{
	const struct band *band;
	int n = survey_bands(s, &band);
	bool all = w->band.n == 0 && w->service.n == 0;

	if (check_names(&w->band, "band", band, n, path, why) < 0 ||
	    check_names(&w->service, "service", band, n, path, why) < 0)
		return -1;
	out->band = calloc((size_t)n + 1, sizeof *out->band);
	out->band_of = calloc((size_t)n + 1, sizeof *out->band_of);
	if (!out->band || !out->band_of)
		return fault_set(why, FAULT_FATAL, "%s: no memory", path);
	words_part(w, out->words, sizeof out->words);
	for (int b = 0; b < n; b++) {
		bool wanted =
		    all || named(&w->band, band[b].id) || named(&w->service, band[b].service);
		out->band_of[b] = wanted ? out->bands : -1;
		if (wanted)
			out->band[out->bands++] = band[b];
	}
	return 0;
}

/* ---- times ---- */

struct beginning {
	const struct site *site;
	int64_t            us;          /* INT64_MAX: no run yet */
};

static int earliest(void *self, const struct run_row *row)
{
	struct beginning *b = self;

	if (site_has(b->site, row->id) && row->start_us < b->us)
		b->us = row->start_us;
	return 0;
}

static int whole_hour(const struct moment *m, const char *name, int64_t us, struct fault *why)
{
	char nearest[TIME_TEXT];

	if (us % HOUR_US == 0)
		return 0;
	return fault_set(why, FAULT_INPUT,
			 "--%s is \"%.40s\", must be at a whole hour of UTC, for so a survey "
			 "keeps its accounts: %s",
			 name, m->text, words_time(nearest, us - us % HOUR_US));
}

static int choose_times(const struct night_wants *w, struct survey *s, const char *path,
			struct narrowed *out, struct fault *why)
{
	struct beginning b = { &out->site, INT64_MAX };

	out->since_us = INT64_MIN;
	out->until_us = INT64_MAX;
	if (!w->since.given && !w->until.given)
		return 0;
	if (survey_each_run(s, earliest, &b, why) != 0)
		return -1;
	/* 20:00 of a survey that began at 20:07 is that evening's. */
	int64_t after = b.us == INT64_MAX ? 0 : b.us - b.us % HOUR_US;
	if (w->since.given &&
	    (moment_us(&w->since, after, false, "since", &out->since_us, why) < 0 ||
	     whole_hour(&w->since, "since", out->since_us, why) < 0))
		return -1;
	after = w->since.given ? out->since_us + 1 : after + 1;
	if (w->until.given &&
	    (moment_us(&w->until, after, true, "until", &out->until_us, why) < 0 ||
	     whole_hour(&w->until, "until", out->until_us, why) < 0))
		return -1;
	if (out->until_us <= out->since_us)
		return fault_set(why, FAULT_INPUT, "%s: --until is not after --since, must be",
				 path);
	return 0;
}

/* ---- all together ---- */

int narrow(const struct night_wants *w, struct survey *s, const char *path, struct narrowed *out,
	   struct fault *why)
{
	*out = (struct narrowed){ 0 };
	if (site_choose(s, path, w->site, &out->site, why) < 0 ||
	    choose_bands(w, s, path, out, why) < 0 || choose_times(w, s, path, out, why) < 0) {
		narrow_free(out);
		return -1;
	}
	return 0;
}

void narrow_free(struct narrowed *n)
{
	site_free(&n->site);
	free(n->band_of);
	free(n->band);
	*n = (struct narrowed){ 0 };
}

bool narrow_has(const struct narrowed *n, int64_t run, int64_t from_us, int64_t to_us)
{
	return site_has(&n->site, run) && from_us < n->until_us && to_us > n->since_us;
}
