#include "tests/fake_source.h"

#include "tests/test.h"

#include <math.h>
#include <string.h>

static int64_t now_us(const struct fake_source *f)
{
	return f->clock && f->clock->now_us > f->mono_us ? f->clock->now_us : f->mono_us;
}

static bool in_trouble(const struct fake_source *f, enum trouble t)
{
	double now_s = (double)now_us(f) * 1e-6;

	return f->script.trouble == t && now_s >= f->script.at_s && now_s < f->script.until_s;
}

static void begin_trouble(struct fake_source *f)
{
	if (f->broken_at < 0)
		f->broken_at = f->blocks;
}

static void notice_stop(struct fake_source *f)
{
	f->late_calls += *f->stop != 0;
	if (f->script.stop_s > 0 && (double)f->mono_us * 1e-6 >= f->script.stop_s)
		*f->stop = 1;
}

static int64_t utc(const struct fake_source *f, int64_t mono_us)
{
	double step_s = f->script.trouble == TROUBLE_CLOCK &&
			(double)mono_us * 1e-6 >= f->script.at_s ? f->script.step_s : 0;
	return f->utc_us + mono_us + (int64_t)(step_s * 1e6);
}

static int fake_tune(void *self, const struct tuning *to, struct fault *why)
{
	struct fake_source *f = self;

	notice_stop(f);
	if ((f->lost && in_trouble(f, TROUBLE_LOST)) || in_trouble(f, TROUBLE_TUNING)) {
		begin_trouble(f);
		return fault_set(why, FAULT_RETRY, "the fake is not there");
	}
	f->lost = false;
	if (f->tuned.centre.thirds == to->centre.thirds && f->tuned.gain_tenth_db == to->gain_tenth_db &&
	    !f->rested)
		return 0;       /* the stream goes on */
	f->rested = false;
	f->tuned = *to;
	f->mono_us = now_us(f) + FAKE_TUNES;
	return 0;
}

/* What keeps a read from being one; SOURCE_BLOCK when nothing does. */
static int hindered(struct fake_source *f, struct fault *why)
{
	f->lost |= in_trouble(f, TROUBLE_LOST) && f->tuned.centre.thirds == f->fragile.thirds;
	if (f->lost) {
		begin_trouble(f);
		fault_set(why, FAULT_RETRY, "the fake was pulled out");
		return SOURCE_FAULT;
	}
	if (in_trouble(f, TROUBLE_DEAD)) {
		fault_set(why, FAULT_FATAL, "the fake burnt out");
		return SOURCE_FAULT;
	}
	if (in_trouble(f, TROUBLE_DEAF) && f->tuned.centre.thirds == f->fragile.thirds) {
		fault_set(why, FAULT_RETRY, "the fake did not lock at %.4f MHz",
			  freq_to_hz(f->fragile) * 1e-6);
		return SOURCE_DEAF;
	}
	return in_trouble(f, TROUBLE_END) ? SOURCE_END : SOURCE_BLOCK;
}

/* Whether a block that ends at due_us is still to come. */
static bool is_late(struct fake_source *f, int64_t due_us)
{
	if (!f->clock)
		return false;
	f->due_us = in_trouble(f, TROUBLE_HANGS) ? INT64_MAX : due_us;
	f->late = f->clock->now_us < f->due_us;
	return f->late;
}

static void make_samples(struct fake_source *f, size_t n, bool on)
{
	double hz = freq_to_hz((struct freq){ f->carrier.thirds - f->tuned.centre.thirds });

	memset(f->iq, 0, n * sizeof *f->iq);
	noise_add(&f->noise, f->iq, n, f->noise_power);
	if (on)
		tone_add(f->iq, n, f->carrier_power, hz, FAKE_RATE, 1);
}

static int fake_read(void *self, size_t n, struct block *out, struct fault *why)
{
	struct fake_source *f = self;

	assert_in_range(n, 1, FAKE_ROOM);
	assert_in_range(f->blocks, 0, FAKE_BLOCKS - 1);
	int got = hindered(f, why);
	if (got != SOURCE_BLOCK)
		return got;
	int64_t length_us = (int64_t)((double)n * 1e6 / FAKE_RATE);
	if (is_late(f, f->mono_us + length_us))
		return SOURCE_LATER;
	double now_s = (double)f->mono_us * 1e-6;
	double away_hz = freq_to_hz((struct freq){ f->carrier.thirds - f->tuned.centre.thirds });
	bool on = now_s >= f->on_s && now_s < f->off_s && fabs(away_hz) < FAKE_RATE / 2;
	make_samples(f, n, on);
	*out = (struct block){ .iq = f->iq, .format = SAMPLE_CF32, .n = n, .rate_hz = FAKE_RATE,
			       .centre = f->tuned.centre, .start_us = utc(f, f->mono_us),
			       .mono_us = f->mono_us, .gap = in_trouble(f, TROUBLE_GAPS) };
	if (f->script.trouble == TROUBLE_CLOCK && now_s >= f->script.at_s)
		begin_trouble(f);
	f->block[f->blocks++] = (struct delivery){
		.centre = f->tuned.centre, .start_us = out->start_us,
		.end_us = out->start_us + length_us, .mono_us = f->mono_us, .gap = out->gap, .on = on };
	f->mono_us += length_us;
	if (f->disk)
		f->disk->fail_at = in_trouble(f, TROUBLE_DISK);
	notice_stop(f);
	return SOURCE_BLOCK;
}

static void fake_rest(void *self, int64_t us)
{
	struct fake_source *f = self;

	f->rested = true;
	if (!f->clock)
		f->mono_us += us;
	notice_stop(f);
}

static int fake_restart(void *self, struct fault *why)
{
	(void)self;
	return fault_set(why, FAULT_FATAL, "the fake has no beginning");
}

static int fake_descriptor(void *self)
{
	struct fake_source *f = self;

	for (int i = 0; f->clock && i < f->clock->sources; i++)
		if (f->clock->source[i] == f)
			return i;
	return -1;
}

const struct source_ops fake_source_ops = {
	.name = "fake", .tune = fake_tune, .read = fake_read, .descriptor = fake_descriptor,
	.rest = fake_rest, .restart = fake_restart,
};

static int64_t clock_now(void *self)
{
	return ((struct fake_clock *)self)->now_us;
}

static void clock_wait(void *self, const int *descriptors, int n, int64_t until_us,
		       const volatile sig_atomic_t *stop)
{
	struct fake_clock *c = self;
	int64_t then = until_us;

	c->waits++;
	for (int i = 0; i < n; i++) {
		const struct fake_source *f = c->source[descriptors[i]];
		assert_true(f->late);   /* nobody waits for what did not say 'later' */
		then = f->due_us < then ? f->due_us : then;
	}
	c->idle_waits += then <= c->now_us;
	if (!*stop && then != INT64_MAX && then > c->now_us)
		c->now_us = then;
}

struct clock fake_clock(struct fake_clock *c)
{
	return (struct clock){ .self = c, .now_us = clock_now, .wait = clock_wait };
}
