#include "daemon/dongle/pace.h"

#include <string.h>

#define JUMP_US    5000
#define ENOUGH_US  50000        /* a reader that slept is not late for longer, and ... */
#define ENOUGH     8            /* ... what it then hands over at once is no proof     */
#define LEAP_US    500000
#define SECOND_US  1000000
#define SILENCE_US 500000
#define SHARE_US   10000000

/* Two bytes a sample. Not at once: bytes x 10^6 would overflow in a few weeks. */
static int64_t bytes_us(int64_t bytes, int32_t rate_hz)
{
	int64_t n = bytes / 2;
	return n / rate_hz * 1000000 + n % rate_hz * 1000000 / rate_hz;
}

static void forget_clock(struct pace *p)
{
	p->kept = p->late = 0;
	for (int i = 0; i < PACE_BINS; i++)
		p->bin_at_s[i] = -PACE_BINS;
}

void pace_reset(struct pace *p, int32_t rate_hz)
{
	memset(p, 0, sizeof *p);
	p->rate_hz = rate_hz;
	forget_clock(p);
}

void pace_begin(struct pace *p, int64_t at_us)
{
	int64_t s = at_us / SECOND_US;

	p->bin_us[s % PACE_BINS] = at_us;
	p->bin_at_s[s % PACE_BINS] = s;
}

/* The least lag of the last n. */
static int64_t least(const struct pace *p, int n)
{
	int64_t lag_us = INT64_MAX;

	for (int i = 1; i <= n; i++) {
		int64_t one_us = p->lag_us[(p->next - i + PACE_KEPT) % PACE_KEPT];
		if (one_us < lag_us)
			lag_us = one_us;
	}
	return lag_us;
}

/* All that was late in a row, for so long, is how it is from now on. */
static bool jumped(struct pace *p, int64_t lag_us, int64_t at_us)
{
	if (lag_us <= p->least_us + JUMP_US) {
		p->late = 0;
		return false;
	}
	if (p->late++ == 0)
		p->late_us = at_us;
	return p->late >= ENOUGH && at_us - p->late_us >= ENOUGH_US;
}

static void keep_bin(struct pace *p, int64_t lag_us, int64_t at_us)
{
	int64_t s = at_us / SECOND_US;
	int64_t *bin = &p->bin_us[s % PACE_BINS], *at_s = &p->bin_at_s[s % PACE_BINS];

	if (*at_s != s || lag_us < *bin)
		*bin = lag_us;
	*at_s = s;
	p->sure_us = p->least_us;
	for (int i = 0; i < PACE_BINS; i++)
		if (p->bin_at_s[i] > s - PACE_BINS && p->bin_us[i] < p->sure_us)
			p->sure_us = p->bin_us[i];
}

/* No reader is later than what the transfers in flight hold. */
static bool leapt(const struct pace *p, int64_t lag_us)
{
	return p->kept > 0 && lag_us > p->least_us + LEAP_US;
}

bool pace_feed(struct pace *p, int64_t end, int64_t at_us)
{
	int64_t lag_us = at_us - bytes_us(end, p->rate_hz);
	bool leap = leapt(p, lag_us), jump;

	if (leap)
		forget_clock(p);
	if (p->kept == 0)
		p->first_us = at_us;
	p->newest_us = at_us;
	p->lag_us[p->next] = lag_us;
	p->next = (p->next + 1) % PACE_KEPT;
	if (p->kept < PACE_KEPT)
		p->kept++;
	p->least_us = least(p, p->kept);
	jump = jumped(p, lag_us, at_us);
	if (jump) {
		p->kept = p->late < PACE_KEPT ? p->late : PACE_KEPT;
		p->first_us = p->late_us;
		p->least_us = least(p, p->kept);
		p->late = 0;
	}
	keep_bin(p, lag_us, at_us);
	return leap || jump;
}

int64_t pace_not_before(const struct pace *p, int64_t byte)
{
	return p->sure_us + bytes_us(byte, p->rate_hz);
}

bool pace_settled(const struct pace *p)
{
	return p->kept >= ENOUGH && p->newest_us - p->first_us >= ENOUGH_US;
}

int64_t pace_at(const struct pace *p, int64_t byte)
{
	return p->least_us + bytes_us(byte, p->rate_hz);
}

double pace_share(struct pace *p, int64_t end, int64_t at_us)
{
	if (at_us - p->last_us >= SILENCE_US)
		p->mark_us += at_us - p->last_us;
	p->last_us = at_us;
	int64_t past_us = at_us - p->mark_us;
	if (p->marked && past_us < SHARE_US)
		return 1;
	double share = p->marked
		? (double)bytes_us(end - p->mark_byte, p->rate_hz) / (double)past_us : 1;
	p->mark_us = at_us;
	p->mark_byte = end;
	p->marked = true;
	return share;
}
