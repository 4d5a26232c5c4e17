#include "store/pulse.h"

#include <inttypes.h>
#include <string.h>
#include <time.h>

#define CLOCK 40
#define WIDTH 80

/* "23:35", with the date where day says so. */
static const char *clock_of(int64_t us, bool day, char out[CLOCK])
{
	time_t s = (time_t)(us / 1000000);
	struct tm tm;

	if (!localtime_r(&s, &tm) ||
	    strftime(out, CLOCK, day ? "%Y-%m-%d %H:%M" : "%H:%M", &tm) == 0)
		snprintf(out, CLOCK, "?");
	return out;
}

static const char *zone_of(int64_t us, char out[CLOCK])
{
	time_t s = (time_t)(us / 1000000);
	struct tm tm;

	if (!localtime_r(&s, &tm) || strftime(out, CLOCK, "%Z", &tm) == 0)
		snprintf(out, CLOCK, "UTC");
	return out;
}

/* "12 s", "3 min", "5 h" */
static const char *ago(int64_t us, char out[CLOCK])
{
	int64_t s = us > 0 ? us / 1000000 : 0;

	snprintf(out, CLOCK, "%" PRId64 " %s", s < 120 ? s : s < 7200 ? s / 60 : s / 3600,
		 s < 120 ? "s" : s < 7200 ? "min" : "h");
	return out;
}

static const char *size(int64_t bytes, char out[CLOCK])
{
	snprintf(out, CLOCK, bytes < INT64_C(10000000000) ? "%.1f MB" : "%.1f GB",
		 (double)bytes / (bytes < INT64_C(10000000000) ? 1e6 : 1e9));
	return out;
}

static void how(FILE *to, const struct pulse *p, int64_t wall_us)
{
	char from[CLOCK], now[CLOCK], zone[CLOCK], since[CLOCK];

	fprintf(to, "%.79s\n%.38s: %.38s\n", p->file, p->run.station, p->run.source);
	fprintf(to, "since %s, %s %s %s; written %s ago\n", clock_of(p->run.start_us, true, from),
		p->run.end_us ? "ended" : "now", clock_of(p->now_us, p->run.end_us, now),
		zone_of(p->now_us, zone), ago(wall_us - p->written_us, since));
	fprintf(to, "gain %.1f dB, crystal %+.1f ppm, overload in %.1f %% of looks\n",
		p->run.gain_ddb / 10.0, p->run.ppm, 100 * p->overload);
}

static void looks(FILE *to, const struct pulse *p)
{
	char span[CLOCK];

	fprintf(to, "%" PRId64 " channels in %d bands", p->channels, p->bands);
	if (p->revisit_s > 0)
		fprintf(to, ", each looked at every %.1f s (%.1f to %.1f)", p->revisit_s,
			p->revisit_low_s, p->revisit_high_s);
	else
		fprintf(to, ", no look yet");
	fprintf(to, "\n  mean of the last %s, rests included\n", ago(p->counted_us, span));
}

static void file(FILE *to, const struct pulse *p)
{
	char is[CLOCK], left[CLOCK];

	fprintf(to, "survey has %s, its disk %s left\n", size(p->bytes, is),
		p->disk_bytes < 0 ? "not known what" : size(p->disk_bytes, left));
}

static void health(FILE *to, const struct pulse *p)
{
	char from[CLOCK];

	fprintf(to, "incidents of this run:%s\n", p->whats ? "" : " none");
	for (int i = 0; i < p->whats; i++)
		fprintf(to, "  %-12.30s %6" PRId64 " times, %.0f s\n", p->what[i].what,
			p->what[i].n, p->what[i].s);
	for (int i = 0; i < p->incidents; i++)
		fprintf(to, "  %s %.12s: %.50s\n", clock_of(p->incident[i].at_us, false, from),
			p->incident[i].what, p->incident[i].text);
}

static void list(FILE *to, const struct pulse_channel *c)
{
	for (int i = 0; i < PULSE_CHANNELS && c[i].heard; i++)
		fprintf(to, "  %-16.23s %11.5f MHz  %2d of %2d min  %3d dB\n", c[i].band,
			freq_to_hz(c[i].centre) / 1e6, c[i].heard, c[i].looked, c[i].peak_db);
}

static void air(FILE *to, const struct pulse *p)
{
	fprintf(to,
		"last 15 min: %d overs ended, %d channels heard, %d of them for the first time\n",
		p->overs, p->heard, p->fresh);
	if (p->unseen)
		fprintf(to, "not looked at in these: %d band%s: %.45s\n", p->unseen,
			p->unseen == 1 ? "" : "s", p->unseen_band);
	fprintf(to, "\nbusiest: minutes heard of those looked at, strongest over the noise\n");
	list(to, p->busy);
	fprintf(to, "\nnever heard before in this survey:%s\n", p->fresh ? "" : " none");
	list(to, p->new);
}

void pulse_text(FILE *to, const struct pulse *p, int64_t wall_us)
{
	how(to, p, wall_us);
	looks(to, p);
	file(to, p);
	air(to, p);
	fputc('\n', to);
	health(to, p);
}

/* ---- JSON ---- */

/* A string; what comes out of a survey has no control characters, and is UTF-8. */
static void json_text(FILE *to, const char *name, const char *text)
{
	fprintf(to, "\"%s\":\"", name);
	for (; *text; text++)
		fprintf(to, *text == '"' || *text == '\\' ? "\\%c" : "%c", *text);
	fputc('"', to);
}

static void json_time(FILE *to, const char *name, int64_t us)
{
	time_t s = (time_t)(us / 1000000);
	struct tm tm;
	char text[CLOCK] = "";

	if (!us || !gmtime_r(&s, &tm) ||
	    strftime(text, sizeof text, "%Y-%m-%dT%H:%M:%SZ", &tm) == 0)
		fprintf(to, "\"%s\":null", name);
	else
		fprintf(to, "\"%s\":\"%s\"", name, text);
}

static void json_list(FILE *to, const char *name, const struct pulse_channel *c)
{
	fprintf(to, ",\"%s\":[", name);
	for (int i = 0; i < PULSE_CHANNELS && c[i].heard; i++) {
		fputs(i ? ",{" : "{", to);
		json_text(to, "band", c[i].band);
		fprintf(to,
			",\"frequency_hz\":%.3f,\"heard_minutes\":%d,\"looked_minutes\":%d,"
			"\"peak_db\":%d}",
			freq_to_hz(c[i].centre), c[i].heard, c[i].looked, c[i].peak_db);
	}
	fputc(']', to);
}

static void json_incidents(FILE *to, const struct pulse *p)
{
	fprintf(to, ",\"incidents\":[");
	for (int i = 0; i < p->whats; i++) {
		fputs(i ? ",{" : "{", to);
		json_text(to, "what", p->what[i].what);
		fprintf(to, ",\"times\":%" PRId64 ",\"seconds\":%.0f}", p->what[i].n, p->what[i].s);
	}
	fprintf(to, "],\"newest_incidents\":[");
	for (int i = 0; i < p->incidents; i++) {
		fputs(i ? ",{" : "{", to);
		json_time(to, "at", p->incident[i].at_us);
		fputc(',', to);
		json_text(to, "what", p->incident[i].what);
		fputc(',', to);
		json_text(to, "text", p->incident[i].text);
		fputc('}', to);
	}
	fputc(']', to);
}

/* Null where it is not known. */
static void json_known(FILE *to, const char *name, int decimals, bool known, double value)
{
	if (known)
		fprintf(to, ",\"%s\":%.*f", name, decimals, value);
	else
		fprintf(to, ",\"%s\":null", name);
}

void pulse_json(FILE *to, const struct pulse *p, int64_t wall_us)
{
	fputc('{', to);
	json_text(to, "station", p->run.station);
	fputc(',', to);
	json_text(to, "source", p->run.source);
	fputc(',', to);
	json_time(to, "start", p->run.start_us);
	fputc(',', to);
	json_time(to, "end", p->run.end_us);
	fputc(',', to);
	json_time(to, "now", p->now_us);
	fprintf(to, ",\"written_ago_s\":%" PRId64 ",\"bytes\":%" PRId64,
		(wall_us - p->written_us) / 1000000, p->bytes);
	json_known(to, "disk_bytes", 0, p->disk_bytes >= 0, (double)p->disk_bytes);
	fprintf(to, ",\"gain_db\":%.1f,\"ppm\":%.3f,\"bands\":%d,\"channels\":%" PRId64,
		p->run.gain_ddb / 10.0, p->run.ppm, p->bands, p->channels);
	json_known(to, "revisit_s", 3, p->revisit_s > 0, p->revisit_s);
	json_known(to, "overload_share", 5, p->revisit_s > 0, p->overload);
	fprintf(to,
		",\"span_minutes\":15,\"overs\":%d,\"channels_heard\":%d,\"channels_new\":%d,"
		"\"bands_not_looked_at\":%d",
		p->overs, p->heard, p->fresh, p->unseen);
	json_list(to, "busiest", p->busy);
	json_list(to, "new", p->new);
	json_incidents(to, p);
	fputs("}\n", to);
}
