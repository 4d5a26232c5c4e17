/* What is held while the survey can't be written: of each hour it stays apart, and is told once. */
#include "tests/test.h"

#include <stdio.h>
#include <stdlib.h>

#include "daemon/outbox.h"
#include "tests/failing_vfs.h"
#include "tests/outing.h"

#define HOURS 3

static int64_t number(const struct place *p, const char *sql)
{
	char out[64];

	ask(p->path, sql, out);
	return strtoll(out, NULL, 10);
}

/* One look of 20 ms at each hop: parked on, or swept. */
static void look_round(struct outbox *o, const struct hop_plan *hops, int64_t start_us, bool parked)
{
	static const enum verdict idle[CHANNELS] = { VERDICT_IDLE };
	static const double floor_dbfs[1] = { -60 };
	const struct judged judged = { .verdict = idle, .seats = CHANNELS };
	const struct look look = { .start_us = start_us, .span_us = 20000 };

	for (int h = 0; h < hops->n; h++) {
		const struct outbox_look l = { .hop = h, .look = &look, .judged = &judged, .floor_dbfs = floor_dbfs };
		if (parked)
			outbox_parked(o, &l, true);
		else
			outbox_looked(o, &l);
	}
}

static void hours_are_kept_apart(void **state)
{
	const struct place *p = *state;
	struct failing_disk disk = { .code = 0 };
	struct fault why = { 0 };
	struct hop_plan hops;
	struct run_row run = { .start_us = DAY_US };

	assert_int_equal(hop_plan_sweep(&hops, outing_bands, BANDS, FAKE_RATE), 0);
	assert_int_equal(hops.n, BANDS);
	assert_int_equal(failing_disk_install(&disk), 0);
	struct survey *s = survey_write(p->path, &run, outing_bands, BANDS, &why);
	struct outbox *o = outbox_create(run.id, outing_bands, BANDS, &hops);
	assert_true(s && o);
	assert_false(outbox_holds(o));
	disk.fail_at = disk.calls + 1;
	disk.stay = true;
	for (int h = 0; h < HOURS; h++) {
		int64_t hour = DAY_US + h * HOUR_US;
		assert_true(outbox_hour_turns(o, hour) == (h > 0));
		for (int i = 0; i <= h; i++)
			look_round(o, &hops, hour + i * SECOND, true);
		look_round(o, &hops, hour + 60 * SECOND, false);
		assert_int_equal(outbox_commit(o, s, true, &why), -1);
		assert_int_equal(why.kind, FAULT_RETRY);
		assert_true(outbox_holds(o));
	}
	struct artefact_row found = { .at_us = DAY_US, .band = 1, .channel = 4, .cause = "image", .text = "mirrors 1 MHz" };
	outbox_artefact(o, &found);
	disk.fail_at = 0;
	assert_int_equal(outbox_commit(o, s, true, &why), 0);
	assert_false(outbox_holds(o));
	assert_int_equal(outbox_commit(o, s, true, &why), 0);           /* with nothing, twice */
	survey_close(s);
	failing_disk_remove(&disk);
	outbox_destroy(o);
	hop_plan_free(&hops);

	assert_int_equal(number(p, "SELECT count(*) FROM parked"), BANDS * HOURS);
	assert_int_equal(number(p, "SELECT count(*) FROM coverage"), BANDS * HOURS);
	for (int h = 0; h < HOURS; h++) {
		char sql[200];
		snprintf(sql, sizeof sql, "SELECT count(*) FROM parked WHERE hour = %lld AND parks = %d AND parked_us = %d",
			 (long long)(DAY_US + h * HOUR_US), h + 1, (h + 1) * 20000);
		assert_int_equal(number(p, sql), BANDS);
		snprintf(sql, sizeof sql, "SELECT count(*) FROM coverage WHERE hour = %lld AND looks = 1 AND looked_us = 20000",
			 (long long)(DAY_US + h * HOUR_US));
		assert_int_equal(number(p, sql), BANDS);
	}
	assert_int_equal(number(p, "SELECT count(*) FROM artefact WHERE run = 1 AND band = 1 AND channel = 4"), 1);
	/* Two minutes of each hour, or one of these where both fall in the same. */
	assert_int_equal(number(p, "SELECT count(DISTINCT start_us) FROM strip"), 2 * HOURS);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test_setup_teardown(hours_are_kept_apart, make_place, remove_place),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
