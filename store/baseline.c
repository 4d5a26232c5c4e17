#include "store/baseline.h"

#include <inttypes.h>
#include <stdio.h>

char *baseline_tell(const struct baseline_line *l, char *out, size_t size)
{
	snprintf(out, size, "%.1f dBFS in %.0f %% of looks at %.1f dB of gain, at %.4f MHz",
		 l->dbfs, 100 * l->share, l->gain_db, l->mhz);
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

char *baseline_floor_tell(const struct baseline_floor *f, char *out, size_t size)
{
	snprintf(out, size, "%.2f dBFS of noise in %" PRId64 " looks at %.1f dB of gain", f->dbfs,
		 f->looks, f->gain_db);
	return out;
}

int baseline_floor_read(const char *text, struct baseline_floor *out)
{
	struct baseline_floor f;
	int end = -1;

	if (sscanf(text, "%lf dBFS of noise in %" SCNd64 " looks at %lf dB of gain%n", &f.dbfs,
		   &f.looks, &f.gain_db, &end) != 3 ||
	    end < 0 || text[end])
		return -1;
	*out = f;
	return 0;
}
