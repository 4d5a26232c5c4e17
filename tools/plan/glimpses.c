#include "tools/plan/glimpses.h"

#include "tools/plan/census.h"
#include "tools/plan/list.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#define THROUGHOUT 0.8          /* of an over watched: all of it was                 */
#define A_PARK_S   0.3          /* no look of a sweep is so long                     */
#define LOOKS_MOST 400          /* in an over; a longer one is taken as watched         */
#define ASIDE      2.5          /* so many looks' time not looked: silence is unsure */
#define STOP_S     32.0         /* silence that is followed: hardly a gap is longer     */
#define PARK_S     10.0         /* as parks usually are                              */
#define UNKNOWN_S  1000.0       /* came on nobody knows when                         */

struct making {
	struct glimpses *out;
	double           every_s, hang_s;
	double           quiet_s;       /* end of what showed it off, or of the hang              */
	bool             going;         /* the chain goes on from there                           */
	bool             fell;          /* seen to go off, then                                   */
	bool             followed;      /* and looked at soon after                               */
	double           park_s;        /* the park that saw so began then ...                    */
	bool             park_known;    /* ... or before                                          */
	bool             full;          /* no memory                                              */
};

bool edge_seen(int64_t slack_us)
{
	return slack_us >= 0 && slack_us <= SEEN_US;
}

static void add(struct making *m, enum glimpsed what, double after_s)
{
	if (m->full || list_room((void **)&m->out->g, m->out->n, sizeof *m->out->g) < 0) {
		m->full = true;
		return;
	}
	/* Rounded as the likelihood does it, for equal ones to be found. */
	if (what == GLIMPSE_AFRESH || what == GLIMPSE_ON || what == GLIMPSE_OFF)
		after_s = floor(after_s * RENEWAL_PARTS / m->every_s + 0.5) * m->every_s /
			  RENEWAL_PARTS;
	m->out->g[m->out->n++] = (struct glimpse){ .what = what, .after_s = (float)after_s };
}

static void looks(struct making *m, enum glimpsed what, double s, int least)
{
	int n = renewal_looks(s, m->every_s);

	n = n < least ? least : n > LOOKS_MOST ? LOOKS_MOST : n;
	for (int i = 0; i < n; i++)
		add(m, what, s / n);
}

/* Looks that showed nothing for so long. */
static void silence(struct making *m, double s)
{
	if (s > 0.02 * m->every_s)
		looks(m, GLIMPSE_OFF, s, 1);
}

static void partly(struct making *m, enum glimpsed what, double after_s, double least_s,
		   double most_s)
{
	/* Less than nothing where a park ended before the hang had. */
	after_s = fmax(after_s, 0);
	add(m, what, after_s);
	if (m->full)
		return;
	struct glimpse *g = &m->out->g[m->out->n - 1];
	g->most_s = (float)fmin(fmax(most_s, 0), after_s);
	g->least_s = (float)fmin(fmax(least_s, 0), (double)g->most_s);
}

/* Silence up to off_s. Where the over was seen to end, the park went on: left out, gaps that
 * ended in the park would be told better than others, and come out too short. How long
 * it went on follows from what it saw before. */
static void silence_to(struct making *m, double off_s)
{
	double s = off_s - m->quiet_s, left_s = m->park_s + PARK_S - m->quiet_s;

	if (m->fell)
		partly(m, GLIMPSE_LEFT, s, m->park_known ? left_s : 0, left_s);
	else
		silence(m, s);
}

/* Silence up to the first look past STOP_S. That one too: had it shown an over, the chain
 * would go on, and what is only told when it is so would not be a fair sample. */
static void silent(struct making *m)
{
	silence_to(m, m->quiet_s + m->every_s * (1 + (int)(STOP_S / m->every_s)));
}

static void begin(struct making *m, const struct over *o, double first_s)
{
	double before_s = 1e-6 * (double)o->before_us, off_s = first_s - fmax(before_s, 0);
	bool seen = edge_seen(o->before_us);

	/* Both ends of a gap that is shorter than a park were seen in the same one. */
	bool watched = m->fell && seen && first_s - m->quiet_s < PARK_S;
	/* What is too far off to belong together, or was lost sight of, begins afresh. */
	if (m->going && !watched && (before_s < 0 || off_s - m->quiet_s > STOP_S)) {
		if (m->followed && before_s >= 0)
			silent(m);
		m->going = false;
	}
	if (!m->going) {
		add(m, seen ? GLIMPSE_BEGAN : GLIMPSE_AFRESH, before_s < 0 ? UNKNOWN_S : before_s);
	} else if (watched) {
		add(m, GLIMPSE_STAYED_OFF, fmax(first_s - m->quiet_s, 0));
		add(m, GLIMPSE_ROSE, 0);
	} else if (seen) {
		partly(m, GLIMPSE_MET, off_s - m->quiet_s, 0, PARK_S);
		add(m, GLIMPSE_ROSE, 0);
	} else {
		silence_to(m, off_s);
		add(m, GLIMPSE_ON, before_s);
	}
	if (seen && !watched) {
		m->park_s = first_s;
		m->park_known = false;
	}
}

static void middle(struct making *m, const struct over *o)
{
	double length_s = 1e-6 * (double)(o->last_us - o->first_us);
	double busy_s = fmin(1e-6 * (double)o->busy_us, length_s), rest_s = length_s - busy_s;
	bool parked = busy_s > A_PARK_S;

	if (busy_s >= THROUGHOUT * length_s || length_s > LOOKS_MOST * m->every_s) {
		/* Shorter silence is no part of it. */
		add(m, GLIMPSE_STAYED_ON, busy_s >= THROUGHOUT * length_s ? busy_s : length_s);
	} else if (!parked) {
		looks(m, GLIMPSE_ON, length_s, 1);
	} else if (edge_seen(o->before_us)) {
		add(m, GLIMPSE_STAYED_ON, busy_s);
		looks(m, GLIMPSE_ON, rest_s, 1);
	} else if (edge_seen(o->after_us)) {
		looks(m, GLIMPSE_ON, rest_s, 1);
		add(m, GLIMPSE_STAYED_ON, busy_s);
	} else {
		looks(m, GLIMPSE_ON, rest_s / 2, 1);
		add(m, GLIMPSE_STAYED_ON, busy_s);
		looks(m, GLIMPSE_ON, rest_s / 2, 1);
	}
}

static void end(struct making *m, const struct over *o, double last_s)
{
	double after_s = 1e-6 * (double)o->after_us;
	double length_s = 1e-6 * (double)(o->last_us - o->first_us),
	       busy_s = 1e-6 * (double)o->busy_us;

	m->fell = edge_seen(o->after_us);
	/* On already when the park began; but so long an over was met by more parks than one. */
	if (m->fell && (!edge_seen(o->before_us) || length_s > PARK_S)) {
		m->park_known = length_s - busy_s < PARK_S && busy_s < PARK_S;
		m->park_s = m->park_known ? last_s - busy_s : last_s;
	}
	m->going = after_s >= 0;
	m->followed = m->fell || after_s < ASIDE * m->every_s;
	m->quiet_s = last_s + (m->fell ? m->hang_s : after_s);
	if (m->fell)
		add(m, GLIMPSE_FELL, 0);
	else if (m->going)
		add(m, GLIMPSE_OFF, after_s);
}

/* ---- chains seen more than once ---- */

static int chain_length(const struct glimpse *g, int n)
{
	int i = 1;

	while (i < n && g[i].what > GLIMPSE_BEGAN)
		i++;
	return i;
}

static bool alike(const struct glimpse *a, const struct glimpse *b, int n)
{
	for (int i = 0; i < n; i++)
		if (a[i].what != b[i].what || a[i].after_s < b[i].after_s ||
		    a[i].after_s > b[i].after_s || a[i].least_s < b[i].least_s ||
		    a[i].least_s > b[i].least_s || a[i].most_s < b[i].most_s ||
		    a[i].most_s > b[i].most_s)
			return false;
	return true;
}

/* Where among the first n glimpses that chain is already; n: nowhere. */
static int find_chain(const struct glimpse *g, int n, const struct glimpse *chain, int length)
{
	int at = 0;

	while (at < n) {
		int other = chain_length(&g[at], n - at);
		if (other == length && alike(&g[at], chain, length))
			break;
		at += other;
	}
	return at;
}

/* Chains know nothing of each other, and sweeps see the same again and again: each is kept
 * once, with how often more it was seen. */
static void gather(struct glimpses *all)
{
	int kept = 0;

	for (int i = 0, length; i < all->n; i += length) {
		length = chain_length(&all->g[i], all->n - i);
		int at = find_chain(all->g, kept, &all->g[i], length);
		if (at < kept) {
			all->g[at].again++;
			continue;
		}
		memmove(&all->g[kept], &all->g[i], (size_t)length * sizeof *all->g);
		kept += length;
	}
	all->n = kept;
}

int glimpses_make(const struct over *o, int n, double every_s, double hang_s, struct glimpses *out)
{
	struct making m = { .out = out, .every_s = every_s, .hang_s = hang_s };

	*out = (struct glimpses){ 0 };
	for (int i = 0; i < n; i++) {
		/* Seconds of this channel's first over: floats keep them well. */
		double first_s = 1e-6 * (double)(o[i].first_us - o[0].first_us);
		double last_s = 1e-6 * (double)(o[i].last_us - o[0].first_us);
		begin(&m, &o[i], first_s);
		middle(&m, &o[i]);
		end(&m, &o[i], last_s);
	}
	if (m.full)
		glimpses_free(out);
	else
		gather(out);
	return m.full ? -1 : 0;
}

void glimpses_free(struct glimpses *g)
{
	free(g->g);
	*g = (struct glimpses){ 0 };
}
