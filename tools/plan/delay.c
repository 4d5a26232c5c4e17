#include "tools/plan/delay.h"

#include <math.h>
#include <stdio.h>

#include "tools/plan/former.h"
#include "tools/plan/merit.h"

#define LONG_HANG_S 2.0         /* a repeater that hangs so long gives the answer time itself */
#define ENOUGH      0.95        /* of the pauses: nothing is gained by waiting longer */
#define LONGEST_S   4.0         /* where no pauses were measured                      */
#define SETS_TRIED  2           /* of those that have the memory                      */

/* Mean of pauses beyond the hang; -1: not measured. */
static double beyond(const struct channel *ch)
{
	if (ch->traffic.gap_s.value > 0)
		return ch->traffic.gap_s.value - TRAFFIC_HANG_S;
	return ch->gap_s > 0 ? (ch->gap_s - TRAFFIC_HANG_S) / -log(1 - DELAY_COVERS) : -1;
}

double delay_covers(const struct channel *ch, double delay_s)
{
	double beyond_s = beyond(ch);

	if (ch->traffic.gap_s.value <= 0 && ch->gap_s <= 0)
		return -1;
	return delay_s <= TRAFFIC_HANG_S ?
		       0 :
		       1 - exp(-(delay_s - TRAFFIC_HANG_S) / fmax(beyond_s, 0.01));
}

bool delay_fits(const struct receiver *r, const struct channel *ch, int64_t delay_us)
{
	double covers = delay_covers(ch, 1e-6 * (double)delay_us);

	return r->delays == 0 || delay_us >= r->delay_us[r->delays - 1] || covers < 0 ||
	       covers >= DELAY_LEAST;
}

/* The shortest choice that does for so many of the pauses. */
static int64_t shortest(const struct receiver *r, const struct channel *ch, double share)
{
	for (int i = 0; i < r->delays; i++)
		if (delay_covers(ch, 1e-6 * (double)r->delay_us[i]) >= share)
			return r->delay_us[i];
	return r->delays ? r->delay_us[r->delays - 1] : 0;
}

int64_t delay_measured(const struct receiver *r, const struct census *c, int channel, char why[80])
{
	const struct channel *ch = &c->channel[channel];
	bool half = channel_speakers(ch) == SPEAKERS_HALF;

	if (delay_covers(ch, 0) < 0) {
		snprintf(why, 80, half ? "pauses were not measured, and one side is heard alone" :
			 "pauses were not measured: what is usual");
		return receiver_delay(r, half ? DELAY_HALF_S : DELAY_USUAL_S);
	}
	if (ch->pair.is == PAIR_OUTPUT && ch->pair.hang_s >= LONG_HANG_S) {
		snprintf(why, 80, "short, for the repeater stays on for %.1f s itself",
			 ch->pair.hang_s);
		return shortest(r, ch, DELAY_LEAST);
	}
	snprintf(why, 80, "%.0f %% of pauses are under %.1f s", 100 * DELAY_COVERS,
		 TRAFFIC_HANG_S + beyond(ch) * -log(1 - DELAY_COVERS));
	return shortest(r, ch, DELAY_COVERS);
}

/* ---- rehearsed ---- */

static int choice_of(const struct receiver *r, int64_t delay_us)
{
	for (int i = 0; i < r->delays; i++)
		if (r->delay_us[i] == delay_us)
			return i;
	return -1;
}

/* Whether choice `i` may be tried instead of the one that is there. */
static bool worth_trying(const struct receiver *r, const struct channel *ch, int now, int i)
{
	if (i < 0 || i >= r->delays)
		return false;
	double covers = delay_covers(ch, 1e-6 * (double)r->delay_us[i < now ? i : now]);
	if (covers < 0)
		return i > now && r->delay_us[i] <= 1e6 * LONGEST_S;
	return i < now ? covers >= DELAY_LEAST : covers < ENOUGH;
}

/* On all seats of the memory. */
static void set_delay(struct plan *p, const struct memory *of, int64_t delay_us, const char *why)
{
	for (int i = 0; i < p->memories; i++) {
		struct memory *m = &p->memory[i];
		if (m->channel != of->channel || m->locked || m->fixed)
			continue;
		m->delay_us = delay_us;
		if (why)
			snprintf(m->delay_why, sizeof m->delay_why, "%s", why);
	}
}

/* What the set in use has is typed already. */
static bool keep_former(const struct matter *m, struct plan *p, const struct memory *e)
{
	const struct plan *set = m->former ? m->former->set : NULL;

	for (int i = 0; set && i < set->memories; i++) {
		const struct memory *was = &set->memory[i];
		if (was->channel != e->channel || was->locked ||
		    choice_of(m->receiver, was->delay_us) < 0 ||
		    !delay_fits(m->receiver, &m->census->channel[e->channel], was->delay_us))
			continue;
		set_delay(p, e, was->delay_us,
			  was->delay_us == e->delay_us ? NULL : "as your set has it, which fits");
		return true;
	}
	return false;
}

/* The sets that have one of its seats, the first few of them: its own family's before everyday's. */
static int sets_of(const struct merit *v, int channel, int set[SETS_TRIED])
{
	int n = 0;

	for (int s = v->sets - 1; s >= 0 && n < SETS_TRIED; s--)
		if (v->want[s * v->lines + channel] > 0)
			set[n++] = s;
	return n;
}

/* Mean of these sets; kept: as they are but for no memory tried. -1: no memory. */
static double worth(struct merit *v, const struct plan *p, const int *set, int n, bool kept)
{
	double sum = 0;

	for (int k = 0; k < n; k++) {
		double got = kept ? merit_kept(v, p, set[k]) : merit_set(v, p, set[k]);
		if (got < 0)
			return -1;
		sum += got / n;
	}
	return sum;
}

static int rehearsed(const struct receiver *r, struct plan *p, struct merit *v,
		     const struct memory *e)
{
	const struct channel *ch = &v->census->channel[e->channel];
	int set[SETS_TRIED], n = sets_of(v, e->channel, set), now = choice_of(r, e->delay_us),
			     best = now;
	double first = -1, most = 0;
	char why[80];

	for (int i = now - 1; i <= now + 1 && now >= 0 && n > 0; i++) {
		if (i == now || !worth_trying(r, ch, now, i))
			continue;
		if (first < 0)
			most = first = worth(v, p, set, n, true);
		set_delay(p, e, r->delay_us[i], NULL);
		double got = worth(v, p, set, n, false);
		set_delay(p, e, e->delay_us, NULL);
		if (first < 0 || got < 0)
			return -1;
		if (got > most && got >= first + DELAY_GAIN) {
			most = got;
			best = i;
		}
	}
	if (best == now)
		return 0;
	snprintf(why, sizeof why,
		 "instead of %g s, for rehearsed it lets %.1f points more be heard",
		 1e-6 * (double)r->delay_us[now], 100 * (most - first));
	set_delay(p, e, r->delay_us[best], why);
	for (int s = 0; s < v->sets; s++)
		if (v->want[s * v->lines + e->channel] > 0)
			merit_changed(v, v->banks[s]);
	return 0;
}

int delays_choose(const struct matter *m, const struct repertoire *on, struct plan *p)
{
	struct merit v;
	int result = merit_create(&v, p, m->census, m->receiver, on);

	for (int i = 0; i < p->memories && result == 0; i++) {
		const struct memory e = p->memory[i];
		bool open = !e.locked && !e.fixed && e.channel >= 0 && e.same_as.bank == 0;
		if (open && !keep_former(m, p, &e))
			result = rehearsed(m->receiver, p, &v, &e);
	}
	merit_free(&v);
	return result;
}
