/* Feeds what it is given, as an invented town's file, to its reader and to who decides what it sends, and holds
 * both to their promises. As it is built, it takes files and folders of them and serves as a test over tests/corpus/town;
 * tests/fuzz.sh searches for more. */
#include "tests/fuzz.h"

#include <math.h>
#include <sys/mman.h>
#include <unistd.h>

#include "daemon/town/night.h"

/* What is asked of a town at some times of its run. */
static void try_times(const struct town *t)
{
	for (int k = 0; k < 5; k++) {
		int64_t us = t->length_us / 4 * k;
		promise(isfinite(town_crystal_ppm(t, us)) && isfinite(town_rise_db(t, 154e6, us)), "a number");
		promise(town_clock_us(t, us) > -10 * t->length_us, "a clock");
		for (int i = 0; i < t->n_emitters; i++)
			promise(!(town_busy(t, &t->emitters[i], us) && town_day_off(t, &t->emitters[i], us)), "off is off");
	}
}

/* All that is sent in it; its samples would take seconds each time. */
static void try_night(const struct town *t)
{
	struct night *night = night_create(t, 7);
	int n, clicks;

	promise(night != NULL, "memory for the night");
	for (int i = 0; i < t->n_emitters; i++) {
		const struct over *o = night_overs(night, i, &n);
		promise(isfinite(night_offset_hz(night, i, t->length_us / 2)), "an offset");
		for (int k = 0; k < n; k++)
			promise(o[k].start_us <= o[k].talk_us && o[k].talk_us <= o[k].end_us &&
				(k == 0 || o[k - 1].end_us <= o[k].start_us) && isfinite(o[k].level_db),
				"overs that ascend and never overlap");
	}
	night_clicks(night, &clicks);
	promise(clicks >= 0, "so many clicks");
	night_destroy(night);
}

int LLVMFuzzerTestOneInput(const uint8_t *bytes, size_t n)
{
	char path[64];
	struct fault why = { 0 };
	struct town t;
	int fd = memfd_create("town", MFD_CLOEXEC);

	promise(fd >= 0 && write(fd, bytes, n) == (ssize_t)n, "room for the file");
	snprintf(path, sizeof path, "/proc/self/fd/%d", fd);
	if (town_read(path, &t, &why) < 0) {
		promise_refusal(&why);
		close(fd);
		return 0;
	}
	try_times(&t);
	try_night(&t);
	town_free(&t);
	close(fd);
	return 0;
}
