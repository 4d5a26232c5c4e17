#ifndef BANDCENSUS_TOOLS_PLAN_RENEWAL_H
#define BANDCENSUS_TOOLS_PLAN_RENEWAL_H

#include "tools/plan/interval.h"

/* Overs and gaps as a renewal process that was only glimpsed now and then.
 *
 * A key is held through phases, each exponential and equally long (Erlang's method of stages),
 * so its spread is mean / sqrt(phases). When it is let go there comes, with chance more, an
 * exponential gap and it is pressed again; else there is silence until the next exchange. That
 * makes it a Markov chain, and whatever was seen of it has an exact likelihood: looks with
 * holes between them (panel data: Kalbfleisch and Lawless 1985), stretches watched without a
 * hole, ends that nobody saw, two overs that a sweep takes for one, and that long ones are met
 * more often than short ones. Estimators that take overs one by one (Kaplan and Meier,
 * Turnbull) know nothing of gaps that were missed, and sweeps miss them all the time.
 *
 * Watching joins what is parted by less than the hang; a look may fall into such silence. So
 * the chain knows of it, and what is told at the end is joined: an over is on-time that no
 * silence of the hang or more breaks, a gap is such a silence. */
#define RENEWAL_PHASES 4        /* at most */

struct renewal {
	int    phases;
	double on_s;            /* mean time the key is held                        */
	double gap_s;           /* mean time until it is pressed again              */
	double more;            /* chance that it is                                */
	double idle_s;          /* mean silence between exchanges                   */
	double hang_s;          /* silence that ends an over                        */
};

/* Chance that the key is pressed again within the hang. */
double renewal_joins(const struct renewal *r);

/* What was seen, one after the other. A chain begins with the first two. */
enum glimpsed {
	GLIMPSE_AFRESH = 0,     /* a look: on, after long silence and for after_s at most */
	GLIMPSE_BEGAN,          /* on from this moment, after long silence                */
	GLIMPSE_ON,             /* a look after_s later: on                               */
	GLIMPSE_OFF,            /*                       off                              */
	GLIMPSE_STAYED_ON,      /* watched without a hole for after_s: on throughout      */
	GLIMPSE_STAYED_OFF,     /*                                     off throughout     */
	GLIMPSE_LEFT,           /* off at looks up to after_s later, and watched at first ... */
	GLIMPSE_MET,            /*                               ... or at last, both below   */
	GLIMPSE_ROSE,           /* came on at this moment                                 */
	GLIMPSE_FELL            /* went off a hang ago, and stayed off since              */
};

/* Nobody knows when a park began or ended that saw nothing else, but for how long it was there
 * at least and at most: all between is as likely. */
struct glimpse {
	enum glimpsed what;
	float         after_s;
	int           again;    /* of a chain's first: so often more the same chain was seen */
	float         least_s, most_s;  /* GLIMPSE_LEFT, _MET: watched for so long of it, off   */
};

/* Times between looks count in sixteenths of the usual. */
#define RENEWAL_PARTS 16

/* Looks in s, the one at its end with them: after a park the next comes sooner than usual. */
int renewal_looks(double s, double every_s);

/* Natural logarithm of the likelihood, less what does not depend on r. every_s: usual time
 * between looks; times from one to the next are rounded to a sixteenth of it. > 0 */
double renewal_likelihood(const struct renewal *r, const struct glimpse *g, int n, double every_s);

/* A figure with its 95 % interval. value 0: nothing can be said. */
struct estimate {
	double          value;
	struct interval likely;
};

struct renewal_fit {
	struct estimate on_s, median_s, gap_s;
	struct estimate guessed_on_s, guessed_gap_s;    /* whatever makes them up */
	double          more;           /* chance that another over follows in the exchange */
	double          phases;         /* mean of those tried, by how well they fit */
};

/* Most likely means under weak expectations (common practice: an over lasts 0.2 to 90 s, a gap
 * 0.7 to 11 s, 95 % of either), averaged over the numbers of phases. Where these, rather than
 * what was seen, make up the answer it is not said. idle_s, hang_s: as they are. */
void renewal_fit(const struct glimpse *g, int n, double every_s, double idle_s, double hang_s,
		 struct renewal_fit *out);

#endif
