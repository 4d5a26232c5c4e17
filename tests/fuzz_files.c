/* Feeds what it is given to whatever reads settings for a purpose: station, band plan, town, interests,
 * receiver. Each must take it as it promises, or refuse it in one line. As it is built, it takes files
 * and folders of them and serves as a test over tests/corpus/files; tests/fuzz.sh searches for more. */
#include "tests/fuzz.h"

#include <math.h>
#include <string.h>
#include <sys/mman.h>
#include <unistd.h>

#include "store/bandplan.h"
#include "store/station.h"
#include "store/timetable.h"
#include "store/town.h"
#include "tools/plan/interests.h"
#include "tools/plan/receiver.h"

static int32_t same_clock(int64_t us)
{
	(void)us;
	return 0;
}

/* From shift to shift for a while. */
static void try_shifts(const struct timetable *t)
{
	int64_t now_us = INT64_C(1767225600000000);
	char week[WEEK_TEXT];

	for (int i = 0; i < 9; i++) {
		struct shift s = timetable_shift(t, now_us);
		promise(s.from_us < s.until_us && s.until_us > now_us, "a shift is not over before it begins");
		promise(strlen(timetable_week(t, s.from_us, week)) == 8, "2026-W48");
		now_us = s.until_us;
	}
}

static void try_station(const char *path)
{
	struct fault why = { 0 };
	struct station s;
	struct timetable t;

	if (station_read(path, &s, &why) < 0) {
		promise_refusal(&why);
		return;
	}
	promise(s.rate_msps > 0 && s.dwell_us > 0 && s.commit_us > 0, "a watch that can be kept");
	promise(s.false_alarm > 0 && s.false_alarm < 1, "a rate of false alarms");
	promise(s.park_share >= 0 && s.challenge_share >= 0, "shares");
	t = timetable_of(s.hours, &s.days, same_clock);
	try_shifts(&t);
	station_free(&s);
}

static void try_town(const char *path)
{
	struct fault why = { 0 };
	struct town t;

	if (town_read(path, &t, &why) < 0) {
		promise_refusal(&why);
		return;
	}
	promise(t.length_us > 0 && t.retune_us >= 0, "times");
	for (int i = 0; i < t.n_emitters; i++) {
		const struct emitter *e = &t.emitters[i];
		promise(e->frequency.thirds > 0 && e->width.thirds > 0, "a place on the band");
		promise(e->parent_at >= -1 && e->parent_at < t.n_emitters, "a parent that is there");
		promise(e->other_at >= -1 && e->other_at < t.n_emitters, "another that is there");
		promise(e->answers_at >= -1 && e->answers_at < t.n_emitters, "one that is there to be answered");
		promise(isfinite(town_noise_dbm(&t, e, t.length_us / 2)), "a level");
	}
	for (int i = 0; i < t.n_events; i++)
		promise(t.events[i].emitter_at >= -1 && t.events[i].emitter_at < t.n_emitters &&
			t.events[i].from_us <= t.events[i].until_us, "an event");
	town_free(&t);
}

static void try_interests(const char *path)
{
	struct fault why = { 0 };
	struct interests i;

	if (interests_read(path, &i, &why) < 0) {
		promise_refusal(&why);
		return;
	}
	promise(interests_of(&i, "nobody's") != NULL, "an unknown service is a little interesting");
	interests_free(&i);
}

static void try_receiver(const char *path)
{
	struct fault why = { 0 };
	struct receiver r;

	if (receiver_read(path, &r, &why) < 0) {
		promise_refusal(&why);
		return;
	}
	promise(r.reaches >= 1 && r.reaches <= REACHES_MAX && r.delays <= CHOICES_MAX, "counts");
	promise(r.birdies <= BIRDIES_MAX && r.ifs <= IFS_MAX && r.banks >= 1 && r.memories >= 1, "counts");
	promise(r.scan_rate > 0, "a scanning rate");
	for (int i = 0; i < r.reaches; i++) {
		promise(r.reach[i].low.thirds <= r.reach[i].high.thirds && r.reach[i].steps <= STEPS_MAX, "a reach");
		promise(i == 0 || r.reach[i - 1].high.thirds <= r.reach[i].low.thirds, "ascending reaches");
	}
}

static void try_bands(const char *path)
{
	struct fault why = { 0 };
	struct bandplan p;

	if (bandplan_read(path, &p, &why) < 0) {
		promise_refusal(&why);
		return;
	}
	for (int i = 0; i < p.n_bands; i++)
		promise(p.bands[i].raster.count > 0, "a band has channels");
	bandplan_free(&p);
}

int LLVMFuzzerTestOneInput(const uint8_t *bytes, size_t n)
{
	static void (*const readers[])(const char *path) = {
		try_station, try_town, try_interests, try_receiver, try_bands
	};
	char path[64];
	int fd = memfd_create("file", MFD_CLOEXEC);

	promise(fd >= 0 && write(fd, bytes, n) == (ssize_t)n, "room for the file");
	snprintf(path, sizeof path, "/proc/self/fd/%d", fd);
	for (size_t i = 0; i < sizeof readers / sizeof readers[0]; i++)
		readers[i](path);
	close(fd);
	return 0;
}
