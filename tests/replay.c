#include "tests/test.h"

#include "tests/replay.h"

#include <math.h>
#include <stdlib.h>

#define TICK_S     0.01
#define EXCHANGE_S 8.0          /* silence that ends an exchange (common practice) */

#define THROUGH 8               /* senders that one filter lets through */

/* One sender that is let through, and how far its overs have been gone through. */
struct listened {
	const struct sender_told *who;
	int                       seat, at;
	double                   *heard_s;      /* of each over; -1: below the squelch */
};

/* One seat with whatever it lets through. */
struct ear {
	const struct tuned *tuned;
	int                 on[THROUGH], n;
};

struct player {
	const struct replayer *r;
	struct listened       *on;
	int                    n;
	struct ear            *seat, prior;
	double                 t, end_s, prior_at;
};

static bool passes(const struct tuned *s, const struct sender_told *w)
{
	return s && fabs(s->hz - w->hz) <= s->half_hz;
}

static bool lets_through(struct ear *e, const struct sender_told *w, int at)
{
	if (!passes(e->tuned, w))
		return false;
	assert_true(e->n < THROUGH);
	e->on[e->n++] = at;
	return true;
}

static void gather(struct player *p, const struct truth *t)
{
	p->on = calloc((size_t)t->senders + 1, sizeof *p->on);
	p->seat = calloc((size_t)p->r->seats + 1, sizeof *p->seat);
	assert_true(p->on && p->seat);
	p->prior.tuned = p->r->prior;
	for (int s = 0; s < p->r->seats; s++)
		p->seat[s].tuned = &p->r->seat[s];
	for (int i = 0; i < t->senders; i++) {
		struct listened l = { &t->of[i], -1, 0, NULL };
		for (int s = p->r->seats - 1; s >= 0; s--)
			if (lets_through(&p->seat[s], l.who, p->n))
				l.seat = s;
		if (!lets_through(&p->prior, l.who, p->n) && l.seat < 0)
			continue;
		l.heard_s = calloc((size_t)l.who->n + 1, sizeof *l.heard_s);
		assert_non_null(l.heard_s);
		for (int k = 0; k < l.who->n; k++)
			if (l.who->sent[k].snr_db < p->r->squelch_db)
				l.heard_s[k] = -1;
		p->on[p->n++] = l;
	}
}

/* Whether the seat's squelch is open now; what opens it is heard for that long. */
static bool open_for(struct player *p, const struct ear *e, double s)
{
	bool open = false;

	for (int i = 0; i < e->n; i++) {
		struct listened *l = &p->on[e->on[i]];
		while (l->at < l->who->n && l->who->sent[l->at].off_s <= p->t)
			l->at++;
		if (l->at == l->who->n || l->who->sent[l->at].on_s > p->t || l->heard_s[l->at] < 0)
			continue;
		open = true;
		l->heard_s[l->at] += s;
	}
	return open;
}

/* Stays until it has been silent for the delay; on the way out the priority seat is looked at. */
static void stay(struct player *p, const struct ear *seat)
{
	double silent_s = 0;

	while (p->t < p->end_s) {
		if (p->r->prior && seat != &p->prior && p->t >= p->prior_at) {
			p->prior_at = p->t + p->r->prior_s;
			if (open_for(p, &p->prior, TICK_S)) {
				stay(p, &p->prior);
				p->prior_at = p->t + p->r->prior_s;
				silent_s = 0;
				if (!open_for(p, seat, 0))
					return;
				continue;
			}
			p->t += p->r->look_s;
		}
		if (open_for(p, seat, TICK_S))
			silent_s = 0;
		else if ((silent_s += TICK_S) > seat->tuned->delay_s)
			return;
		p->t += TICK_S;
	}
}

static void look(struct player *p, const struct ear *seat)
{
	if (open_for(p, seat, TICK_S))
		stay(p, seat);
	else
		p->t += p->r->look_s;
}

static void count(const struct listened *l, struct replayed *to)
{
	double last = -2 * EXCHANGE_S;
	bool met = false;

	for (int k = 0; k < l->who->n; k++) {
		const struct sent *o = &l->who->sent[k];
		if (l->heard_s[k] < 0)
			continue;
		if (o->on_s - last >= EXCHANGE_S) {
			to->exchanges++;
			met = false;
		}
		last = o->off_s;
		to->overs++;
		to->air_s += o->off_s - o->on_s;
		to->heard += l->heard_s[k] > 0;
		to->heard_s += fmin(l->heard_s[k], o->off_s - o->on_s);
		to->met += l->heard_s[k] > 0 && !met;
		met |= l->heard_s[k] > 0;
	}
}

double replay_slack(const struct replayed *got)
{
	double n = fmax(got->exchanges, 1), p = got->exchanges ? (got->met + 1) / (n + 2) : 0.5;

	return PROMISE_POINTS + 200 * sqrt(p * (1 - p) / n) * (got->exchanges < 100);
}

void replay(const struct truth *t, const struct replayer *r, struct replayed *all, struct replayed *each)
{
	struct player p = { .r = r, .end_s = t->seconds };

	gather(&p, t);
	for (int s = 0; r->seats > 0 && p.t < p.end_s; s = (s + 1) % r->seats) {
		if (r->prior && p.t >= p.prior_at) {
			p.prior_at = p.t + r->prior_s;
			look(&p, &p.prior);
		}
		look(&p, &p.seat[s]);
	}
	for (int i = 0; i < p.n; i++) {
		if (p.on[i].seat >= 0) {
			count(&p.on[i], all);
			if (each)
				count(&p.on[i], &each[p.on[i].who - t->of]);
		}
		free(p.on[i].heard_s);
	}
	free(p.on);
	free(p.seat);
}
