#include "tests/test.h"
#include "tests/ideal.h"

#include <stdio.h>

#include "dsp/chance.h"

#define TABLE SOURCE_ROOT "/tests/outside/loss.txt"

void ideal_read(struct ideal *t)
{
	FILE *in = fopen(TABLE, "r");
	char line[200];
	double threshold;
	int n = 0;

	assert_non_null(in);
	while (fgets(line, sizeof line, in)) {
		if (sscanf(line, "ideal %lf %lf %lf", &t->nu, &threshold, &t->snr_db) == 3)
			continue;
		if (n < IDEAL_ROWS && sscanf(line, "found %lf %lf", &t->off_db[n], &t->found[n]) == 2)
			n++;
	}
	fclose(in);
	assert_int_equal(n, IDEAL_ROWS);
}

/* Where the straight line through the shares found, as normal deviates, passes 0.9. */
double ideal_loss_db(const struct ideal *t, const int64_t *found, int64_t tried)
{
	double y[IDEAL_ROWS], mx = 0, my = 0, xx = 0, xy = 0;

	for (int i = 0; i < IDEAL_ROWS; i++) {
		y[i] = normal_quantile(((double)found[i] + 0.5) / ((double)tried + 1));
		mx += t->off_db[i] / IDEAL_ROWS;
		my += y[i] / IDEAL_ROWS;
	}
	for (int i = 0; i < IDEAL_ROWS; i++) {
		xx += (t->off_db[i] - mx) * (t->off_db[i] - mx);
		xy += (t->off_db[i] - mx) * (y[i] - my);
	}
	return mx + (normal_quantile(0.9) - my) * xx / xy;
}
