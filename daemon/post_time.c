#include "daemon/post_time.h"

#define REST_US 1000000         /* so long a signal may go unnoticed */

struct post_time post_time(const struct watch *n, const struct source_about *about)
{
	struct post_time t = {
		.clock = n->clock ? n->clock : &clock_of_computer, .stop = n->stop,
		.now_us = about->start_us, .free_mono = -1,
	};

	if (!about->virtual_clock)
		t.now_mono = t.clock->now_us(t.clock->self);
	return t;
}

void post_time_pass(struct post_time *t, const struct watch_source *source, int64_t us)
{
	t->free_mono = -1;
	if (!source->about.virtual_clock) {
		t->due_us = t->clock->now_us(t->clock->self) + us;
		if (source->source)
			source->ops->rest(source->source, us);
		return;
	}
	for (int64_t passed = 0; passed < us && !*t->stop; ) {
		int64_t step = us - passed < REST_US ? us - passed : REST_US;
		if (source->source)
			source->ops->rest(source->source, step);
		passed += step;
		t->now_mono += step;
		t->now_us += step;
	}
}

bool post_time_passed(struct post_time *t)
{
	if (t->due_us == 0)
		return true;
	int64_t now = t->clock->now_us(t->clock->self);
	if (now < t->due_us)
		return false;
	t->now_us += now - t->now_mono;
	t->now_mono = now;
	t->due_us = 0;
	return true;
}

void post_time_block(struct post_time *t, const struct block *b)
{
	t->now_us = b->start_us + (int64_t)((double)b->n * 1e6 / b->rate_hz);
	t->now_mono = b->mono_us + (t->now_us - b->start_us);
}

int64_t post_time_spent(const struct post_time *t, int64_t usual_us)
{
	return t->free_mono < 0 ? usual_us : t->now_mono - t->free_mono;
}
