#include "dsp/click.h"

#include "dsp/hot.h"

#include <math.h>
#include <stdlib.h>

#include "dsp/quiet.h"

#define CELLS     200           /* a click is in all: wide cells will do                   */
#define PLACES    8             /* parts of the window, which must rise alike              */
#define QUIETEST  0.3           /* of a place is listened to: the gaps of a crowded hop    */
#define PLACES_OK 4             /* ... of those that have some quiet                       */
#define USUAL     0.1           /* share of a look's slices that have no click, at least   */
#define RISE      2.0f          /* so far over the look's usual is a click                 */
#define SURE      1.15f         /* less than this is how noise scatters                    */
#define BESIDE    1.25f         /* and this, beside a click, is its end                    */
#define CLIPPED   0.001         /* share of samples past which a strong signal ...         */
#define LOUD      0.5f          /* ... so strong, full scale 1, ...                        */
#define SPREAD    0.1f          /* ... and not all over the window, drives the converter too far */
#define KEYED     2.0f          /* so much more in all, nearly none of it spread, is a key down */
#define ALIKE     4.0f          /* the rise of one place over another's; keying falls off  */
				/* with the distance squared                               */

struct click {
	int    first_bin, cells, cell_bins;
	float *power;                   /* [slices][cells]                              */
	float *least;                   /* [cells], over the slices                     */
	int   *cell;                    /* [cells] the quiet ones, place by place       */
	int    quiet[PLACES + 1];       /* where in them each place begins              */
	float *work;                    /* [cells]                                      */
	float  rise[LOOK_SLICES_MAX][PLACES];
	int    places;                  /* that have some quiet                         */
};

struct click *click_create(const struct look *like, int first_bin, int bins)
{
	struct click *c = calloc(1, sizeof *c);
	if (!c)
		return NULL;
	c->first_bin = first_bin;
	c->cell_bins = bins / CELLS > 0 ? bins / CELLS : 1;
	c->cells = bins / c->cell_bins;
	c->power = calloc((size_t)like->slices * (size_t)c->cells, sizeof *c->power);
	c->least = calloc((size_t)c->cells, sizeof *c->least);
	c->cell = calloc((size_t)c->cells, sizeof *c->cell);
	c->work = calloc((size_t)c->cells, sizeof *c->work);
	if (!c->power || !c->least || !c->cell || !c->work)
		goto fail;
	return c;
fail:
	click_destroy(c);
	return NULL;
}

void click_destroy(struct click *c)
{
	if (!c)
		return;
	free(c->power);
	free(c->least);
	free(c->cell);
	free(c->work);
	free(c);
}

HOT static void add_up(struct click *c, const struct look *l)
{
	for (int k = 0; k < c->cells; k++)
		c->least[k] = HUGE_VALF;
	for (int s = 0; s < l->slices; s++) {
		const float *in = look_slice(l, s) + c->first_bin;
		float *power = c->power + (size_t)s * (size_t)c->cells;
		for (int k = 0; k < c->cells; k++, in += c->cell_bins) {
			float sum = 0;
			for (int i = 0; i < c->cell_bins; i++)
				sum += in[i];
			power[k] = sum;
			c->least[k] = fminf(c->least[k], sum);
		}
	}
}

/* The quietest cells of each place: a passband may slope. */
static void find_quiet(struct click *c)
{
	int n = 0;

	for (int p = 0; p < PLACES; p++) {
		int from = p * c->cells / PLACES, to = (p + 1) * c->cells / PLACES;
		const float *least = c->least + from;
		float limit = to > from ? quiet_ranked(least, to - from,
						       quiet_rank(to - from, QUIETEST)) :
					  0;
		c->quiet[p] = n;
		for (int k = from; k < to; k++)
			if (c->least[k] <= limit && c->least[k] > 0)
				c->cell[n++] = k;
	}
	c->quiet[PLACES] = n;
}

/* How far each place stands over its own quietest, slice by slice: the middle of its
 * cells. */
static void compare(struct click *c, const struct look *l)
{
	for (int s = 0; s < l->slices; s++) {
		const float *power = c->power + (size_t)s * (size_t)c->cells;
		c->places = 0;
		for (int p = 0; p < PLACES; p++) {
			const int *cell = c->cell + c->quiet[p];
			int n = c->quiet[p + 1] - c->quiet[p];
			if (n == 0)
				continue;
			for (int i = 0; i < n; i++)
				c->work[i] = power[cell[i]] / c->least[cell[i]];
			c->rise[s][c->places++] = quiet_ranked(c->work, n, n / 2);
		}
	}
}

/* All places but the outermost two rose by much the same. */
static bool alike(const struct click *c, const float *rise, float usual)
{
	float low = quiet_ranked(rise, c->places, 1) - usual;
	float high = quiet_ranked(rise, c->places, c->places - 2) - usual;
	return low > 0 && high < ALIKE * low;
}

static float total(const struct click *c, int slice)
{
	const float *power = c->power + (size_t)slice * (size_t)c->cells;
	float sum = 0;

	for (int k = 0; k < c->cells; k++)
		sum += power[k];
	return sum;
}

/* What is spread over all of a slice. */
static float spread_out(const struct click *c, int slice)
{
	const float *power = c->power + (size_t)slice * (size_t)c->cells;

	return (float)c->cells * quiet_ranked(power, c->cells, c->cells / 2);
}

/* One that drives the converter too far beats everywhere, or drowns the noise in its own
 * rounding: levels then say nothing of clicks. */
static bool overdriven(const struct click *c, const struct look *l)
{
	bool over = false;

	for (int s = 0; l->clipped > CLIPPED && s < l->slices && !over; s++)
		over = total(c, s) > LOUD && spread_out(c, s) < SPREAD * total(c, s);
	return over;
}

/* A strong one whose key goes down is no click, though its edges reach everywhere and few
 * bits round otherwise under it; nor is what the converter's own steps can make, for the
 * rounding of a weak recording comes and goes. */
static bool is_own(const struct click *c, const struct look *l, int slice, float least)
{
	float sum = total(c, slice), spread = spread_out(c, slice);
	double steps = l->quantum * c->cells * c->cell_bins / l->bins;

	return (double)spread < (double)RISE * steps ||
	       (sum > KEYED * least && spread < SPREAD * sum);
}

/* A click reaches into the slices beside, not evenly then, and once there is one, what is
 * up next to it is of it. */
static void spread(struct look *l, const float *rise)
{
	for (int s = 1; s < l->slices; s++)
		l->spoilt[s] |= l->spoilt[s - 1] && rise[s] > BESIDE;
	for (int s = l->slices - 2; s >= 0; s--)
		l->spoilt[s] |= l->spoilt[s + 1] && rise[s] > BESIDE;
}

bool click_mark(struct click *c, struct look *l)
{
	float level[LOOK_SLICES_MAX];
	bool any = false;

	if (l->slices < 4)
		return false;
	add_up(c, l);
	find_quiet(c);
	compare(c, l);
	if (c->places < PLACES_OK || overdriven(c, l))
		return false;
	for (int s = 0; s < l->slices; s++)
		level[s] = quiet_ranked(c->rise[s], c->places, c->places / 2);
	float least = HUGE_VALF;
	for (int s = 0; s < l->slices; s++)
		least = fminf(least, total(c, s));
	float usual = quiet_ranked(level, l->slices, quiet_rank(l->slices, USUAL));
	for (int s = 0; s < l->slices; s++) {
		bool all = alike(c, c->rise[s], usual);
		level[s] /= usual;
		if (level[s] < SURE || !all || is_own(c, l, s, least))
			continue;
		l->spoilt[s] = level[s] > RISE;
		l->lift[s] = (double)level[s];
		any |= l->spoilt[s];
	}
	if (any)
		spread(l, level);
	return any;
}
