#include "tests/track_world.h"

void note_over(void *self, const struct transmission *t)
{
	struct heard *h = self;
	assert_in_range(h->overs, 0, OVERS - 1);
	h->over[h->overs++] = *t;
}

void note_touch(void *self, const struct touch *t)
{
	struct heard *h = self;
	h->busy_us[t->channel] += t->busy_us;
	h->blind_us[t->channel] += t->blind_us;
	h->openings += t->opened;
	h->held += t->held;
	h->touches++;
	assert_true(t->busy != t->blind);
	assert_false(t->opened && t->held);
}

const struct band track_band = {
	.id = "test", .raster = { { 3 * INT64_C(150000000) }, { 37500 }, CHANNELS },
	.mode = MODE_NFM, .width_hz = 11000,
};
static const struct span all = { 0, 0, CHANNELS };
const struct hop track_hop = {
	.centre = { 3 * INT64_C(150000000) }, .rate_hz = 2400000, .bins = 1920, .spans = &all,
	.n_spans = 1,
};

static int part(char sign, int *first, int *last)
{
	static const struct {
		char sign;
		int  first, last;
	} parts[] = { { '#', 0, 9 }, { '(', 5, 9 }, { ')', 0, 4 }, { '|', 4, 5 } };

	for (size_t i = 0; i < sizeof parts / sizeof parts[0]; i++)
		if (parts[i].sign == sign) {
			*first = parts[i].first;
			*last = parts[i].last;
			return 1;
		}
	return 0;
}

void show(struct track *t, int64_t at, int64_t span, const struct view *v, int n)
{
	/* So many transforms a slice that slices begin within 5 us of a tenth. */
	struct look l = { .start_us = EPOCH + at, .mono_us = at, .span_us = span, .length_us = span,
			  .slices = SLICES, .slice_transforms = 1000,
			  .bin_hz = 0.5e6 * 1000 * SLICES / (double)span };
	enum verdict verdict[CHANNELS];
	struct finding finding[CHANNELS];
	struct judged j = { .verdict = verdict, .seats = CHANNELS, .finding = finding };

	for (int c = 0; c < CHANNELS; c++)
		verdict[c] = VERDICT_IDLE;
	for (int i = 0; i < n; i++) {
		struct finding f = { .channel = v[i].channel, .seat = v[i].channel, .floor = 1,
				     .power = v[i].ratio, .width_hz = 8000, .offset_hz = 100 };
		verdict[f.channel] = v[i].sign == '?' ? VERDICT_BLIND : v[i].sign == 'x' ?
				     VERDICT_FALSE : VERDICT_IDLE;
		if (!part(v[i].sign, &f.first_slice, &f.last_slice))
			continue;
		verdict[f.channel] = VERDICT_BUSY;
		finding[j.findings++] = f;
	}
	track_look(t, &track_hop, &l, &j);
}
