#include "daemon/gain_steps.h"

#include <stdio.h>
#include <stdlib.h>

#define TENTH_DB_MOST 2000

bool gain_steps_check(const struct gain_steps *s)
{
	bool good = s->n >= 0 && s->n <= GAIN_STEPS_KNOWN;

	for (int i = 0; good && i < s->n; i++)
		good = s->tenth_db[i] >= -TENTH_DB_MOST && s->tenth_db[i] <= TENTH_DB_MOST &&
		       (i == 0 || s->tenth_db[i] > s->tenth_db[i - 1]);
	return good;
}

int gain_steps_nearest(const struct gain_steps *s, int wanted)
{
	int best = s->n > 0 ? s->tenth_db[0] : wanted;

	for (int i = 1; i < s->n; i++)
		if (abs(s->tenth_db[i] - wanted) < abs(best - wanted))
			best = s->tenth_db[i];
	return best;
}

bool gain_steps_tell(const struct gain_steps *s, int wanted, char *out, size_t size)
{
	int takes = gain_steps_nearest(s, wanted), above = 0;

	if (takes == wanted)
		return false;
	while (above < s->n && s->tenth_db[above] < wanted)
		above++;
	int n = snprintf(out, size, "gain is set to %.1f dB, ", wanted / 10.0);
	if (n < 0 || (size_t)n >= size)
		return true;
	if (above == 0 || above == s->n)
		snprintf(out + n, size - (size_t)n, "the tuner has %.1f to %.1f dB: takes %.1f dB",
			 s->tenth_db[0] / 10.0, s->tenth_db[s->n - 1] / 10.0, takes / 10.0);
	else
		snprintf(out + n, size - (size_t)n, "the tuner has %.1f and %.1f dB: takes %.1f dB",
			 s->tenth_db[above - 1] / 10.0, s->tenth_db[above] / 10.0, takes / 10.0);
	return true;
}
