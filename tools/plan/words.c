#include "tools/plan/words.h"

#include <inttypes.h>
#include <math.h>
#include <stdio.h>
#include <string.h>
#include <time.h>

char *words_time(char out[TIME_TEXT], int64_t us)
{
	time_t s = (time_t)(us / 1000000);
	struct tm tm;

	gmtime_r(&s, &tm);
	strftime(out, TIME_TEXT, "%Y-%m-%dT%H:%M:%SZ", &tm);
	return out;
}

char *words_local(char out[TIME_TEXT], const struct census *c, int64_t us)
{
	time_t s = (time_t)(census_local_us(c, us) / 1000000);
	struct tm tm;

	gmtime_r(&s, &tm);
	strftime(out, TIME_TEXT, "%Y-%m-%d %H:%M", &tm);
	return out;
}

char *words_clock(char out[8], int64_t us)
{
	int minute = (int)(us / 60000000 % 1440);

	snprintf(out, 8, "%02d:%02d", minute / 60 % 24, minute % 60);
	return out;
}

/* How often, and at which hours. */
static void words_heard(const struct census *c, const struct channel *ch, char *out, size_t size)
{
	char from[8], to[8], when[80];

	if (ch->occupancy > CONTINUOUS_SHARE) {
		snprintf(out, size, "always on: %" PRId64 " looks over %.3g h", ch->looks.looks,
			 (double)c->wall_us / (double)HOUR_US);
		return;
	}
	words_clock(from, census_local_us(c, ch->first_us));
	words_clock(to, census_local_us(c, ch->last_us));
	/* From the first to the last tells something within one day only. */
	if (ch->last_us - ch->first_us < 24 * HOUR_US)
		snprintf(when, sizeof when, "%s-%s", from, to);
	else
		words_hours(ch->hours, when, sizeof when);
	snprintf(out, size, "%d over%s, %s", ch->overs, ch->overs == 1 ? "" : "s", when);
}

void words_evidence(const struct census *c, const struct channel *ch, char *out, size_t size)
{
	char heard[120], nature[NATURE_TEXT];

	if (ch->overs == 0) {
		snprintf(out, size, "busy in %" PRId64 " of %" PRId64 " looks", ch->looks.busy,
			 ch->looks.looks);
		return;
	}
	words_heard(c, ch, heard, sizeof heard);
	nature_brief(&ch->nature, nature, sizeof nature);
	snprintf(out, size, "%s, median %.0f dB%s%s%s", heard, ch->level_db,
		 round(ch->level_db) < FAINT_DB ? ": faint" : "", nature[0] ? ", " : "", nature);
}

char *words_hours(uint32_t hours, char *out, size_t size)
{
	size_t n = 0;

	out[0] = '\0';
	if (hours == 0xffffff) {
		snprintf(out, size, "all hours");
		return out;
	}
	if (hours == 0) {
		snprintf(out, size, "no hour");
		return out;
	}
	for (int h = 0; h < 24; h++) {
		bool on = hours >> h & 1, before = hours >> (h + 23) % 24 & 1;
		if (!on || before)
			continue;
		int end = h;
		while (hours >> end % 24 & 1)
			end++;
		if (n < size)
			n += (size_t)snprintf(out + n, size - n, "%s%02d-%02d h", n ? ", " : "", h,
					      end % 24);
	}
	return out;
}

char *words_display(struct freq f, int digits, char out[FREQ_TEXT])
{
	int64_t hz = f.thirds / 3;

	int n = snprintf(out, FREQ_TEXT, "%" PRId64 ".%06" PRId64, hz / 1000000, hz % 1000000);
	if (digits < 6)
		out[n - (6 - digits)] = '\0';
	return out;
}

char *words_typed(struct freq f, char out[FREQ_TEXT])
{
	freq_format_mhz(out, f);
	size_t n = strlen(out);
	while (n > 0 && out[n - 1] == '0')
		out[--n] = '\0';
	if (n > 0 && out[n - 1] == '.')
		out[--n] = '\0';
	return out;
}
