#include "daemon/shelf.h"

#include <dirent.h>
#include <fnmatch.h>
#include <inttypes.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "daemon/log.h"

#define WEEKS   "[0-9][0-9][0-9][0-9]-W[0-9][0-9].survey"
#define AT_ONCE 8

static int is_week(const struct dirent *e)
{
	return fnmatch(WEEKS, e->d_name, 0) == 0;
}

/* false: there is nothing of that name to be thinned. */
static bool path_of(const char *folder, const char *name, char out[4096])
{
	return snprintf(out, 4096, "%s/%s", folder, name) < 4096;
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

/* The last week in which anything was looked at has the newest hour of all. */
static int64_t newest_of(const char *folder, struct dirent *const *weeks, int n)
{
	char path[4096];
	int64_t newest_us = 0;

	for (int i = n - 1; i >= 0 && newest_us == 0; i--)
		if (path_of(folder, weeks[i]->d_name, path))
			newest_us = newest_in(path);
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

void shelf_thin(const char *folder, const char *current, const struct keep *k, int64_t now_us,
		const volatile sig_atomic_t *stop, struct shelf_sum *sum)
{
	struct dirent **weeks = NULL;
	int n = scandir(folder, &weeks, is_week, alphasort);
	int64_t newest_us = newest_of(folder, weeks, n);
	char path[4096];

	*sum = (struct shelf_sum){ 0 };
	if (newest_us > 0 && newest_us < now_us)
		now_us = newest_us;
	for (int i = 0; i < n && newest_us > 0 && sum->files < AT_ONCE && !*stop; i++)
		if (path_of(folder, weeks[i]->d_name, path) && strcmp(path, current) != 0)
			thin_one(path, k, now_us, sum);
	for (int i = 0; i < n; i++)
		free(weeks[i]);
	free(weeks);
}
