#include "tools/plan/list.h"

#include <stdlib.h>

int list_room(void **array, int n, size_t size)
{
	/* Doubles whenever n reaches a power of two. */
	if (n > 0 && (n & (n - 1)) != 0)
		return 0;
	void *more = realloc(*array, (n ? 2 * (size_t)n : 1) * size);
	if (!more)
		return -1;
	*array = more;
	return 0;
}

static int ascending(const void *a, const void *b)
{
	double x = *(const double *)a, y = *(const double *)b;
	return (x > y) - (x < y);
}

double list_quantile(double *value, int n, double q)
{
	if (n <= 0)
		return 0;
	/* Often asked of the same values again. */
	for (int i = 1; i < n; i++)
		if (value[i] < value[i - 1]) {
			qsort(value, (size_t)n, sizeof *value, ascending);
			break;
		}
	double at = q * (n - 1);
	int low = (int)at;
	if (low >= n - 1)
		return value[n - 1];
	return value[low] + (at - low) * (value[low + 1] - value[low]);
}
