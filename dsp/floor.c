#include "dsp/floor.h"

#include <assert.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "dsp/quiet.h"

#define CELL_HZ      2500.0     /* the quiet gaps of a crowded hop are a few kHz wide   */
#define CELLS_LEAST  64
#define CLICK_CELLS  200        /* a click is in all: wide cells will do                */
#define KEPT         128        /* looks remembered for the shape                       */
#define QUARTER      0.25
#define GUARD_HZ     2500.0     /* cells this near to a signal hold its skirts          */
#define QUARTILE_NU  0.54       /* degrees that the lower quartile of slices leaves: of */
				/* a normal sample, f(z)^2 / (p (1 - p)) at p = 1/4     */
#define BLUR_HZ      5000.0     /* the shape is smoothed over this to either side, ...  */
#define ALIKE        0.08       /* ... as far as it differs by no more than this        */
#define CLICK        2.0        /* slices this far over the look's usual are clicks ... */
#define CLICK_FLAT   20.0       /* ... when no part stands out over the rest by more    */
#define PEAK         1.7        /* cells this far over both sides are not the passband  */
#define PEELS        3          /* a line's skirts show once its top is off             */
#define SKIRT_HZ     10000.0    /* beside a line its skirts are taken for this wide     */

struct floor {
	int     bins, cells, cell_bins, first_bin;
	int     skirt, guard, blur;     /* cells                                        */
	struct quiet *quiet;            /* [slices + 1], by how many slices are good    */
	struct quiet  quartiles;        /* of a look's slices                           */
	int     slices;
	double *shape;                  /* [cells], geometric mean 1: per bin           */
	double *shape_row;              /* [bins + 1], added up                         */
	float  *kept;                   /* [cells][KEPT], ring                          */
	int     n_kept, at;
	bool    one_place;
	double *work;                   /* [as many as cells, KEPT and slices]          */
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

static void size_cells(struct floor *f, const struct look *like)
{
	int usable = (int)(like->bins * HOP_USABLE);
	int most = usable / CELLS_LEAST, wanted = (int)(CELL_HZ / like->bin_hz + 0.5);

	f->bins = like->bins;
	f->slices = like->slices;
	f->cell_bins = wanted < most ? wanted : most;
	f->cell_bins = f->cell_bins > 0 ? f->cell_bins : 1;
	f->cells = usable / f->cell_bins;
	f->first_bin = (f->bins - f->cells * f->cell_bins) / 2;
	double cell_hz = like->bin_hz * f->cell_bins;
	f->skirt = (int)fmax(1, SKIRT_HZ / cell_hz + 0.5);
	f->guard = (int)(GUARD_HZ / cell_hz + 0.5);
	f->blur = (int)(BLUR_HZ / cell_hz + 0.5);
}

struct floor *floor_create(const struct look *like, const float *window, int hop, bool one_place)
{
	struct floor *f = calloc(1, sizeof *f);
	if (!f)
		return NULL;
	f->one_place = one_place;
	size_cells(f, like);
	size_t most = (size_t)(f->cells > KEPT ? f->cells : KEPT);
	f->quiet = calloc((size_t)f->slices + 1, sizeof *f->quiet);
	f->shape = calloc((size_t)f->cells, sizeof *f->shape);
	f->shape_row = calloc((size_t)f->bins + 1, sizeof *f->shape_row);
	f->kept = calloc((size_t)f->cells * KEPT, sizeof *f->kept);
	f->work = calloc(most, sizeof *f->work);
	f->ratio = calloc((size_t)f->cells, sizeof *f->ratio);
	if (!f->quiet || !f->shape || !f->shape_row || !f->kept || !f->work || !f->ratio)
		goto fail;
	double nu = window_freedom(window, f->bins, hop, like->transforms, 0, f->cell_bins);
	for (int good = 0; good <= f->slices; good++)
		f->quiet[good] = quiet_of(nu * (good ? good : 1) / f->slices);
	f->quartiles = quiet_of(nu * QUARTILE_NU);
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
	free(f->quiet);
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

/* At one place a burst in every look would pass for the passband: take a cell as
 * it is in the look's quieter slices. The quartile reads low, but in all cells alike. */
static double quiet_power(const struct floor *f, const struct look *l, int c)
{
	if (!f->one_place || l->slices < 4)
		return cell_power(f, l->total, c);
	/* The few lowest in order, for there are many cells. */
	double low[LOOK_SLICES_MAX / 4 + 2];
	int n = 0, want = (int)(QUARTER * (l->slices - 1) + 0.5) + 1;
	for (int s = 0; s < l->slices; s++) {
		double p = cell_power(f, look_slice(l, s), c);
		if (n == want && p >= low[n - 1])
			continue;
		n += n < want;
		int i = n - 1;
		for (; i > 0 && low[i - 1] > p; i--)
			low[i] = low[i - 1];
		low[i] = p;
	}
	return low[want - 1];
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
	float level = (float)quiet_quantile(f->work, f->n_kept, 0.5);
	for (int j = 0; j < f->n_kept; j++)
		norm[j] = level;
}

/* Divides every look remembered by its level over the shape, then takes each cell's
 * quiet mean over looks. Twice converges to 0.1 dB, thrice is flat. At one place a
 * keyed signal's skirts tilt most looks the same way: there one level is for all. */
static void shape_from_kept(struct floor *f, float *norm)
{
	const struct quiet *whole = &f->quiet[f->slices];

	for (int pass = 0; pass < 3; pass++) {
		for (int j = 0; j < f->n_kept; j++) {
			for (int c = 0; c < f->cells; c++)
				f->work[c] = f->kept[c * KEPT + j] / f->shape[c];
			norm[j] = (float)quiet_mean(f->work, f->cells, whole);
		}
		if (f->one_place)
			level_out(f, norm);
		double logs = 0;
		for (int c = 0; c < f->cells; c++) {
			int n = 0;
			for (int j = 0; j < f->n_kept; j++)
				if (norm[j] > 0)
					f->work[n++] = f->kept[c * KEPT + j] / norm[j];
			double s = n ? quiet_mean(f->work, n, f->one_place ? &f->quartiles : whole) : 1;
			f->shape[c] = s > 1e-6 ? s : 1e-6;
			logs += log(f->shape[c]);
		}
		for (int c = 0; c < f->cells; c++)
			f->shape[c] /= exp(logs / f->cells);
	}
}

/* A passband is smooth: neighbours are one, but for a step, which stays. */
static void smooth(struct floor *f)
{
	for (int c = 0; c < f->cells; c++) {
		double sum = 0;
		int n = 0;
		for (int k = c - f->blur; k <= c + f->blur; k++) {
			if (k < 0 || k >= f->cells || fabs(f->shape[k] - f->shape[c]) > ALIKE * f->shape[c])
				continue;
			sum += f->shape[k];
			n++;
		}
		f->ratio[c] = sum / n;
	}
	memcpy(f->shape, f->ratio, (size_t)f->cells * sizeof *f->shape);
}

/* Lower quartile of the shape over cells [a, b), or a huge value when there are few. */
static double side(struct floor *f, int a, int b, int least)
{
	a = a < 0 ? 0 : a;
	b = b > f->cells ? f->cells : b;
	if (b - a < least)
		return HUGE_VAL;
	memcpy(f->work, f->shape + a, (size_t)(b - a) * sizeof *f->work);
	return quiet_quantile(f->work, b - a, QUARTER);
}

/* A passband may slope; a line stands over what is on its left and on its right.
 * Such cells are bridged, straight in decibels, from the nearest that are not. */
static void bridge_lines(struct floor *f)
{
	int reach = f->cells / 4, least = reach / 16 + 1;
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
		/* The cells beside a line hold its skirts: step over them. */
		int from = a - f->skirt, to = b + f->skirt;
		from = from < 0 ? a : from;
		to = to >= f->cells ? b : to;
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
	smooth(f);
	lay_shape(f);
}

/* A slice over the shape, in wide cells that go to work; how many. */
static int wide_cells(struct floor *f, const double *row)
{
	int wide = f->cells * f->cell_bins / CLICK_CELLS, n = 0;

	wide = wide > 0 ? wide : 1;
	for (int k = f->first_bin; k + wide <= f->bins - f->first_bin && n < f->cells; k += wide)
		f->work[n++] = (row[k + wide] - row[k]) / (f->shape_row[k + wide] - f->shape_row[k]);
	return n;
}

/* Whether there was one. */
static bool mark_clicks(struct floor *f, struct look *l)
{
	double level[LOOK_SLICES_MAX], sorted[LOOK_SLICES_MAX];
	bool flat[LOOK_SLICES_MAX], any = false;

	if (l->slices < 4)
		return false;
	for (int s = 0; s < l->slices; s++) {
		int n = wide_cells(f, look_slice(l, s));
		int quarter = (int)(QUARTER * (n - 1) + 0.5);
		level[s] = quiet_quantile(f->work, n, QUARTER);
		double low = quiet_quantile(f->work, quarter + 1, 0.4);
		double high = quiet_quantile(f->work + quarter, n - quarter, 0.87);
		flat[s] = high < CLICK_FLAT * low;
	}
	memcpy(sorted, level, sizeof sorted);
	double usual = quiet_quantile(sorted, l->slices, QUARTER);
	for (int s = 0; s < l->slices; s++) {
		if (!flat[s] || usual <= 0)
			continue;
		l->spoilt[s] = level[s] > CLICK * usual;
		l->lift[s] = fmax(1, level[s] / usual);
		any |= l->spoilt[s];
	}
	return any;
}

/* Cells whose neighbours no noise would fill go to work; how many. */
static int apart_from_signals(struct floor *f, double loud)
{
	int n = 0, last = -f->guard - 1;        /* the last loud cell met */

	for (int c = 0, ahead = 0; c < f->cells; c++) {
		for (; ahead < f->cells && ahead <= c + f->guard; ahead++)
			if (f->ratio[ahead] > loud)
				last = ahead;
		if (c - last > f->guard)
			f->work[n++] = f->ratio[c];
	}
	return n;
}

static double level_of(struct floor *f, const struct look *l)
{
	const struct quiet *q = &f->quiet[l->good];

	for (int c = 0; c < f->cells; c++)
		f->ratio[c] = cell_power(f, l->total, c) / f->shape[c];
	memcpy(f->work, f->ratio, (size_t)f->cells * sizeof *f->work);
	double level = quiet_mean(f->work, f->cells, q);
	/* Once more without what strong ones spill beside them, where that leaves enough. */
	int n = apart_from_signals(f, q->loud * level);
	return n < f->cells && n >= f->cells / 10 ? quiet_mean(f->work, n, q) : level;
}

void floor_judge(struct floor *f, struct look *l)
{
	assert(l->bins == f->bins);
	if (mark_clicks(f, l))
		look_leave_out(l);
	f->level = level_of(f, l);
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
