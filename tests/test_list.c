#include "tests/test.h"

#include <malloc.h>
#include <stdlib.h>

#include "tests/noise.h"
#include "tools/plan/list.h"

static int ascending(const void *a, const void *b)
{
	double x = *(const double *)a, y = *(const double *)b;
	return (x > y) - (x < y);
}

/* Against the C library's sort: few and many, close together and far apart, below zero too. */
static void whole_numbers(void **state)
{
	static const struct { int n; double low, range; } cases[] = {
		{ 0, 0, 1 }, { 1, -5, 1 }, { 63, -40, 9 }, { 64, -40, 9 }, { 1000, -8000, 15000 },
		{ 1000, -8000, 17000 }, { 1000, -2147483648.0, 4294967295.0 }, { 5000, 7, 1 },
	};
	struct noise dice = { 20260501 };

	(void)state;
	for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
		double got[5000], want[5000];
		for (int k = 0; k < cases[i].n; k++)
			got[k] = want[k] = cases[i].low + (double)(int64_t)(cases[i].range * noise_uniform(&dice));
		list_sort_whole(got, cases[i].n);
		qsort(want, (size_t)cases[i].n, sizeof *want, ascending);
		for (int k = 0; k < cases[i].n; k++)
			if (got[k] != want[k])
				fail_msg("%d from %g on: at %d %g, want %g", cases[i].n, cases[i].low, k, got[k], want[k]);
	}
}

/* Before each one that is added, the block is long enough for it. */
static void room_for_one_more(void **state)
{
	enum { SIZE = 1000 };
	char *array = NULL;
	void *before = NULL;
	int grown = 0;

	(void)state;
	for (int n = 0; n < 100; n++) {
		assert_int_equal(list_room((void **)&array, n, SIZE), 0);
		if (malloc_usable_size(array) < (size_t)(n + 1) * SIZE)
			fail_msg("%zu bytes for %d of %d", malloc_usable_size(array), n + 1, SIZE);
		grown += array != before;
		before = array;
	}
	assert_in_range(grown, 1, 8);           /* 1, 2, 4 .. 128 of them */
	free(array);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(whole_numbers),
		cmocka_unit_test(room_for_one_more),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
