#include "tests/fake_source.h"

#include "tests/test.h"

#include <math.h>
#include <string.h>

static bool in_trouble(const struct fake_source *f, enum trouble t)
{
	double now_s = (double)f->mono_us * 1e-6;

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
	f->tuned = *to;
	f->mono_us += FAKE_TUNES;
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
	return in_trouble(f, TROUBLE_END) ? SOURCE_END : SOURCE_BLOCK;
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
	double now_s = (double)f->mono_us * 1e-6;
	double away_hz = freq_to_hz((struct freq){ f->carrier.thirds - f->tuned.centre.thirds });
	bool on = now_s >= f->on_s && now_s < f->off_s && fabs(away_hz) < FAKE_RATE / 2;
	make_samples(f, n, on);
	*out = (struct block){ .iq = f->iq, .format = SAMPLE_CF32, .n = n, .rate_hz = FAKE_RATE,
			       .centre = f->tuned.centre, .start_us = utc(f, f->mono_us),
			       .mono_us = f->mono_us, .gap = in_trouble(f, TROUBLE_GAPS) };
	int64_t length_us = (int64_t)((double)n * 1e6 / FAKE_RATE);
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

	f->mono_us += us;
	notice_stop(f);
}

static int fake_restart(void *self, struct fault *why)
{
	(void)self;
	return fault_set(why, FAULT_FATAL, "the fake has no beginning");
}

const struct source_ops fake_source_ops = {
	.name = "fake", .tune = fake_tune, .read = fake_read, .rest = fake_rest,
	.restart = fake_restart,
};
