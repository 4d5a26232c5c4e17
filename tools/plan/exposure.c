#include "tools/plan/exposure.h"

#include <math.h>
#include <stdlib.h>

double exposure_seen_s(const struct exposure *x, double between_s, double length_s)
{
	double bunches = fmax(0, x->looks - x->pairs), left = fmax(0, x->wall_s - x->looked_s);
	double within = x->pairs > 0 ? fmin(between_s, left / x->pairs) : 0;
	double hole = bunches > 0 ? (left - x->pairs * within) / bunches : 0;

	return x->looked_s + x->pairs * fmin(length_s, within) + bunches * fmin(length_s, hole);
}

static int by_channel(const void *a, const void *b)
{
	const struct account *x = a, *y = b;

	if (x->band != y->band)
		return x->band < y->band ? -1 : 1;
	if (x->channel != y->channel)
		return x->channel < y->channel ? -1 : 1;
	return (x->hour > y->hour) - (x->hour < y->hour);
}

static int by_place(const struct account *a, int32_t band, int32_t channel)
{
	return a->band != band ? (a->band < band ? -1 : 1) :
				 (a->channel > channel) - (a->channel < channel);
}

void accounts_sort(struct account *a, int n)
{
	for (int i = 1; i < n; i++)
		if (by_place(&a[i - 1], a[i].band, a[i].channel) > 0) {
			qsort(a, (size_t)n, sizeof *a, by_channel);
			return;
		}
}

int accounts_find(const struct account *a, int n, int32_t band, int32_t channel)
{
	int low = 0, high = n;

	while (low < high) {
		int mid = (low + high) / 2;
		if (by_place(&a[mid], band, channel) < 0)
			low = mid + 1;
		else
			high = mid;
	}
	return low;
}
