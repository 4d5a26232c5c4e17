#include "dsp/lines.h"

#include "dsp/attribute.h"

#define BOX_HZ     5000.0       /* the middle of any emission of interest               */
#define OVER       10.0         /* nearer the noise a middle is not worth much          */
#define WIDEST_HZ  25000.0
#define CLIPPED    0.001        /* beyond, what is seen may be made by the converter    */
#define TRIES      (2 * LINES_MAX)

struct search {
	const struct look  *look;
	const struct floor *floor;
	double              freedom;
	int                 first, last;        /* boxes begin at these bins   */
	int                 box;                /* bins                        */
	struct extent       extent[TRIES];      /* emissions, strongest first  */
	int                 n;
	struct extent       taken[TRIES];       /* not to be looked at again   */
	int                 n_taken;
};

/* First bin at or after k whose box lies clear of what was taken. */
static int clear_of(const struct search *s, int k)
{
	for (int i = 0; i < s->n_taken; i++)
		if (k + s->box > s->taken[i].from && k < s->taken[i].to) {
			k = (int)s->taken[i].to + 1;
			i = -1;
		}
	return k;
}

/* The strongest box over its noise not yet taken; -1: none is strong enough. */
static int strongest(const struct search *s, double *over)
{
	const struct look *l = s->look;
	int at = -1;

	*over = OVER;
	for (int k = clear_of(s, s->first); k <= s->last; k++) {
		double p = l->total[k + s->box] - l->total[k];
		if (p <= (1 + *over) * floor_bin(s->floor, k + s->box / 2) * s->box)
			continue;
		int free = clear_of(s, k);
		if (free != k) {
			k = free - 1;
			continue;
		}
		*over = p / (floor_bin(s->floor, k + s->box / 2) * s->box) - 1;
		at = k;
	}
	return at;
}

static bool take(struct search *s, int at, double over, struct line *out)
{
	const struct look *l = s->look;
	struct extent e = attribute_measure(l, s->floor, s->freedom, at, at + s->box);
	struct hearing h = { l, s->floor, s->extent, s->n, 0 };
	bool explained = attribute_explain(&h, at, at + s->box, e.power) != EXPLAINED_NOT;

	s->taken[s->n_taken] = e;
	if (s->taken[s->n_taken].from > at)
		s->taken[s->n_taken].from = at;
	if (s->taken[s->n_taken].to < at + s->box)
		s->taken[s->n_taken].to = at + s->box;
	s->n_taken++;
	if (explained || e.power <= 0)
		return false;
	s->extent[s->n++] = e;
	*out = (struct line){
		.hz = freq_to_hz(l->centre) + (e.centroid - 0.5 * l->bins - 0.5) * l->bin_hz,
		.width_hz = e.width * l->bin_hz, .power = e.power, .over = over,
	};
	/* One cut at the end of the window has its middle elsewhere. */
	return (e.to - e.from) * l->bin_hz <= 2 * WIDEST_HZ && out->width_hz <= WIDEST_HZ &&
	       e.from > s->first && e.to < s->last + s->box;
}

int lines_find(const struct look *l, const struct floor *f, double freedom,
	       struct line out[LINES_MAX])
{
	struct search s = { .look = l, .floor = f, .freedom = freedom };
	double over;
	int n = 0;

	s.box = (int)(BOX_HZ / l->bin_hz + 0.5);
	s.first = (int)(l->bins * (1 - HOP_USABLE) / 2);
	s.last = l->bins - s.first - s.box;
	if (!look_holds(l) || l->clipped > CLIPPED || s.box < 1)
		return 0;
	while (n < LINES_MAX && s.n_taken < TRIES) {
		int at = strongest(&s, &over);
		if (at < 0)
			break;
		n += take(&s, at, over, &out[n]);
	}
	return n;
}
