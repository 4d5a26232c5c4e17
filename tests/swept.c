#include "tests/test.h"

#include "tests/swept.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "tests/replay.h"
#include "tools/plan/census.h"

struct sweeping sweeping_usual(void)
{
	return (struct sweeping){ .revisit_us = 2440000, .dwell_us = 20000, .warm_up_us = INT64_C(1200000000),
		.margin_db = 3, .squelch_ddb = 60 };
}

/* One emitter on its channel, and what is known of it so far. */
struct pencil {
	const struct sweeping *s;
	const struct truth    *truth;
	struct tally          *tally;
	int32_t                band, channel, width_hz;
	enum kind              kind;
	struct transmission_row over;           /* looks 0: none is open */
	struct activity_row     hour;           /* looks 0: nothing in it */
};

static void end_over(struct pencil *p)
{
	if (p->over.looks > 0)
		assert_int_equal(tally_transmission(p->tally, &p->over), 0);
	p->over.looks = 0;
}

static void end_hour(struct pencil *p)
{
	if (p->hour.busy_looks > 0)
		assert_int_equal(tally_activity(p->tally, &p->hour), 0);
	p->hour = (struct activity_row){ .run = 1, .band = p->band, .channel = p->channel };
}

static void busy_look(struct pencil *p, int64_t at_us, double snr_db)
{
	int64_t utc = p->truth->start_us + at_us, hour = utc / HOUR_US * HOUR_US;
	int level = (int)fmin(snr_db, LEVEL_BINS - 1);
	bool goes_on = p->over.looks > 0;

	if (hour != p->hour.hour)
		end_hour(p);
	p->hour.hour = hour;
	p->hour.busy_looks++;
	p->hour.busy_us += p->s->dwell_us;
	p->hour.openings += !goes_on;
	p->hour.held += goes_on;
	p->hour.level[level] += p->s->dwell_us;
	p->hour.level_looks[level]++;
	if (!goes_on)
		p->over = (struct transmission_row){ .run = 1, .band = p->band, .channel = p->channel,
			.first_us = utc, .before_us = p->s->revisit_us - p->s->dwell_us,
			.after_us = p->s->revisit_us - p->s->dwell_us, .level_ddb = (int32_t)(10 * snr_db),
			.peak_ddb = (int32_t)(10 * snr_db) + 10, .floor_ddb = -700,
			.width_hz = p->width_hz, .kind = p->kind, .confidence = 900 };
	p->over.last_us = utc + p->s->dwell_us;
	p->over.busy_us += p->s->dwell_us;
	p->over.looks++;
}

/* Looks at one sender's channel all night. */
static void look_at(struct pencil *p, const struct sender_told *who)
{
	int64_t turn = p->s->revisit_us * (p->band * 37 % 100) / 100;
	int64_t end = (int64_t)(1e6 * p->truth->seconds);
	int i = 0;

	end_hour(p);
	for (int64_t at = p->s->warm_up_us + turn; at < end; at += p->s->revisit_us) {
		while (i < who->n && who->sent[i].off_s <= 1e-6 * (double)at)
			i++;
		const struct sent *o = i < who->n ? &who->sent[i] : NULL;
		if (o && o->on_s < 1e-6 * (double)(at + p->s->dwell_us) && o->snr_db >= p->s->margin_db)
			busy_look(p, at, o->snr_db);
		else
			end_over(p);
	}
	end_over(p);
	end_hour(p);
}

static void look_around(struct tally *t, const struct truth *truth, const struct band *bands, int n_bands,
			const struct sweeping *s)
{
	int64_t end = truth->start_us + (int64_t)(1e6 * truth->seconds), from = truth->start_us + s->warm_up_us;

	for (int64_t hour = from / HOUR_US * HOUR_US; hour < end; hour += HOUR_US) {
		int64_t a = hour > from ? hour : from, b = hour + HOUR_US < end ? hour + HOUR_US : end;
		int64_t looks = (b - a) / s->revisit_us;
		for (int k = 0; k < n_bands; k++) {
			struct coverage_row c = { .run = 1, .hour = hour, .band = k, .count = bands[k].raster.count,
				.looks = looks, .pairs = looks, .looked_us = looks * s->dwell_us,
				.floor_ddb_sum = -700 * looks };
			assert_int_equal(tally_coverage(t, &c), 0);
		}
	}
}

static enum kind kind_named(const char *name)
{
	for (int k = 0; k < KIND_COUNT; k++)
		if (strcmp(kind_name((enum kind)k), name) == 0)
			return (enum kind)k;
	return KIND_UNKNOWN;
}

/* Where the sender is heard, if anywhere. */
static void look_for(struct tally *t, const struct truth *truth, const struct sender_told *who,
		     const struct band *bands, int n_bands, const struct sweeping *s)
{
	for (int b = 0; b < n_bands; b++) {
		int32_t channel = raster_nearest(&bands[b].raster, freq_from_hz(who->hz));
		if (channel < 0)
			continue;
		struct pencil p = { .s = s, .truth = truth, .tally = t, .band = b, .channel = channel,
			.width_hz = bands[b].width_hz, .kind = kind_named(who->kind) };
		look_at(&p, who);
		return;
	}
}

struct census *swept_census(const struct truth *truth, const struct band *bands, int n_bands,
			    const struct sweeping *s)
{
	struct tally *t = tally_create(bands, n_bands, s->squelch_ddb);
	struct run_row run = { .id = 1, .start_us = truth->start_us,
		.end_us = truth->start_us + (int64_t)(1e6 * truth->seconds), .rate_hz = 2400000, .gain_ddb = 297,
		.ppm = 33, .dwell_us = s->dwell_us, .pfa = 1e-8, .margin_db = s->margin_db };

	assert_non_null(t);
	assert_int_equal(tally_run(t, &run), 0);
	look_around(t, truth, bands, n_bands, s);
	for (int i = 0; i < truth->senders; i++)
		if (strcmp(truth->of[i].role, "emitter") == 0)
			look_for(t, truth, &truth->of[i], bands, n_bands, s);
	struct census *c = tally_finish(t);
	assert_non_null(c);
	tally_destroy(t);
	assert_int_equal(census_traffic(c), 0);
	return c;
}

static struct tuned tuned_to(const struct memory *m, const struct receiver *r)
{
	return (struct tuned){ freq_to_hz(m->landing.landed), r->filter_hz[m->mode] / 2, 1e-6 * (double)m->delay_us };
}

void swept_listen(const struct truth *t, const struct plan *p, const struct receiver *r, uint64_t banks,
		  double squelch_db, struct replayed *all, struct replayed *each)
{
	struct tuned *seat = calloc((size_t)p->memories + 1, sizeof *seat), prior;
	struct replayer with = { .seat = seat, .look_s = 1 / r->scan_rate, .prior_s = r->priority_s,
		.squelch_db = squelch_db };

	assert_non_null(seat);
	for (int i = 0; i < p->memories; i++) {
		const struct memory *m = &p->memory[i];
		if (!m->locked && banks >> (m->bank - 1) & 1)
			seat[with.seats++] = tuned_to(m, r);
		if (m->priority) {
			prior = tuned_to(m, r);
			with.prior = &prior;
		}
	}
	replay(t, &with, all, each);
	free(seat);
}
