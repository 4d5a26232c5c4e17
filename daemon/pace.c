#include "daemon/pace.h"

#include <string.h>

/* Two bytes a sample. Not at once: bytes x 10^6 would overflow in a few weeks. */
static int64_t bytes_us(int64_t bytes, int32_t rate_hz)
{
	int64_t n = bytes / 2;
	return n / rate_hz * 1000000 + n % rate_hz * 1000000 / rate_hz;
}

void pace_reset(struct pace *p, int32_t rate_hz)
{
	memset(p, 0, sizeof *p);
	p->rate_hz = rate_hz;
}

bool pace_feed(struct pace *p, int64_t end, int64_t at_us)
{
	bool first = p->kept == 0;
	int64_t before_us = p->least_us;

	p->lag_us[p->next] = at_us - bytes_us(end, p->rate_hz);
	p->next = (p->next + 1) % PACE_KEPT;
	if (p->kept < PACE_KEPT)
		p->kept++;
	p->least_us = p->lag_us[0];
	for (int i = 1; i < p->kept; i++)
		if (p->lag_us[i] < p->least_us)
			p->least_us = p->lag_us[i];
	return !first && p->least_us > before_us + 5000;
}

int64_t pace_at(const struct pace *p, int64_t byte)
{
	return p->least_us + bytes_us(byte, p->rate_hz);
}

double pace_share(struct pace *p, int64_t end, int64_t at_us)
{
	int64_t past_us = at_us - p->mark_us;

	if (p->marked && past_us < 10000000)
		return 1;
	double share = p->marked
		? (double)bytes_us(end - p->mark_byte, p->rate_hz) / (double)past_us : 1;
	p->mark_us = at_us;
	p->mark_byte = end;
	p->marked = true;
	return share;
}
