#include "daemon/dongle/deadline.h"

#include <sys/timerfd.h>
#include <time.h>
#include <unistd.h>

#include "daemon/dongle/stream.h"

int deadline_open(struct deadline *d)
{
	d->timer = timerfd_create(CLOCK_MONOTONIC, TFD_CLOEXEC | TFD_NONBLOCK);
	d->at_us = INT64_MAX;
	return d->timer < 0 ? -1 : 0;
}

void deadline_close(struct deadline *d)
{
	if (d->timer >= 0)
		close(d->timer);
	d->timer = -1;
}

/* Set by the time left: a timer of nothing would never go off. */
void deadline_set(struct deadline *d, int64_t at_us)
{
	int64_t us = at_us - stream_now_us();
	struct itimerspec in = { .it_value = { (time_t)(us / 1000000),
					       (long)(us % 1000000 * 1000) } };

	if (us <= 0)
		in.it_value = (struct timespec){ .tv_nsec = 1 };
	d->at_us = at_us;
	timerfd_settime(d->timer, 0, &in, NULL);
}

void deadline_never(struct deadline *d)
{
	d->at_us = INT64_MAX;
	timerfd_settime(d->timer, 0, &(struct itimerspec){ 0 }, NULL);
}

bool deadline_passed(const struct deadline *d)
{
	return stream_now_us() >= d->at_us;
}
