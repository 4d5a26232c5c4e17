/* What renewal_likelihood says of some invented glimpses, for renewal.py to check: lines
 * "case EVERY", "chain PHASES ON GAP MORE IDLE HANG", "glimpse WHAT AFTER", "told LOGARITHM". */
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

/* Any order of glimpses that can follow each other. */
static int invent(struct noise *r, double every_s, struct glimpse *g)
{
	int n = 0;
	bool on = false;

	while (n < MOST - 1) {
		if (n == 0 || noise_uniform(r) < 0.1) {
			on = true;
			g[n++] = (struct glimpse){ noise_uniform(r) < 0.5 ? GLIMPSE_AFRESH : GLIMPSE_BEGAN,
						   (float)every_s, 0 };
			continue;
		}
		double u = noise_uniform(r);
		float s = (float)(every_s * (double)noise_between(r, 4, 40) / 16);
		if (u < 0.3)
			g[n] = (struct glimpse){ GLIMPSE_ON, s, 0 };
		else if (u < 0.6)
			g[n] = (struct glimpse){ GLIMPSE_OFF, s, 0 };
		else if (u < 0.8)
			g[n] = (struct glimpse){ on ? GLIMPSE_STAYED_ON : GLIMPSE_STAYED_OFF, s, 0 };
		else
			g[n] = (struct glimpse){ on ? GLIMPSE_FELL : GLIMPSE_ROSE, 0, 0 };
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
			printf("glimpse %d %.9g\n", (int)g[i].what, (double)g[i].after_s);
		printf("told %.12g\n", renewal_likelihood(c, g, n, every_s));
	}
	for (int n = 5; n <= 40; n += 5)
		printf("rayleigh %d %.6f %.9f\n", n, sqrt(3.0 / n), rayleigh_chance(sqrt(3.0 / n), n));
	return 0;
}
