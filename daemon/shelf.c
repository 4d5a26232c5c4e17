#include "daemon/shelf.h"

#include <dirent.h>
#include <fnmatch.h>
#include <inttypes.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "daemon/log.h"

#define WEEK    "[0-9][0-9][0-9][0-9]-W[0-9][0-9]"
#define A_WEEK  9               /* surveys */
#define AT_ONCE 8

static int is_week(const struct dirent *e)
{
	return fnmatch(WEEK ".survey", e->d_name, 0) == 0 ||
	       fnmatch(WEEK "-[2-9].survey", e->d_name, 0) == 0;
}

/* false: there is nothing of that name to be thinned. */
static bool path_of(const char *folder, const char *name, char out[SHELF_PATH])
{
	return snprintf(out, SHELF_PATH, "%s/%s", folder, name) < SHELF_PATH;
}

int shelf_choose(const char *folder, const char *week, const struct band *bands, int n_bands, char out[SHELF_PATH],
		 struct fault *why)
{
	char name[40], number[4] = "";

	for (int k = 1; k <= A_WEEK; k++) {
		if (k > 1)
			snprintf(number, sizeof number, "-%d", k);
		snprintf(name, sizeof name, "%.20s%s.survey", week, number);
		if (!path_of(folder, name, out))
			return fault_set(why, FAULT_INPUT, "%.60s...: path is too long", folder);
		if (access(out, F_OK) < 0 || survey_fits(out, bands, n_bands, why) == 0)
			return 0;
		if (why->kind == FAULT_RETRY)
			return -1;
		log_line(LOG_WARNING, "passed by, the week goes on in another file: %s", why->text);
	}
	return fault_set(why, FAULT_RETRY, "%s: none of nine surveys of this week can be gone on with, clear some away",
			 out);
}

/* Of that survey; 0 where it can't be told. */
static int64_t newest_in(const char *path)
{
	struct fault why = { 0 };
	int64_t hour_us = 0;
	struct survey *s = survey_read(path, &why);

	if (s && thin_newest(s, &hour_us, &why) < 0)
		hour_us = 0;
	survey_close(s);
	return hour_us;
}

static bool same_week(const struct dirent *a, const struct dirent *b)
{
	return strncmp(a->d_name, b->d_name, sizeof "2026-W48" - 1) == 0;
}

/* The last week in which anything was looked at has the newest hour of all. */
static int64_t newest_of(const char *folder, struct dirent *const *weeks, int n)
{
	char path[SHELF_PATH];
	int64_t newest_us = 0;

	for (int i = n - 1; i >= 0 && (newest_us == 0 || same_week(weeks[i], weeks[i + 1])); i--) {
		int64_t us = path_of(folder, weeks[i]->d_name, path) ? newest_in(path) : 0;
		newest_us = us > newest_us ? us : newest_us;
	}
	return newest_us;
}

static void thin_one(const char *path, const struct keep *k, int64_t now_us, struct shelf_sum *sum)
{
	struct fault why = { 0 };
	struct thin_sum thinned;

	if (survey_thin(path, k, now_us, &thinned, &why) < 0) {
		log_line(LOG_WARNING, "not thinned: %s", why.text);
		sum->failed++;
	} else if (thinned.rows > 0) {
		log_line(LOG_INFO, "thinned: file=%s rows=%" PRId64 " size=%.1fMB was=%.1fMB", path,
			 thinned.rows, (double)thinned.after_bytes * 1e-6,
			 (double)thinned.before_bytes * 1e-6);
		sum->files++;
		sum->rows += thinned.rows;
	}
}

static bool of_week(const char *name, const char *week)
{
	return week && strncmp(name, week, strlen(week)) == 0;
}

void shelf_thin(const char *folder, const char *week, const struct keep *k, int64_t now_us,
		const volatile sig_atomic_t *stop, struct shelf_sum *sum)
{
	struct dirent **weeks = NULL;
	int n = scandir(folder, &weeks, is_week, alphasort);
	int64_t newest_us = newest_of(folder, weeks, n);
	char path[SHELF_PATH];

	*sum = (struct shelf_sum){ 0 };
	if (newest_us > 0 && newest_us < now_us)
		now_us = newest_us;
	for (int i = 0; i < n && newest_us > 0 && sum->files < AT_ONCE && !*stop; i++)
		if (!of_week(weeks[i]->d_name, week) && path_of(folder, weeks[i]->d_name, path))
			thin_one(path, k, now_us, sum);
	for (int i = 0; i < n; i++)
		free(weeks[i]);
	free(weeks);
}
