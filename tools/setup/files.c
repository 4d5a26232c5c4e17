#include "tools/setup/files.h"

#include <ctype.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "store/station.h"

#define STATION   "bandcensus.conf"
#define PLAN      "bands.conf"
#define INTERESTS "interests.conf"
#define RECEIVER  "receiver.conf"

/* Copies a file line by line; mend writes the line otherwise and returns true, or leaves it. */
static int copy_lines(FILE *to, const char *path,
		      bool (*mend)(FILE *to, const char *line, const struct answers *a),
		      const struct answers *a)
{
	FILE *from = fopen(path, "re");
	char *line = NULL;
	size_t room = 0;

	if (!from)
		return -1;
	while (getline(&line, &room, from) >= 0)
		if (!mend || !mend(to, line, a))
			fputs(line, to);
	free(line);
	fclose(from);
	return 0;
}

static bool sets(const char *line, const char *name)
{
	size_t n = strlen(name);

	return strncmp(line, name, n) == 0 && strncmp(line + n, " = ", 3) == 0;
}

/* ---- the daemon's ---- */

/* By id, for a service may have bands that the antenna does not hear. */
static void write_bands(FILE *to, const struct answers *a)
{
	int n = 0, all = 0;

	for (int b = 0; b < a->plan.n_bands; b++)
		all += answers_wants(a, &a->plan.bands[b]);
	fputs("survey = (", to);
	for (int b = 0; b < a->plan.n_bands; b++)
		if (answers_wants(a, &a->plan.bands[b])) {
			fprintf(to, "%s\"%s\"", n % 6 ? " " : "\n\t", a->plan.bands[b].id);
			fputs(++n < all ? "," : "\n", to);
		}
	fputs(");\n", to);
}

static bool mend_station(FILE *to, const char *line, const struct answers *a)
{
	if (sets(line, "station"))
		fprintf(to, "station = \"%s\";\n", a->station);
	else if (sets(line, "band_plan"))
		fputs("band_plan = \"" PLAN "\";\n", to);
	else if (sets(line, "survey"))
		write_bands(to, a);
	else
		return false;
	return true;
}

static int write_station(FILE *to, const void *of)
{
	const struct answers *a = of;
	char path[4200];

	snprintf(path, sizeof path, "%s/" STATION, a->shipped);
	return copy_lines(to, path, mend_station, a);
}

static int write_plan(FILE *to, const void *of)
{
	const struct answers *a = of;

	return copy_lines(to, a->plan_path, NULL, a);
}

/* ---- interests ---- */

/* "{ service = "fire"; ... weight = 10; }": the number of that service is put in anew. */
static bool mend_interests(FILE *to, const char *line, const struct answers *a)
{
	static const char before[] = "weight = ";
	const char *at = strstr(line, before);
	char service[24];

	if (line[strspn(line, " \t")] == '#' || !at ||
	    sscanf(line, " { service = \"%23[^\"]", service) != 1)
		return false;
	at += sizeof before - 1;
	fprintf(to, "%.*s%g%s", (int)(at - line), line,
		interests_of(&a->interests, service)->weight, at + strspn(at, "0123456789."));
	return true;
}

static int write_interests(FILE *to, const void *of)
{
	const struct answers *a = of;
	char path[4200];

	snprintf(path, sizeof path, "%s/" INTERESTS, a->shipped);
	return copy_lines(to, path, mend_interests, a);
}

/* ---- the receiver ---- */

static int write_receiver(FILE *to, const void *of)
{
	const struct answers *a = of;

	if (a->receiver_path[0])
		return copy_lines(to, a->receiver_path, NULL, a);
	fputs(a->receiver_text, to);
	return 0;
}

/* ---- all of them ---- */

const struct delivery setup_files[SETUP_FILES] = {
	{ STATION, write_station },
	{ PLAN, write_plan },
	{ INTERESTS, write_interests },
	{ RECEIVER, write_receiver },
};

const char *setup_there(const char *folder)
{
	char path[4200];

	for (int i = 0; i < SETUP_FILES; i++)
		if (snprintf(path, sizeof path, "%s/%s", folder, setup_files[i].name) <
			(int)sizeof path &&
		    access(path, F_OK) == 0)
			return setup_files[i].name;
	return NULL;
}

int setup_check(const char *folder, struct fault *why)
{
	char path[4200];
	struct station s;
	struct interests i;
	struct receiver r;
	struct band *band = NULL;
	int n;

	snprintf(path, sizeof path, "%s/" RECEIVER, folder);
	if (receiver_read(path, &r, why) < 0)
		return -1;
	snprintf(path, sizeof path, "%s/" INTERESTS, folder);
	if (interests_read(path, &i, why) < 0)
		return -1;
	interests_free(&i);
	snprintf(path, sizeof path, "%s/" STATION, folder);
	if (station_read(path, &s, why) < 0)
		return -1;
	int result = station_bands(&s, path, &band, &n, why);
	free(band);
	station_free(&s);
	return result;
}
