#include "tools/plan/scan.h"

#include <math.h>

double scan_cycle_s(int channels, double rate)
{
	return channels / rate;
}

int64_t scan_steps(struct freq low, struct freq high, struct freq step)
{
	return (high.thirds - low.thirds) / step.thirds + 1;
}

double scan_sweep_s(struct freq low, struct freq high, struct freq step, double rate)
{
	return (double)scan_steps(low, high, step) / rate;
}

double scan_catch(double over_s, double every_s)
{
	if (over_s <= 0)
		return 0;
	if (every_s <= 0)
		return 1;
	return over_s / every_s * (1 - exp(-every_s / over_s));
}
