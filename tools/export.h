#ifndef BANDCENSUS_TOOLS_EXPORT_H
#define BANDCENSUS_TOOLS_EXPORT_H

#include <stdio.h>

#include "store/merge.h"
#include "store/rescue.h"
#include "store/thin.h"
#include "tools/lines.h"
#include "tools/plan/guess.h"
#include "tools/plan/compare.h"
#include "tools/plan/plan.h"
#include "tools/plan/rasters.h"
#include "tools/plan/review.h"
#include "tools/plan/typed.h"
#include "tools/tell.h"

/* Census and plan for people and for other programs. */

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

/* A plan and what it was made from. */
struct planned {
	const struct plan   *plan;
	const struct census *census;
};

/* Verdicts on rasters, one a band. */
struct rastered {
	const struct census      *census;
	const struct raster_told *told;
};

/* What was looked at, when, and what went wrong. */
struct state {
	const char                *file;
	const struct census       *census;
	const struct run_row      *run;
	int                        runs;
	const struct incident_row *incident;
	int                        incidents;
};

/* Files, and whether they can be used. */
struct checked {
	const char *file;
	bool        good;
	char        words[480];         /* what it is, or what is to be mended */
};

struct checks {
	const struct checked *at;
	int                   n;
};

/* What became of a merge and of a rescue. */
struct merged {
	const char             *file;
	int                     surveys;
	const struct merge_sum *sum;
	const struct lines     *said;
};

struct rescued {
	const char              *from, *to;
	const struct rescue_sum *sum;
	const struct lines      *said;
};

struct thinned {
	const char            *file;
	const struct thin_sum *sum;
};

/* What each result tells (tools/tell.h); the pointer is to the struct named behind it. Told of nothing
 * (an empty census, plan and so on) they say all their fields, for the manual. */
void tell_channels(struct teller *t, const void *told);                 /* struct told       */
void tell_checks(struct teller *t, const void *checks);                 /* struct checks     */
void tell_comparison(struct teller *t, const void *comparison);         /* struct comparison */
void tell_merged(struct teller *t, const void *merged);                 /* struct merged     */
void tell_plan(struct teller *t, const void *planned);                  /* struct planned    */
void tell_rasters(struct teller *t, const void *rastered);              /* struct rastered   */
void tell_rehearsal(struct teller *t, const void *rehearsed);           /* struct rehearsed  */
void tell_rescued(struct teller *t, const void *rescued);               /* struct rescued    */
void tell_status(struct teller *t, const void *state);                  /* struct state      */
void tell_thinned(struct teller *t, const void *thinned);               /* struct thinned    */

/* For a person who must type it in (sheet.c). 0, or -1 when there is no memory; whether all was
 * written the stream tells. */
int sheet_plan(FILE *to, const struct plan *p, const struct census *c, const struct receiver *r);

/* sheet_rehearsal.c: what would be heard with each set of banks. */
int sheet_rehearsal(FILE *to, const struct rehearsed *r);

#endif
