#include "tests/test.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "tests/dongle_duty.h"

/* What goes wrong with a dongle while the daemon listens to it through the real
 * library. Nothing may hang, nothing be lost that was written, and nothing count as
 * looked at that was not. */

#define LATEST_S 30                     /* of real time, for anything to happen */

static const struct {
	const char     *what;
	struct mischief m;
	bool            replug;         /* pulled out for a moment: it meets the rest at opening */
	const char     *says;           /* the log; NULL: nothing is lost by it     */
	double          within_s;       /* after the end of it it listens again: with the wait of
	                                 * up to 5 s that may just have begun        */
} faults[] = {
	{ "pulled out while read, back last in the list", { .kind = MISCHIEF_VANISH, .for_s = 2 }, false,
	  "it vanished, plug it in again", 9 },
	{ "transfers never complete", { .kind = MISCHIEF_SILENCE, .for_s = 3 }, false,
	  "no samples for ", 9 },
	{ "192 transfers end with an error", { .kind = MISCHIEF_ERROR, .times = 192 }, false,
	  "source is lost", 9 },
	{ "192 transfers stall: silent death", { .kind = MISCHIEF_STALL, .times = 192 }, false, "no samples for ", 9 },
	{ "14 transfers stall: the others go on", { .kind = MISCHIEF_STALL, .times = 14 }, false, NULL, 1 },
	{ "empty transfers", { .kind = MISCHIEF_EMPTY, .times = 20 }, false, NULL, 1 },
	{ "short and odd transfers", { .kind = MISCHIEF_SHORT, .times = 20, .value = 4001 }, false, NULL, 1 },
	{ "one refused tuner write", { .kind = MISCHIEF_REFUSED, .times = 1 }, false, NULL, 1 },
	{ "refused tuner writes", { .kind = MISCHIEF_REFUSED, .for_s = 2 }, false, "it refused", 9 },
	{ "no lock on one hop", { .kind = MISCHIEF_UNLOCKED, .for_s = 2, .low_mhz = 154,
	  .high_mhz = 156 }, false, "hop is not looked at: dongle 00000001: did not lock at 153.0 MHz", 1 },
	{ "a call that never returns", { .kind = MISCHIEF_HANG_CONTROL, .for_s = 1 }, false,
	  "tuning it was not done within 3 s", 9 },
	{ "event handling that never returns", { .kind = MISCHIEF_HANG_EVENTS, .for_s = 1 }, false,
	  "no samples for ", 9 },
	{ "in use", { .kind = MISCHIEF_BUSY, .for_s = 4 }, true, "opening failed: it is in use", 12 },
	{ "no permission", { .kind = MISCHIEF_DENIED, .for_s = 4 }, true, "60-librtlsdr0.rules", 12 },
	{ "the kernel's driver can't be detached", { .kind = MISCHIEF_DRIVER, .for_s = 4, .value = 1 }, true,
	  "modprobe -r dvb_usb_rtl28xxu", 12 },
	{ "the kernel's driver has it", { .kind = MISCHIEF_DRIVER, .for_s = 4 }, true, "it vanished", 9 },
	{ "its tuner does not answer", { .kind = MISCHIEF_NO_TUNER, .for_s = 4 }, true,
	  "its tuner does not answer", 12 },
};

#define QUICK "track = false;\nppm = \"31 ppm\";\ndwell = \"5 ms\";\n"

/* Injects one and waits until all is well; how long that took after its end, on
 * the shared clock. */
static double live_through(struct duty *d, size_t i)
{
	const char *says = faults[i].says ? faults[i].says : "";
	int said = duty_said(d, says), back = duty_said(d, "source is back");
	bool loses = faults[i].says && strncmp(says, "hop", 3) != 0;
	double began_s = state_elapsed_s(d->scene.state);

	scene_mischief(&d->scene, faults[i].m);
	if (faults[i].replug)
		scene_mischief(&d->scene, (struct mischief){
			.kind = MISCHIEF_VANISH, .for_s = 0.5, .dongle = -1 });
	if (*says && !duty_says(d, says, said + 1, LATEST_S))
		fail_msg("%s: is not in the log", faults[i].what);
	if (loses && !duty_says(d, "source is back", back + 1, LATEST_S))
		fail_msg("%s: it never came back", faults[i].what);
	double end_s = began_s + faults[i].m.for_s, back_s = state_elapsed_s(d->scene.state);
	if (!duty_listens(d, 50000, LATEST_S))
		fail_msg("%s: it looks no more", faults[i].what);
	return back_s > end_s ? back_s - end_s : 0;
}

static void each_is_survived(void **state)
{
	struct scenario s = scenario_usual();
	struct duty *d = *state;

	s.dongles[0].ppm = 31;
	duty_begin(d, &s, "dongle", "150", "153.9", QUICK);
	print_message("%-48s %10s %10s %10s\n", "what", "back after", "not looked", "told lost");
	for (size_t i = 0; i < sizeof faults / sizeof faults[0]; i++) {
		duty_look(d);
		struct seen before = d->seen;
		double at_s = state_elapsed_s(d->scene.state), after_s = live_through(d, i);
		double passed_s = state_elapsed_s(d->scene.state) - at_s;
		print_message("%-48s %8.1f s %8.1f s %8.1f s\n", faults[i].what, after_s,
			      passed_s - (double)(d->seen.looked_us - before.looked_us) * 1e-6,
			      (double)(d->seen.lost_us - before.lost_us) * 1e-6);
		if (after_s > faults[i].within_s)
			fail_msg("%s: back after %.1f s", faults[i].what, after_s);
	}
	assert_int_equal(duty_end(d), 0);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test_setup_teardown(each_is_survived, duty_create, duty_destroy),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
