#ifndef BANDCENSUS_TESTS_PROOF_WORLD_H
#define BANDCENSUS_TESTS_PROOF_WORLD_H

#include <jansson.h>

#include "tests/replay.h"
#include "tools/plan/receiver.h"

/* Three runs of the invented town surveyed by the built programs, and what bandcensus plans from
 * them for three receivers: the plans as a user has them, beside what was really sent. */

#ifdef __SANITIZE_ADDRESS__     /* five times slower: enough to go through it all */
#define PROOF_RUNS      1
#else
#define PROOF_RUNS      3
#endif
#define PROOF_RECEIVERS 3
#define RUN_S           43200.0         /* a run lasts */
#define SQUELCH_DB      6.0

/* What is in the set before, in old.csv of the folder. */
#define PROOF_OLD 4
extern const struct proof_old {
	int    bank, slot;
	double hz;
	bool   pinned;
} proof_old[PROOF_OLD];

extern const struct proof_run {
	const char *name;               /* weeknight; sunday: the night that leads into it; day */
	const char *start;              /* of the town                     */
	int         seed;               /* of the town                     */
} proof_runs[];

extern const char *const proof_receivers[PROOF_RECEIVERS];      /* "400": its profile's name */

struct proof {
	char            folder[200];
	int64_t         start_us[PROOF_RUNS];
	struct truth   *truth[PROOF_RUNS];
	struct receiver receiver[PROOF_RECEIVERS];
};

/* Surveys. BANDCENSUS_PROOF names a folder for whole nights instead of shortened ones; what is
 * there already is not made again. */
int proof_begin(void **state);
int proof_end(void **state);

/* bandcensus VERB FOLDER/SURVEY.survey MORE, its output in a file of the folder: its path, the
 * same in each third call. Surveys are named as the runs are; NAME-later has one more night, in
 * which nobody was heard. Fails the test unless it ends well. */
const char *proof_told(const struct proof *p, const char *verb, const char *survey, const char *more);
json_t *proof_json(const struct proof *p, const char *verb, const char *survey, const char *more);

/* --receiver for that one. */
const char *proof_for(int receiver);

/* What a listener with that receiver hears of a set of the plan. */
struct replayed proof_listen(const struct proof *p, int run, int receiver, const json_t *plan,
			     const json_t *set);

#endif
