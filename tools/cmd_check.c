#include "tools/verbs.h"
#include "tools/export.h"
#include "tools/telling.h"
#include "tools/plan/interests.h"
#include "store/survey.h"
#include "tools/plan/licences.h"
#include "tools/plan/receiver.h"

#include "store/bandplan.h"
#include "store/picture.h"
#include "store/settings.h"
#include "store/station.h"
#include "store/town.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <strings.h>

#define CHECKED sizeof ((struct checked *)0)->words

/* Each says in words what the file is, when it is good. */

static int check_bands(const char *path, char words[CHECKED], struct fault *why)
{
	struct bandplan p;

	if (bandplan_read(path, &p, why) < 0)
		return -1;
	long channels = 0;
	for (int i = 0; i < p.n_bands; i++)
		channels += p.bands[i].raster.count;
	snprintf(words, CHECKED,
		 "band plan \"%s\", %d bands of %ld channels, %d stretches never surveyed", p.name,
		 p.n_bands, channels, p.n_never);
	bandplan_free(&p);
	return 0;
}

static int check_receiver(const char *path, char words[CHECKED], struct fault *why)
{
	struct receiver r;

	if (receiver_read(path, &r, why) < 0)
		return -1;
	snprintf(words, CHECKED,
		 "receiver \"%s\", %d banks of %d memories, %d search ranges, %g channels a second",
		 r.name, r.banks, r.memories, r.search_ranges, r.scan_rate);
	return 0;
}

static int check_interests(const char *path, char words[CHECKED], struct fault *why)
{
	struct interests i;

	if (interests_read(path, &i, why) < 0)
		return -1;
	snprintf(words, CHECKED,
		 "interests in %d services, %d known, %d pinned and %d unwanted frequencies",
		 i.services, i.knowns, i.n_pinned, i.n_never);
	interests_free(&i);
	return 0;
}

static int check_daemon(const char *path, char words[CHECKED], struct fault *why)
{
	struct station s;
	struct band *band = NULL;
	int n = 0;

	if (station_read(path, &s, why) < 0)
		return -1;
	int result = station_bands(&s, path, &band, &n, why);
	if (result == 0)
		snprintf(words, CHECKED, "station \"%s\", surveys %d bands", s.name, n);
	free(band);
	station_free(&s);
	return result;
}

static int check_town(const char *path, char words[CHECKED], struct fault *why)
{
	struct town t;

	if (town_read(path, &t, why) < 0)
		return -1;
	snprintf(words, CHECKED, "invented town \"%s\", %d senders, %d events", t.name,
		 t.n_emitters, t.n_events);
	town_free(&t);
	return 0;
}

/* By the kind a settings file says it is. */
static const struct {
	const char *kind;
	int (*check)(const char *path, char words[CHECKED], struct fault *why);
} checkers[] = {
	{ "daemon", check_daemon },
	{ "bands", check_bands },
	{ "receiver", check_receiver },
	{ "interests", check_interests },
	{ "town", check_town },
};

static int check_settings(const char *path, char words[CHECKED], struct fault *why)
{
	char kind[32];

	if (settings_kind(path, kind, sizeof kind, why) < 0)
		return -1;
	for (size_t i = 0; i < sizeof checkers / sizeof checkers[0]; i++)
		if (strcmp(kind, checkers[i].kind) == 0)
			return checkers[i].check(path, words, why);
	return fault_set(why, FAULT_INPUT,
			 "%s: kind is \"%s\", must be daemon, bands, receiver, "
			 "interests or town", path,
			 kind);
}

/* So many rows of each noun. */
struct counts {
#define COUNTED(noun) int noun;
	COUNTED(run)
	SURVEY_NOUNS(COUNTED)
#undef COUNTED
};

#define COUNT(noun) \
static int count_##noun(void *self, const struct noun##_row *row) \
{ \
	struct counts *n = self; \
\
	(void)row; \
	n->noun++; \
	return 0; \
}
COUNT(run)
SURVEY_NOUNS(COUNT)

struct strips {
	const struct survey *s;
	struct fault *why;
};

static int check_strip(void *self, const struct strip_row *row)
{
	const struct strips *all = self;

	return picture_check(all->s, row, all->why);
}

/* Each row is read, and one that holds what it never should stops it. */
static int count(struct survey *s, struct counts *n, struct fault *why)
{
	int stopped = survey_each_run(s, count_run, n, why);

#define EACH(noun) stopped = stopped ? stopped : survey_each_##noun(s, count_##noun, n, why);
	SURVEY_NOUNS(EACH)
#undef EACH
	struct strips all = { s, why };
	stopped = stopped ? stopped : survey_each_strip(s, check_strip, &all, why);
	return stopped ? -1 : 0;
}

static int check_survey(const char *path, char words[CHECKED], struct fault *why)
{
	const struct band *band;
	struct counts n = { 0 };
	struct survey *s = survey_read(path, why);
	int result = !s || survey_check(s, why) < 0 || count(s, &n, why) < 0 ? -1 : 0;

	if (result == 0)
		snprintf(words, CHECKED, "survey of %d bands, %d run%s, %d over%s", survey_bands(s, &band), n.run,
			 n.run == 1 ? "" : "s", n.transmission, n.transmission == 1 ? "" : "s");
	survey_close(s);
	return result;
}

static int check_licences(const char *path, char words[CHECKED], struct fault *why)
{
	struct licences l;

	if (licences_read(path, &l, why) < 0)
		return -1;
	int places = 0;
	for (int i = 0; i < l.n; i++)
		places += i == 0 || l.at[i].frequency.thirds != l.at[i - 1].frequency.thirds;
	snprintf(words, CHECKED, "list of %d labels of %d frequencies", l.n, places);
	licences_free(&l);
	return 0;
}

static bool is_licences(const char *path)
{
	size_t n = strlen(path);

	return n >= 4 && strcasecmp(path + n - 4, ".csv") == 0;
}

/* SQLite's files begin with these bytes. */
static bool is_survey(const char *path)
{
	char head[16] = "";
	FILE *f = fopen(path, "rb");
	if (!f)
		return false;
	size_t n = fread(head, 1, sizeof head, f);
	fclose(f);
	return n == sizeof head && memcmp(head, "SQLite format 3", 16) == 0;
}

static void check(const char *path, struct checked *c)
{
	struct fault why = { 0 };

	c->file = path;
	c->good = (is_survey(path)   ? check_survey :
		   is_licences(path) ? check_licences :
				       check_settings)(path, c->words, &why) == 0;
	if (c->good)
		return;
	snprintf(c->words, sizeof c->words, "%s", why.text);
	fprintf(stderr, "%s\n", c->words);
}

static void table(const struct checks *all)
{
	for (int i = 0; i < all->n; i++)
		if (all->at[i].good)
			printf("%s: ok, %s\n", all->at[i].file, all->at[i].words);
}

int verb_check(const struct choice *o)
{
	struct checked *c = calloc((size_t)o->files, sizeof *c);
	const struct checks all = { c, o->files };
	int code = 0;

	if (!c)
		return command_fail(&(struct fault){ FAULT_FATAL, "no memory" });
	for (int i = 0; i < o->files; i++) {
		check(o->file[i], &c[i]);
		code = c[i].good ? code : 2;
	}
	int done = telling(o, NULL, tell_checks, &all);
	if (done > 0)
		table(&all);
	int ended = done < 0 ? 1 : command_end();
	free(c);
	return ended ? ended : code;
}
