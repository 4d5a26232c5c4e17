/* The squelch is chosen when reading: a night recorded down to 3 dB and read at 10 dB must tell
 * what a night recorded at 10 dB tells. Part of the town's night, few bands, the same seed,
 * without parks and challenges, so that both look at the same moments. */
#include "tests/test.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "tests/csv_rows.h"

#define SEED "20260217"

#ifdef __SANITIZE_ADDRESS__
#define LASTS "1 h"
#else
#define LASTS "2h"
#endif

struct nights {
	char folder[64];
	struct csv_rows *deep, *shallow, *open;         /* read at 10, 10 and 3 dB */
};

static void run(const char *line)
{
	int status = system(line);

	if (status != 0)
		fail_msg("%s: %d", line, status);
}

static void survey(const struct nights *n, int margin_db)
{
	char line[2000], path[128];
	FILE *f;

	snprintf(path, sizeof path, "%s/%d.conf", n->folder, margin_db);
	f = fopen(path, "w");
	assert_non_null(f);
	fprintf(f,
		"kind = \"daemon\";\nstation = \"Harlow Ferry\";\nband_plan = \"%s\";\n"
		"survey = ( \"fire\", \"amateur-2m\", \"marine-ship\", \"amateur-70-top\", \"police-465\","
		" \"telemetry-173\" );\n"
		"rate = \"2.4 MS/s\";\ngain = \"29.7 dB\";\nppm = \"33 ppm\";\ndwell = \"20 ms\";\n"
		"false_alarm = 1e-8;\nmargin = \"%d dB\";\nhang = \"500 ms\";\nwarm_up = \"0 s\";\n"
		"track = false;\nsweeps_per_spell = 3;\nrest = \"60 s\";\npark_share = 0.0;\n"
		"challenge_share = 0.0;\n",
		SOURCE_ROOT "/config/bands-harlow-ferry.conf", margin_db);
	assert_int_equal(fclose(f), 0);
	snprintf(line, sizeof line,
		 "\"$BANDCENSUSD\" --config %s --source town:%s --seed " SEED " --survey %s/%d.survey --for '"
		 LASTS "' >%s/log 2>&1", path, SOURCE_ROOT "/config/harlow-ferry.conf", n->folder, margin_db,
		 n->folder);
	run(line);
}

static struct csv_rows *read_at(const struct nights *n, int margin_db, int squelch_db)
{
	char line[1000], path[128];

	snprintf(path, sizeof path, "%s/%d-%d.csv", n->folder, margin_db, squelch_db);
	snprintf(line, sizeof line, "\"$BANDCENSUS\" channels --csv --squelch %d %s/%d.survey >%s", squelch_db,
		 n->folder, margin_db, path);
	run(line);
	struct csv_rows *rows = csv_open(path);
	assert_non_null(rows);
	return rows;
}

static int set_up(void **state)
{
	struct nights *n = calloc(1, sizeof *n);

	assert_true(n && getenv("BANDCENSUSD") && getenv("BANDCENSUS"));
	strcpy(n->folder, "/tmp/test-squelch-XXXXXX");
	assert_non_null(mkdtemp(n->folder));
	survey(n, 3);
	survey(n, 10);
	n->deep = read_at(n, 3, 10);
	n->shallow = read_at(n, 10, 10);
	n->open = read_at(n, 3, 3);
	*state = n;
	return 0;
}

static int tear_down(void **state)
{
	struct nights *n = *state;
	char line[100];

	if (!n)
		return 0;
	csv_close(n->deep);
	csv_close(n->shallow);
	csv_close(n->open);
	snprintf(line, sizeof line, "rm -r %s", n->folder);
	int result = system(line);
	free(n);
	return result;
}

static int row_of(const struct csv_rows *rows, const char *band, const char *frequency)
{
	for (int i = 0; i < csv_count(rows); i++)
		if (strcmp(csv_cell(rows, i, "band"), band) == 0 &&
		    strcmp(csv_cell(rows, i, "frequency_hz"), frequency) == 0)
			return i;
	return -1;
}

/* Within a twentieth, and within 2: an emission that only the deep record knows may explain
 * another one away, or open a channel an instant sooner. */
static void must_agree(const struct nights *n, int i, int k, const char *what)
{
	double deep = csv_number(n->deep, i, what), shallow = csv_number(n->shallow, k, what);

	if (fabs(deep - shallow) > fmax(2, 0.05 * shallow))
		fail_msg("%s %s: %s is %g of a record down to 3 dB, %g of one at 10 dB (seed " SEED ")",
			 csv_cell(n->deep, i, "band"), csv_cell(n->deep, i, "frequency_hz"), what, deep,
			 shallow);
}

static void read_at_ten_is_recorded_at_ten(void **state)
{
	const struct nights *n = *state;
	int told = 0;

	for (int k = 0; k < csv_count(n->shallow); k++) {
		const char *band = csv_cell(n->shallow, k, "band"), *f = csv_cell(n->shallow, k, "frequency_hz");
		int i = row_of(n->deep, band, f);
		if (i < 0 && csv_number(n->shallow, k, "overs") > 2)
			fail_msg("%s %s is only in the record at 10 dB", band, f);
		if (i < 0)
			continue;
		must_agree(n, i, k, "looks");
		must_agree(n, i, k, "busy_looks");
		must_agree(n, i, k, "overs");
		told++;
	}
	for (int i = 0; i < csv_count(n->deep); i++)
		if (row_of(n->shallow, csv_cell(n->deep, i, "band"), csv_cell(n->deep, i, "frequency_hz")) < 0 &&
		    csv_number(n->deep, i, "overs") > 2)
			fail_msg("%s %s is only in the record down to 3 dB", csv_cell(n->deep, i, "band"),
				 csv_cell(n->deep, i, "frequency_hz"));
	if (told < 5)
		fail_msg("only %d channels to compare", told);
}

static double sum(const struct csv_rows *rows, const char *what)
{
	double all = 0;

	for (int i = 0; i < csv_count(rows); i++)
		all += csv_number(rows, i, what);
	return all;
}

/* And the choice makes a difference. */
static void read_at_three_tells_more(void **state)
{
	const struct nights *n = *state;

	assert_true(sum(n->open, "busy_looks") > sum(n->deep, "busy_looks"));
	assert_true(csv_count(n->open) >= csv_count(n->deep));
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(read_at_ten_is_recorded_at_ten),
		cmocka_unit_test(read_at_three_tells_more),
	};
	return cmocka_run_group_tests(tests, set_up, tear_down);
}
