#include "daemon/plans.h"

#include <errno.h>
#include <fcntl.h>
#include <limits.h>
#include <stdbool.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#include "daemon/log.h"
#include "dsp/spectrum.h"

#define SEARCH_S  15.0          /* a length is searched in 6 to 11 s on a desk computer */
#define TEXT_MOST 1048576       /* more is no such text                                 */

/* false: the user has no such folder. */
static bool cache_folder(char path[PATH_MAX])
{
	const char *cache = getenv("XDG_CACHE_HOME"), *home = getenv("HOME");
	int n;

	if (cache && *cache == '/')
		n = snprintf(path, PATH_MAX, "%s", cache);
	else if (home && *home == '/')
		n = snprintf(path, PATH_MAX, "%s/.cache", home);
	else
		return false;
	if (n >= PATH_MAX - 40)         /* room for what is in it */
		return false;
	mkdir(path, 0700);
	strcat(path, "/bandcensus");
	return mkdir(path, 0700) == 0 || errno == EEXIST;
}

/* To be freed; NULL: there is none. */
static char *read_text(const char *path)
{
	FILE *f = fopen(path, "re");
	char *text = f ? calloc(1, TEXT_MOST + 1) : NULL;

	if (text && (fread(text, 1, TEXT_MOST + 1, f) > TEXT_MOST || ferror(f))) {
		free(text);
		text = NULL;
	}
	if (f)
		fclose(f);
	return text;
}

/* Whole or not at all. */
static bool write_text(const char *path, const char *text)
{
	char part[PATH_MAX];
	bool written = false;
	FILE *f;
	int fd;

	snprintf(part, sizeof part, "%s.XXXXXX", path);
	fd = mkostemp(part, O_CLOEXEC);
	f = fd >= 0 ? fdopen(fd, "w") : NULL;
	if (f) {
		written = fputs(text, f) >= 0;
		written = fclose(f) == 0 && written;
	} else if (fd >= 0) {
		close(fd);
	}
	written = written && rename(part, path) == 0;
	if (fd >= 0 && !written)
		unlink(part);
	return written;
}

static int first_unknown(const int *bins, int n)
{
	for (int i = 0; i < n; i++)
		if (!spectrum_plan_known(bins[i]))
			return i;
	return n;
}

static void keep(const char *path)
{
	char *text = spectrum_plans_text();

	if (!text || !write_text(path, text))
		log_line(LOG_NOTICE,
			 "fastest transforms can't be kept, they are searched again next "
			 "time: file=%s",
			 path);
	free(text);
}

void plans_fetch(const int *bins, int n)
{
	char path[PATH_MAX];
	bool place = false;

	if (first_unknown(bins, n) == n)
		return;
	place = cache_folder(path);
	if (place) {
		strcat(path, "/transforms");
		char *text = read_text(path);
		if (text)
			spectrum_plans_learn(text);
		free(text);
	}
	if (first_unknown(bins, n) == n)
		return;
	log_line(LOG_INFO,
		 "searching for the fastest transforms, once on this computer: lengths=%d "
		 "longest=%.0fs",
		 n - first_unknown(bins, n), SEARCH_S * (n - first_unknown(bins, n)));
	for (int i = first_unknown(bins, n); i < n; i++)
		if (!spectrum_plan_known(bins[i]))
			spectrum_plan_search(bins[i], SEARCH_S);
	if (place)
		keep(path);
}
