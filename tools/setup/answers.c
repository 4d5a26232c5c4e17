#include "tools/setup/answers.h"

#include <ctype.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>
#include <unistd.h>

#include "store/options.h"

/* Short words for what comes along. */
static const struct shipped {
	const char *word, *file;
} regions[] = {
	{ "europe", "bands-europe.conf" },
	{ "north-america", "bands-north-america.conf" },
}, receivers[] = {
	{ "100", "receiver-100.conf" },
	{ "400", "receiver-400.conf" },
	{ "1000", "receiver-1000.conf" },
};

/* The file of the word, else the word as a file. */
static int find(const struct answers *a, const struct shipped *of, size_t n, const char *what,
		const char *word, char path[4096], struct fault *why)
{
	char words[100] = "";
	size_t at = 0;

	for (size_t i = 0; i < n; i++)
		if (strcmp(of[i].word, word) == 0) {
			snprintf(path, 4096, "%s/%s", a->shipped, of[i].file);
			return 0;
		}
	if (snprintf(path, 4096, "%s", word) < 4096 && access(path, R_OK) == 0)
		return 0;
	for (size_t i = 0; i < n; i++)
		at += (size_t)snprintf(words + at, sizeof words - at, "%s, ", of[i].word);
	return fault_set(why, FAULT_INPUT, "%s is \"%.60s\", must be %sor a file that can be read",
			 what, word, words);
}

int answers_station(void *self, const char *answer, struct fault *why)
{
	struct answers *a = self;

	for (const char *p = answer; *p; p++)
		if (strchr("\"\\", *p) || iscntrl((unsigned char)*p))
			return fault_set(
			    why, FAULT_INPUT,
			    "station is \"%.40s\", must be without quotes and backslashes", answer);
	if (strlen(answer) >= sizeof a->station)
		return fault_set(why, FAULT_INPUT,
				 "station is \"%.40s...\", must be at most %zu bytes long", answer,
				 sizeof a->station - 1);
	strcpy(a->station, answer);
	return 0;
}

int answers_region(void *self, const char *answer, struct fault *why)
{
	struct answers *a = self;
	struct bandplan plan;

	if (find(a, regions, sizeof regions / sizeof regions[0], "region", answer, a->plan_path,
		 why) < 0 ||
	    bandplan_read(a->plan_path, &plan, why) < 0)
		return -1;
	bandplan_free(&a->plan);
	a->plan = plan;
	return 0;
}

const char *answers_region_preset(void)
{
	time_t now = time(NULL);
	struct tm tm;

	/* West of the Atlantic and north of nothing: it is only a preset. */
	return localtime_r(&now, &tm) && tm.tm_gmtoff <= -3 * 3600 ? regions[1].word
								   : regions[0].word;
}

int answers_receiver(void *self, const char *answer, struct fault *why)
{
	struct answers *a = self;
	struct receiver r;

	a->receiver_path[0] = '\0';
	if (strcmp(answer, "mine") == 0)
		return 0;
	if (find(a, receivers, sizeof receivers / sizeof receivers[0], "receiver", answer,
		 a->receiver_path, why) < 0)
		return -1;
	return receiver_read(a->receiver_path, &r, why);
}

/* ---- interests ---- */

static bool in_plan(const struct answers *a, const char *service)
{
	for (int b = 0; b < a->plan.n_bands; b++)
		if (strcmp(a->plan.bands[b].service, service) == 0)
			return true;
	return false;
}

void answers_show_services(FILE *to, const struct answers *a)
{
	for (int i = 0; i < a->interests.services; i++) {
		const struct interest *s = &a->interests.service[i];
		if (in_plan(a, s->service))
			fprintf(to, "  %-15s %2g  %s\n", s->service, s->weight, s->title);
	}
}

static int set_weight(struct answers *a, const char *service, double weight, struct fault *why)
{
	const char *name[64];
	int n = 0;

	for (int i = 0; i < a->interests.services; i++) {
		struct interest *s = &a->interests.service[i];
		if (strcmp(s->service, service) == 0) {
			s->weight = weight;
			return 0;
		}
		if (n < 64)
			name[n++] = s->service;
	}
	const char *meant = word_nearest(service, name, n);
	return fault_set(why, FAULT_INPUT, "\"%.40s\" is no service%s%s", service,
			 meant ? ", did you mean " : "",
			 meant ? meant : ", see the list in interests.conf");
}

static int take_weights(struct answers *a, const char *answer, struct fault *why)
{
	char service[24];
	double weight;
	int n;

	for (const char *p = answer; *p; p += n + (p[n] == ',')) {
		n = 0;
		if (sscanf(p, " %23[a-z-] %lf %n", service, &weight, &n) < 2 || n == 0 ||
		    (p[n] && p[n] != ',') || !(weight >= 0 && weight <= 10))
			return fault_set(
			    why, FAULT_INPUT,
			    "interests are \"%.60s\", must be like \"fire 10, rail 8\", "
			    "each from 0 to 10",
			    answer);
		if (set_weight(a, service, weight, why) < 0)
			return -1;
	}
	return 0;
}

int answers_interests(void *self, const char *answer, struct fault *why)
{
	struct answers *a = self;

	interests_free(&a->interests);
	if (interests_default(&a->interests) < 0)
		return fault_set(why, FAULT_FATAL, "no memory for interests");
	return strcmp(answer, "as they are") == 0 ? 0 : take_weights(a, answer, why);
}

/* ---- antenna ---- */

int answers_stretch(const char **text, double *low_mhz, double *high_mhz)
{
	char unit[4];
	double low, high;
	int n = 0;

	if (sscanf(*text, " %lf - %lf %3[kMGHz] %n", &low, &high, unit, &n) < 3 || n == 0 ||
	    ((*text)[n] && (*text)[n] != ','))
		return -1;
	double scale = strcmp(unit, "MHz") == 0 ? 1 : strcmp(unit, "GHz") == 0 ? 1000 : 0;
	if (!(low > 0 && low < high && high * scale <= 6000) || scale == 0)
		return -1;
	*low_mhz = low * scale;
	*high_mhz = high * scale;
	*text += n + ((*text)[n] == ',');
	return 0;
}

static bool any_band(const struct answers *a)
{
	for (int b = 0; b < a->plan.n_bands; b++)
		if (answers_wants(a, &a->plan.bands[b]))
			return true;
	return false;
}

int answers_antenna(void *self, const char *answer, struct fault *why)
{
	struct answers *a = self;
	const char *p = answer;

	a->antennas = 0;
	while (strcmp(answer, "all") != 0 && *p) {
		if (a->antennas == ANTENNA_MOST ||
		    answers_stretch(&p, &a->antenna[a->antennas].low_mhz,
				    &a->antenna[a->antennas].high_mhz) < 0)
			return fault_set(
			    why, FAULT_INPUT,
			    "antenna is \"%.60s\", must be like \"118-470 MHz\", several "
			    "with commas, or all",
			    answer);
		a->antennas++;
	}
	return any_band(a) ? 0
			   : fault_set(why, FAULT_INPUT,
				       "antenna is \"%.60s\", where no band of the plan has a "
				       "service that you want",
				       answer);
}

bool answers_wants(const struct answers *a, const struct band *b)
{
	double middle =
	    0.5e-6 * (freq_to_hz(b->raster.first) + freq_to_hz(raster_last(&b->raster)));

	if (interests_of(&a->interests, b->service)->weight <= 0)
		return false;
	for (int i = 0; i < a->antennas; i++)
		if (middle >= a->antenna[i].low_mhz && middle <= a->antenna[i].high_mhz)
			return true;
	return a->antennas == 0;
}

void answers_free(struct answers *a)
{
	bandplan_free(&a->plan);
	interests_free(&a->interests);
	free(a->receiver_text);
}
