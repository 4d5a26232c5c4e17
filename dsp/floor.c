#include "dsp/floor.h"

#include <assert.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "dsp/chance.h"

#define CELLS_WANTED 200
#define KEPT         128        /* looks remembered for the shape                       */
#define QUARTER      0.25
#define EXCISE_PFA   1e-3       /* a cell this unlikely to be noise is left out         */
#define BURSTY       0.10       /* at one place, of a channel's looks: keyed signals     */
				/* may be on for most of them                           */
#define CLICK        2.0        /* slices this far over the look's usual are clicks ... */
#define CLICK_FLAT   20.0       /* ... when no part stands out over the rest by more    */
#define PEAK         1.7        /* cells this far over both sides are not the passband  */
#define PEELS        3          /* a line's skirts show once its top is off             */

struct floor {
	int     bins, cells, cell_bins, first_bin;
	double  low_mean;               /* of the lowest quarter of a look's cells      */
	double  excise;
	double *shape;                  /* [cells], geometric mean 1: per bin           */
	double *shape_row;              /* [bins + 1], added up                         */
	float  *kept;                   /* [cells][KEPT], ring                          */
	int     n_kept, at;
	bool    one_place;
	double *work;                   /* [max(cells, KEPT)]                           */
	double *ratio;                  /* [cells]                                      */
	double  level;                  /* of the look judged last: noise power per bin */
};

static void lay_shape(struct floor *f)
{
	f->shape_row[0] = 0;
	for (int k = 0; k < f->bins; k++) {
		int c = (k - f->first_bin) / f->cell_bins;
		c = k < f->first_bin ? 0 : c >= f->cells ? f->cells - 1 : c;
		f->shape_row[k + 1] = f->shape_row[k] + f->shape[c];
	}
}

struct floor *floor_create(const struct look *like, const float *window, int hop, bool one_place)
{
	struct floor *f = calloc(1, sizeof *f);
	if (!f)
		return NULL;
	int usable = (int)(like->bins * HOP_USABLE);
	f->bins = like->bins;
	f->one_place = one_place;
	f->cell_bins = usable / CELLS_WANTED > 0 ? usable / CELLS_WANTED : 1;
	f->cells = usable / f->cell_bins;
	f->first_bin = (f->bins - f->cells * f->cell_bins) / 2;
	double nu = window_freedom(window, f->bins, hop, like->transforms, 0, f->cell_bins);
	f->low_mean = chance_low_mean(nu, QUARTER);
	f->excise = chance_threshold(nu, EXCISE_PFA);
	int most = f->cells > KEPT ? f->cells : KEPT;
	f->shape = calloc((size_t)f->cells, sizeof *f->shape);
	f->shape_row = calloc((size_t)f->bins + 1, sizeof *f->shape_row);
	f->kept = calloc((size_t)f->cells * KEPT, sizeof *f->kept);
	f->work = calloc((size_t)most, sizeof *f->work);
	f->ratio = calloc((size_t)most, sizeof *f->ratio);
	if (!f->shape || !f->shape_row || !f->kept || !f->work || !f->ratio)
		goto fail;
	for (int c = 0; c < f->cells; c++)
		f->shape[c] = 1;
	lay_shape(f);
	return f;
fail:
	floor_destroy(f);
	return NULL;
}

void floor_destroy(struct floor *f)
{
	if (!f)
		return;
	free(f->shape);
	free(f->shape_row);
	free(f->kept);
	free(f->work);
	free(f->ratio);
	free(f);
}

static double cell_power(const struct floor *f, const double *row, int c)
{
	int k = f->first_bin + c * f->cell_bins;
	return (row[k + f->cell_bins] - row[k]) / f->cell_bins;
}

static int ascending(const void *a, const void *b)
{
	double x = *(const double *)a, y = *(const double *)b;
	return (x > y) - (x < y);
}

/* The q-quantile of x[n]; x is left partly ordered (quickselect). */
static double quantile(double *x, int n, double q)
{
	int k = (int)(q * (n - 1) + 0.5), low = 0, high = n - 1;

	while (low < high) {
		double pivot = x[(low + high) / 2];
		int i = low, j = high;
		while (i <= j) {
			while (x[i] < pivot)
				i++;
			while (x[j] > pivot)
				j--;
			if (i <= j) {
				double t = x[i];
				x[i++] = x[j];
				x[j--] = t;
			}
		}
		if (k <= j)
			high = j;
		else if (k >= i)
			low = i;
		else
			break;
	}
	return x[k];
}

/* At one place a burst in every look would pass for the passband: take a cell as
 * it is in the look's quieter slices. The quartile reads low, but in all cells alike. */
static double quiet_power(struct floor *f, const struct look *l, int c)
{
	if (!f->one_place || l->slices < 4)
		return cell_power(f, l->total, c);
	for (int s = 0; s < l->slices; s++)
		f->work[s] = cell_power(f, look_slice(l, s), c);
	return quantile(f->work, l->slices, QUARTER);
}

void floor_learn(struct floor *f, const struct look *l)
{
	for (int c = 0; c < f->cells; c++)
		f->kept[c * KEPT + f->at] = (float)quiet_power(f, l, c);
	f->at = (f->at + 1) % KEPT;
	if (f->n_kept < KEPT)
		f->n_kept++;
	if (f->at == 0)
		floor_settle(f);
}

/* The same level for all looks remembered: the middle one. */
static void level_out(struct floor *f, float *norm)
{
	for (int j = 0; j < f->n_kept; j++)
		f->work[j] = norm[j];
	float level = (float)quantile(f->work, f->n_kept, 0.5);
	for (int j = 0; j < f->n_kept; j++)
		norm[j] = level;
}

/* Divides every look remembered by its lower quartile over the shape, then takes
 * each cell's lower quartile over looks. Twice converges to 0.1 dB, thrice is flat.
 * At one place a keyed signal's skirts tilt most looks the same way: there a cell's
 * own quietest looks count, all by one level. */
static void shape_from_kept(struct floor *f, float *norm)
{
	for (int pass = 0; pass < 3; pass++) {
		for (int j = 0; j < f->n_kept; j++) {
			for (int c = 0; c < f->cells; c++)
				f->work[c] = f->kept[c * KEPT + j] / f->shape[c];
			norm[j] = (float)quantile(f->work, f->cells, QUARTER);
		}
		if (f->one_place)
			level_out(f, norm);
		double logs = 0;
		for (int c = 0; c < f->cells; c++) {
			int n = 0;
			for (int j = 0; j < f->n_kept; j++)
				if (norm[j] > 0)
					f->work[n++] = f->kept[c * KEPT + j] / norm[j];
			double s = n ? quantile(f->work, n, f->one_place ? BURSTY : QUARTER) : 1;
			f->shape[c] = s > 1e-6 ? s : 1e-6;
			logs += log(f->shape[c]);
		}
		for (int c = 0; c < f->cells; c++)
			f->shape[c] /= exp(logs / f->cells);
	}
}

/* Lower quartile of the shape over cells [a, b), or a huge value when there are few. */
static double side(struct floor *f, int a, int b, int least)
{
	a = a < 0 ? 0 : a;
	b = b > f->cells ? f->cells : b;
	if (b - a < least)
		return HUGE_VAL;
	memcpy(f->work, f->shape + a, (size_t)(b - a) * sizeof *f->work);
	return quantile(f->work, b - a, QUARTER);
}

/* A passband may slope; a line stands over what is on its left and on its right.
 * Such cells are bridged, straight in decibels, from the nearest that are not. */
static void bridge_lines(struct floor *f)
{
	int reach = f->cells / 4, least = reach / 4 + 1;
	double *peak = f->ratio;

	for (int c = 0; c < f->cells; c++) {
		double left = side(f, c - reach, c, least);
		double right = side(f, c + 1, c + 1 + reach, least);
		peak[c] = f->shape[c] > PEAK * fmax(left, right);
	}
	for (int c = 0; c < f->cells; c++) {
		if (peak[c] == 0)
			continue;
		int a = c - 1, b = c;
		while (b < f->cells && peak[b] != 0)
			b++;
		/* The cells beside a line hold its skirts: step over one. */
		int from = a > 0 ? a - 1 : a, to = b + 1 < f->cells ? b + 1 : b;
		if (from < 0 || to >= f->cells)
			break;          /* a line at the very edge stays */
		double x = log(f->shape[from]), y = log(f->shape[to]);
		for (int k = from + 1; k < to; k++)
			f->shape[k] = exp(x + (y - x) * (k - from) / (to - from));
		c = b;
	}
}

void floor_settle(struct floor *f)
{
	float norm[KEPT];

	if (f->n_kept == 0)
		return;
	shape_from_kept(f, norm);
	for (int i = 0; f->one_place && i < PEELS; i++)
		bridge_lines(f);
	lay_shape(f);
}

/* Forward consecutive mean excision: start from the lowest quarter, whose mean
 * under noise is known, and let in what noise could be. ratio is sorted. */
static double excised_mean(const struct floor *f, const double *ratio, int n)
{
	int kept = n / 4 > 0 ? n / 4 : 1;
	double sum = 0;

	for (int i = 0; i < kept; i++)
		sum += ratio[i];
	double first = sum / kept / f->low_mean;
	while (kept < n && ratio[kept] <= f->excise * fmax(first, sum / kept))
		sum += ratio[kept++];
	return sum / kept;
}

static void mark_clicks(struct floor *f, struct look *l)
{
	double level[LOOK_SLICES_MAX], sorted[LOOK_SLICES_MAX];
	bool flat[LOOK_SLICES_MAX];

	if (l->slices < 4)
		return;
	for (int s = 0; s < l->slices; s++) {
		const double *row = look_slice(l, s);
		for (int c = 0; c < f->cells; c++)
			f->work[c] = cell_power(f, row, c) / f->shape[c];
		level[s] = quantile(f->work, f->cells, QUARTER);
		double low = quantile(f->work, f->cells, 0.1), high = quantile(f->work, f->cells, 0.9);
		flat[s] = high < CLICK_FLAT * low;
	}
	memcpy(sorted, level, sizeof sorted);
	double usual = quantile(sorted, l->slices, QUARTER);
	for (int s = 0; s < l->slices; s++) {
		if (!flat[s] || usual <= 0)
			continue;
		l->spoilt[s] = level[s] > CLICK * usual;
		l->lift[s] = fmax(1, level[s] / usual);
	}
}

void floor_judge(struct floor *f, struct look *l)
{
	assert(l->bins == f->bins);
	mark_clicks(f, l);
	look_leave_out(l);
	for (int c = 0; c < f->cells; c++)
		f->ratio[c] = cell_power(f, l->total, c) / f->shape[c];
	qsort(f->ratio, (size_t)f->cells, sizeof *f->ratio, ascending);
	f->level = excised_mean(f, f->ratio, f->cells);
	/* A converter that shows only zeros is not silent beyond its own steps. */
	f->level = fmax(f->level, l->quantum / l->bins);
}

double floor_power(const struct floor *f, double from, double to)
{
	return f->level * look_power(f->shape_row, f->bins, from, to);
}

double floor_bin(const struct floor *f, int bin)
{
	return f->level * (f->shape_row[bin + 1] - f->shape_row[bin]);
}

double floor_level(const struct floor *f)
{
	return f->level * f->bins;
}
