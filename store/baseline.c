#include "store/baseline.h"

#include <stdio.h>

char *baseline_tell(const struct baseline_line *l, char *out, size_t size)
{
	snprintf(out, size, "%.1f dBFS in %.0f %% of looks at %.1f dB of gain, at %.4f MHz", l->dbfs,
		 100 * l->share, l->gain_db, l->mhz);
	return out;
}

int baseline_read(const char *text, struct baseline_line *out)
{
	struct baseline_line l;
	int end = -1;

	if (sscanf(text, "%lf dBFS in %lf %% of looks at %lf dB of gain, at %lf MHz%n", &l.dbfs,
		   &l.share, &l.gain_db, &l.mhz, &end) != 4 || end < 0 || text[end])
		return -1;
	l.share /= 100;
	*out = l;
	return 0;
}
