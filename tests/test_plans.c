#include "tests/test.h"

#include <glob.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#include "daemon/plans.h"
#include "dsp/spectrum.h"
#include "tests/folder.h"

#define SMALL 90                /* points: no plan of it is known, and it is soon found */

static const int lengths[] = { SMALL };

static void kept(const struct folder *f, char path[128])
{
	snprintf(path, 128, "%s/bandcensus/transforms", f->path);
}

static void begin(const struct folder *f)
{
	setenv("XDG_CACHE_HOME", f->path, 1);
	spectrum_plans_forget();
	assert_false(spectrum_plan_known(SMALL));
}

static long size_of(const char *path)
{
	struct stat s;

	return stat(path, &s) == 0 ? (long)s.st_size : -1;
}

/* Searched once; another start finds it in the folder, where nobody else can read it. */
static void a_plan_is_kept(void **state)
{
	const struct folder *f = *state;
	char path[128];
	struct stat first, second;

	kept(f, path);
	begin(f);
	plans_fetch(lengths, 1);
	assert_true(spectrum_plan_known(SMALL));
	assert_int_equal(stat(path, &first), 0);
	assert_int_equal(first.st_mode & 0777, 0600);
	spectrum_plans_forget();
	plans_fetch(lengths, 1);
	assert_true(spectrum_plan_known(SMALL));
	assert_int_equal(stat(path, &second), 0);
	assert_int_equal(first.st_ino, second.st_ino);  /* not written again: not searched */
}

/* Text that is none, is cut short or belongs to another is done without and replaced. */
static void what_does_not_fit_is_replaced(void **state)
{
	static const char *const texts[] = {
		"", "not a plan\n", "(fftw-3.3.10 fftwf_wisdom #x0 #x0 #x0 #x0\n)\n",
		"(fftw-3.3.10 fftwf_wisdom",
	};
	const struct folder *f = *state;
	char path[128];

	kept(f, path);
	for (size_t i = 0; i < sizeof texts / sizeof texts[0]; i++) {
		begin(f);
		write_file(f, "bandcensus/transforms", texts[i], strlen(texts[i]));
		plans_fetch(lengths, 1);
		if (!spectrum_plan_known(SMALL))
			fail_msg("\"%s\" kept a plan from being found", texts[i]);
		if (size_of(path) <= (long)strlen(texts[i]))
			fail_msg("\"%s\" was not replaced", texts[i]);
	}
}

/* No folder to keep it in is no reason not to start. */
static void without_a_folder_it_goes_on(void **state)
{
	const struct folder *f = *state;

	begin(f);
	setenv("XDG_CACHE_HOME", "/proc/none", 1);
	plans_fetch(lengths, 1);
	assert_true(spectrum_plan_known(SMALL));
	spectrum_plans_forget();
	setenv("XDG_CACHE_HOME", "beside/us", 1);
	unsetenv("HOME");
	plans_fetch(lengths, 1);
	assert_true(spectrum_plan_known(SMALL));
}

/* Without a folder for caches there is the user's own. */
static void at_home(void **state)
{
	const struct folder *f = *state;
	char home[128], path[160];

	begin(f);
	snprintf(home, sizeof home, "%s/home", f->path);
	snprintf(path, sizeof path, "%s/.cache/bandcensus/transforms", home);
	assert_int_equal(mkdir(home, 0700), 0);
	unsetenv("XDG_CACHE_HOME");
	setenv("HOME", home, 1);
	plans_fetch(lengths, 1);
	assert_true(size_of(path) > 0);
}

/* What is in the way of the text is left as it is, and nothing beside it. */
static void where_it_cant_be_kept(void **state)
{
	const struct folder *f = *state;
	char path[128], beside[160];
	glob_t found = { 0 };

	kept(f, path);
	begin(f);
	remove_file(f, "bandcensus/transforms");
	assert_int_equal(mkdir(path, 0700), 0);
	plans_fetch(lengths, 1);
	assert_true(spectrum_plan_known(SMALL));
	snprintf(beside, sizeof beside, "%s.*", path);
	assert_int_equal(glob(beside, 0, NULL, &found), GLOB_NOMATCH);
	assert_int_equal(rmdir(path), 0);
}

/* With a plan found by search a spectrum is the same but for rounding. */
static void a_found_plan_gives_the_same_powers(void **state)
{
	float iq[4 * SMALL], by_estimate[SMALL] = { 0 }, by_search[SMALL] = { 0 };
	struct block b = { .iq = iq, .format = SAMPLE_CF32, .n = 2 * SMALL, .rate_hz = 2400000 };
	float *sums[] = { by_estimate, by_search };
	(void)state;

	for (int i = 0; i < 4 * SMALL; i++)
		iq[i] = (float)(i * i % 97) / 97 - 0.5f;
	spectrum_plans_forget();
	for (int k = 0; k < 2; k++) {
		struct spectrum *s = spectrum_create(SMALL, SMALL / 2, WINDOW_HANN, 0);
		spectrum_add(s, &b, 0, 3, 0, sums[k]);
		spectrum_destroy(s);
		spectrum_plan_search(SMALL, 1);
	}
	for (int i = 0; i < SMALL; i++)
		assert_float_equal(by_estimate[i], by_search[i], 1e-6f + 1e-5f * by_estimate[i]);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(a_plan_is_kept),
		cmocka_unit_test(what_does_not_fit_is_replaced),
		cmocka_unit_test(at_home), cmocka_unit_test(where_it_cant_be_kept),
		cmocka_unit_test(without_a_folder_it_goes_on),
		cmocka_unit_test(a_found_plan_gives_the_same_powers),
	};
	return cmocka_run_group_tests(tests, make_folder, drop_folder);
}
