#include "tools/plan/list.h"

#include <math.h>
#include <stdlib.h>

int list_room(void **array, int n, size_t size)
{
	/* Doubles whenever n reaches a power of two; begins with one. */
	if ((n & (n - 1)) != 0)
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

/* The library's sort calls a function for each two and takes twice as long: many channels have
 * thousands of overs, and much is asked of each. It is left where halves come out badly. */
#define FEW  16
#define DEEP 48

static void sort_few(double *v, int n)
{
	for (int i = 1; i < n; i++) {
		double x = v[i];
		int at = i;
		for (; at > 0 && v[at - 1] > x; at--)
			v[at] = v[at - 1];
		v[at] = x;
	}
}

static double middle(double a, double b, double c)
{
	return fmax(fmin(a, b), fmin(fmax(a, b), c));
}

/* Hoare's: what is not above the middle one, then what is not below it; where the latter begins. */
static int divide(double *v, int n)
{
	double by = middle(v[0], v[n / 2], v[n - 1]);
	int i = 0, j = n - 1;

	while (i <= j) {
		for (; v[i] < by; i++)
			;
		for (; v[j] > by; j--)
			;
		if (i > j)
			break;
		double x = v[i];
		v[i++] = v[j];
		v[j--] = x;
	}
	return i;
}

static void sort(double *v, int n, int deep)
{
	if (n <= FEW) {
		sort_few(v, n);
	} else if (deep == 0) {
		qsort(v, (size_t)n, sizeof *v, ascending);
	} else {
		int at = divide(v, n);
		sort(v, at, deep - 1);
		sort(v + at, n - at, deep - 1);
	}
}

/* How often each is there, when there are not many more that might be. */
#define CLOSE 16
#define MANY  64

void list_sort_whole(double *v, int n)
{
	double low = INFINITY, high = -INFINITY;
	int *count = NULL, to = 0;

	for (int i = 0; i < n; i++) {
		low = v[i] < low ? v[i] : low;
		high = v[i] > high ? v[i] : high;
	}
	if (n >= MANY && high - low < CLOSE * (double)n)
		count = calloc((size_t)(high - low) + 1, sizeof *count);
	if (!count) {
		sort(v, n, DEEP);
		return;
	}
	for (int i = 0; i < n; i++)
		count[(int)(v[i] - low)]++;
	for (int i = 0; i <= (int)(high - low); i++)
		while (count[i]-- > 0)
			v[to++] = low + i;
	free(count);
}

double list_quantile(double *value, int n, double q)
{
	if (n <= 0)
		return 0;
	/* Often asked of the same values again. */
	for (int i = 1; i < n; i++)
		if (value[i] < value[i - 1]) {
			sort(value, n, DEEP);
			break;
		}
	double at = q * (n - 1);
	int low = (int)at;
	if (low >= n - 1)
		return value[n - 1];
	return value[low] + (at - low) * (value[low + 1] - value[low]);
}
