#ifndef BANDCENSUS_TESTS_SURVEY_WORLD_H
#define BANDCENSUS_TESTS_SURVEY_WORLD_H

#include "store/survey.h"

#define WORLD_ROOM  256
#define WORLD_BANDS 2
#define WORLD_ROWS  16

/* Two bands, a run on them, and one row of each kind, for tests of the survey. */
extern const struct band world_bands[WORLD_BANDS];
struct run_row world_run(void);

/* The rows of one transaction: numbered, so that no two are alike. */
struct world_rows {
#define MEMBER(noun) struct noun##_row noun;
	SURVEY_NOUNS(MEMBER)
#undef MEMBER
};
struct world_rows world_rows(int64_t run, int number);

/* begin, all of them, commit; -1 after the first that fails, rolled back. */
int world_write(struct survey *s, const struct world_rows *rows, struct fault *why);

/* What a survey holds. The first WORLD_ROWS of each kind; n_NOUN counts them all. What settings
 * and strips borrowed is gone. */
struct world_seen {
#define SEEN(noun) int n_##noun; struct noun##_row noun[WORLD_ROWS];
	SEEN(run)
	SURVEY_NOUNS(SEEN)
#undef SEEN
	int64_t                 looks;          /* of all coverage */
	int64_t                 level_us;       /* of all activity */
	int64_t                 parks;          /* of all parked   */
	int64_t                 text_bytes, strip_bytes;
};
int world_see(struct survey *s, struct world_seen *seen, struct fault *why);

#endif
