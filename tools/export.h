#ifndef BANDCENSUS_TOOLS_EXPORT_H
#define BANDCENSUS_TOOLS_EXPORT_H

#include <stdio.h>

#include "tools/plan/guess.h"
#include "tools/plan/compare.h"
#include "tools/plan/plan.h"
#include "tools/plan/rasters.h"
#include "tools/plan/review.h"
#include "tools/plan/typed.h"

/* Census and plan for other programs. Each returns 0, or -1 when there is no
 * memory; whether all was written the stream tells. */

/* What is told of channels. */
struct told {
	const struct census   *census;
	const struct suspect  *suspect; /* one a channel                        */
	const struct interests *interests;      /* for their titles             */
	const struct licences *licences;
	int                    min_overs;
};

/* Who channel i probably is (tools/plan/guess.h); 0: nobody, it is no station. */
static inline int told_guess(const struct told *t, int i, struct guess out[GUESSES])
{
	const struct band *b = &t->census->band[t->census->channel[i].band];
	struct clues k = guess_clues(t->census, i, interests_of(t->interests, b->service));

	return suspicion_false(t->suspect[i].is) ? 0 : guess_who(&k, out);
}

/* A plan typed in, and how it was rehearsed. */
struct rehearsed {
	const char              *path;  /* of the plan file                     */
	const struct typed_list *typed;
	const struct plan       *plan;
	const struct census     *census;
	const struct receiver   *receiver;
	const struct review     *review;        /* one a set of banks           */
	int                      reviews;
};

/* json.c: what a program reads. */
int json_channels(FILE *to, const struct told *t);
int json_compare(FILE *to, const struct comparison *c);
int json_plan(FILE *to, const struct plan *p, const struct census *c);
int json_rasters(FILE *to, const struct census *c, const struct raster_told *t); /* one a band */
int json_rehearsal(FILE *to, const struct rehearsed *r);

/* csv.c: RFC 4180, lines end in CR LF. Before text from the user's files that a
 * spreadsheet would take for a formula stands a '. */
int csv_channels(FILE *to, const struct told *t);
int csv_compare(FILE *to, const struct comparison *c);
int csv_plan(FILE *to, const struct plan *p);
int csv_rasters(FILE *to, const struct census *c, const struct raster_told *t);

/* sheet.c: for a person who must type it in. */
int sheet_plan(FILE *to, const struct plan *p, const struct census *c, const struct receiver *r);

/* sheet_rehearsal.c: what would be heard with each set of banks. */
int sheet_rehearsal(FILE *to, const struct rehearsed *r);

#endif
