/* What renewal_likelihood says of some invented glimpses, for renewal.py to check: lines
 * "case EVERY", "chain PHASES ON GAP MORE IDLE HANG", "glimpse WHAT AFTER LEAST MOST", "told LOGARITHM". */
#include <math.h>
#include <stdbool.h>
#include <stdio.h>

#include "tests/noise.h"
#include "tools/plan/regular.h"
#include "tools/plan/renewal.h"

#define CASES 40
#define MOST  60

static const struct renewal chains[] = {
	{ 1, 3, 1.5, 0.7, 200, 0.5 }, { 2, 4, 2, 0.75, 600, 0.5 }, { 4, 15, 5, 0.9, 60, 0.5 },
	{ 3, 0.4, 0.8, 0.2, 30, 0.2 },
};

/* Silence of which a part was watched; a third of the time how long is known. */
static struct glimpse partly(struct noise *r, float after_s)
{
	struct glimpse g = { .what = noise_bits(r) & 1 ? GLIMPSE_LEFT : GLIMPSE_MET, .after_s = after_s };

	g.most_s = after_s * (float)noise_uniform(r);
	g.least_s = noise_uniform(r) < 0.3 ? g.most_s : g.most_s * (float)noise_uniform(r);
	return g;
}

/* Any order of glimpses that can follow each other. */
static int invent(struct noise *r, double every_s, struct glimpse *g)
{
	int n = 0;
	bool on = false;

	while (n < MOST - 1) {
		if (n == 0 || noise_uniform(r) < 0.1) {
			on = true;
			g[n++] = (struct glimpse){ .what = noise_uniform(r) < 0.5 ? GLIMPSE_AFRESH : GLIMPSE_BEGAN,
						   .after_s = (float)every_s };
			continue;
		}
		double u = noise_uniform(r);
		float s = (float)(every_s * (double)noise_between(r, 4, 40) / 16);
		if (u < 0.3)
			g[n] = (struct glimpse){ .what = GLIMPSE_ON, .after_s = s };
		else if (u < 0.45 && !on)
			g[n] = partly(r, 4 * s);
		else if (u < 0.6)
			g[n] = (struct glimpse){ .what = GLIMPSE_OFF, .after_s = s };
		else if (u < 0.8)
			g[n] = (struct glimpse){ .what = on ? GLIMPSE_STAYED_ON : GLIMPSE_STAYED_OFF, .after_s = s };
		else
			g[n] = (struct glimpse){ .what = on ? GLIMPSE_FELL : GLIMPSE_ROSE };
		on = u < 0.3 || (u >= 0.6 && (u < 0.8) == on);
		n++;
	}
	return n;
}

int main(void)
{
	struct noise r = { 20261128 };

	for (int k = 0; k < CASES; k++) {
		struct glimpse g[MOST];
		const struct renewal *c = &chains[k % 4];
		double every_s = 1 + k % 3;
		int n = invent(&r, every_s, g);
		printf("case %g\nchain %d %g %g %g %g %g\n", every_s, c->phases, c->on_s, c->gap_s, c->more,
		       c->idle_s, c->hang_s);
		for (int i = 0; i < n; i++)
			printf("glimpse %d %.9g %.9g %.9g\n", (int)g[i].what, (double)g[i].after_s,
			       (double)g[i].least_s, (double)g[i].most_s);
		printf("told %.12g\n", renewal_likelihood(c, g, n, every_s));
	}
	for (int n = 5; n <= 40; n += 5)
		printf("rayleigh %d %.6f %.9f\n", n, sqrt(3.0 / n), rayleigh_chance(sqrt(3.0 / n), n));
	return 0;
}
