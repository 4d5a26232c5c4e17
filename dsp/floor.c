#include "dsp/floor.h"

#include <assert.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "dsp/hot.h"
#include "dsp/click.h"
#include "dsp/quiet.h"

#define CELL_HZ      2500.0     /* the quiet gaps of a crowded hop are a few kHz wide   */
#define CELLS_LEAST  64
#define KEPT         128        /* looks remembered for the shape                       */
#define QUARTER      0.25
#define GUARD_HZ     2500.0     /* cells this near to a signal hold its skirts          */
#define QUARTILE_NU  0.54       /* degrees that the lower quartile of slices leaves: of */
				/* a normal sample, f(z)^2 / (p (1 - p)) at p = 1/4     */
#define BLUR_HZ      5000.0     /* the shape is smoothed over this to either side, ...  */
#define ALIKE        0.08f      /* ... as far as it differs by no more than this        */
#define PEAK         1.7f       /* cells this far over both sides are not the passband  */
#define PEELS        3          /* a line's skirts show once its top is off             */
#define SKIRT_HZ     10000.0    /* beside a line its skirts are taken for this wide     */

struct floor {
	int     bins, cells, cell_bins, first_bin;
	int     skirt, guard, blur;     /* cells                                        */
	struct quiet *quiet;            /* [slices + 1], by how many slices are good    */
	struct quiet  quartiles;        /* of a look's slices                           */
	int     slices;
	struct click *click;
	float  *shape;                  /* [cells], geometric mean 1: per bin           */
	double *shape_row;              /* [bins + 1], added up                         */
	float  *kept;                   /* [KEPT][cells], ring                          */
	int     n_kept, at;
	bool    one_place;
	float  *low;                    /* [a quarter of the slices][cells], at one place */
	float  *work, *ratio;           /* [as many as cells and KEPT]                  */
	double  level;                  /* of the look judged last: noise power per bin */
};

static void lay_shape(struct floor *f)
{
	f->shape_row[0] = 0;
	for (int k = 0; k < f->bins; k++) {
		int c = (k - f->first_bin) / f->cell_bins;
		c = k < f->first_bin ? 0 : c >= f->cells ? f->cells - 1 : c;
		f->shape_row[k + 1] = f->shape_row[k] + (double)f->shape[c];
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

/* How many of a look's slices lie up to their quartile. */
static int lowest_slices(const struct floor *f)
{
	return quiet_rank(f->slices, QUARTER) + 1;
}

struct floor *floor_create(const struct look *like, const float *window, int hop, bool one_place)
{
	struct floor *f = calloc(1, sizeof *f);
	if (!f)
		return NULL;
	f->one_place = one_place;
	size_cells(f, like);
	size_t cells = (size_t)f->cells, most = cells > KEPT ? cells : KEPT;
	f->quiet = calloc((size_t)f->slices + 1, sizeof *f->quiet);
	f->shape = calloc(cells, sizeof *f->shape);
	f->shape_row = calloc((size_t)f->bins + 1, sizeof *f->shape_row);
	f->click = click_create(like, f->first_bin, f->cells * f->cell_bins);
	f->kept = calloc(cells * KEPT, sizeof *f->kept);
	f->low = calloc(one_place ? cells * (size_t)lowest_slices(f) : 1, sizeof *f->low);
	f->work = calloc(most, sizeof *f->work);
	f->ratio = calloc(most, sizeof *f->ratio);
	if (!f->quiet || !f->shape || !f->shape_row || !f->click || !f->kept || !f->low ||
	    !f->work || !f->ratio)
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
	click_destroy(f->click);
	free(f->kept);
	free(f->low);
	free(f->work);
	free(f->ratio);
	free(f);
}

/* Means of a slice's bins in each cell. */
HOT static void slice_cells(const struct floor *f, const float *bin, float *restrict out)
{
	const float *in = bin + f->first_bin;
	float by = 1 / (float)f->cell_bins;

	for (int c = 0; c < f->cells; c++, in += f->cell_bins) {
		float sum = 0;
		for (int k = 0; k < f->cell_bins; k++)
			sum += in[k];
		out[c] = sum * by;
	}
}

/* The same of the whole look. */
static void look_cells(const struct floor *f, const struct look *l, float *restrict out)
{
	const double *row = l->total + f->first_bin;

	for (int c = 0; c < f->cells; c++, row += f->cell_bins)
		out[c] = (float)((row[f->cell_bins] - row[0]) / f->cell_bins);
}

/* Puts each cell's value among its lowest n so far, which are in order. */
HOT static void put_low(float *restrict low, int n, float *restrict x, int cells)
{
	for (int j = 0; j < n; j++, low += cells)
		for (int c = 0; c < cells; c++) {
			float less = low[c] < x[c] ? low[c] : x[c];
			x[c] = low[c] < x[c] ? x[c] : low[c];
			low[c] = less;
		}
}

/* At one place a burst in every look would pass for the passband: take a cell as
 * it is in the look's quieter slices. The quartile reads low, but in all cells alike. */
static void quiet_cells(struct floor *f, const struct look *l, float *out)
{
	int n = lowest_slices(f);

	if (!f->one_place || l->slices < 4) {
		look_cells(f, l, out);
		return;
	}
	for (int i = 0; i < n * f->cells; i++)
		f->low[i] = HUGE_VALF;
	for (int s = 0; s < l->slices; s++) {
		slice_cells(f, look_slice(l, s), f->work);
		put_low(f->low, n, f->work, f->cells);
	}
	memcpy(out, f->low + (size_t)(n - 1) * (size_t)f->cells, (size_t)f->cells * sizeof *out);
}

void floor_learn(struct floor *f, const struct look *l)
{
	quiet_cells(f, l, f->kept + (size_t)f->at * (size_t)f->cells);
	f->at = (f->at + 1) % KEPT;
	if (f->n_kept < KEPT)
		f->n_kept++;
	if (f->at == 0)
		floor_settle(f);
}

void floor_forget(struct floor *f)
{
	if (f->n_kept == 0)
		return;
	if (f->n_kept < KEPT)           /* else the next takes its place */
		f->n_kept--;
	f->at = (f->at + KEPT - 1) % KEPT;
}

HOT static void over_shape(const float *restrict x, const float *restrict shape, int n,
			   float *restrict out)
{
	for (int i = 0; i < n; i++)
		out[i] = x[i] / shape[i];
}

/* The same level for all looks remembered: the middle one. */
static void level_out(const struct floor *f, float *norm)
{
	float level = quiet_ranked(norm, f->n_kept, quiet_rank(f->n_kept, 0.5));
	for (int j = 0; j < f->n_kept; j++)
		norm[j] = level;
}

/* One cell over the looks remembered, each over its level, goes to work; how many. */
static int over_looks(struct floor *f, int c, const float *norm)
{
	int n = 0;

	for (int j = 0; j < f->n_kept; j++)
		if (norm[j] > 0)
			f->work[n++] = f->kept[j * f->cells + c] / norm[j];
	return n;
}

/* Divides every look remembered by its level over the shape, then takes each cell's
 * quiet mean over looks. Twice converges to 0.1 dB, thrice is flat. At one place a
 * keyed signal's skirts tilt most looks the same way: there one level is for all. */
static void shape_from_kept(struct floor *f, float *norm)
{
	const struct quiet *whole = &f->quiet[f->slices];
	const struct quiet *each = f->one_place ? &f->quartiles : whole;

	for (int pass = 0; pass < 3; pass++) {
		for (int j = 0; j < f->n_kept; j++) {
			over_shape(f->kept + j * f->cells, f->shape, f->cells, f->work);
			norm[j] = (float)quiet_mean(f->work, f->cells, whole);
		}
		if (f->one_place)
			level_out(f, norm);
		double logs = 0;
		for (int c = 0; c < f->cells; c++) {
			int n = over_looks(f, c, norm);
			double s = n ? quiet_mean(f->work, n, each) : 1;
			f->shape[c] = (float)fmax(s, 1e-6);
			logs += log((double)f->shape[c]);
		}
		float level = (float)exp(logs / f->cells);
		for (int c = 0; c < f->cells; c++)
			f->shape[c] /= level;
	}
}

/* A passband is smooth: neighbours are one, but for a step, which stays. */
static void smooth(struct floor *f)
{
	for (int c = 0; c < f->cells; c++) {
		float sum = 0, alike = ALIKE * f->shape[c];
		int n = 0;
		for (int k = c - f->blur; k <= c + f->blur; k++) {
			if (k < 0 || k >= f->cells || fabsf(f->shape[k] - f->shape[c]) > alike)
				continue;
			sum += f->shape[k];
			n++;
		}
		f->ratio[c] = sum / (float)n;
	}
	memcpy(f->shape, f->ratio, (size_t)f->cells * sizeof *f->shape);
}

/* Lower quartile of the shape over cells [a, b), or a huge value when there are few. */
static float side(const struct floor *f, int a, int b, int least)
{
	a = a < 0 ? 0 : a;
	b = b > f->cells ? f->cells : b;
	return b - a < least ? HUGE_VALF :
			       quiet_ranked(f->shape + a, b - a, quiet_rank(b - a, QUARTER));
}

/* A passband may slope; a line stands over what is on its left and on its right.
 * Such cells are bridged, straight in decibels, from the nearest that are not. */
static void bridge_lines(struct floor *f)
{
	int reach = f->cells / 4, least = reach / 16 + 1;
	float *peak = f->ratio;

	for (int c = 0; c < f->cells; c++) {
		float left = side(f, c - reach, c, least);
		float right = side(f, c + 1, c + 1 + reach, least);
		peak[c] = f->shape[c] > PEAK * fmaxf(left, right);
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
		double x = log((double)f->shape[from]), y = log((double)f->shape[to]);
		for (int k = from + 1; k < to; k++)
			f->shape[k] = (float)exp(x + (y - x) * (k - from) / (to - from));
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

/* Cells whose neighbours no noise would fill go to work; how many. */
static int apart_from_signals(struct floor *f, float loud)
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

	look_cells(f, l, f->work);
	over_shape(f->work, f->shape, f->cells, f->ratio);
	double level = quiet_mean(f->ratio, f->cells, q);
	/* Once more without what strong ones spill beside them, where that leaves enough. */
	int n = apart_from_signals(f, (float)(q->loud * level));
	return n < f->cells && n >= f->cells / 10 ? quiet_mean(f->work, n, q) : level;
}

void floor_judge(struct floor *f, struct look *l)
{
	assert(l->bins == f->bins);
	if (click_mark(f->click, l))
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
