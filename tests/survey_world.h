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
	struct coverage_row     coverage;
	struct activity_row     activity;
	struct transmission_row transmission;
	struct incident_row     incident;
	struct artefact_row     artefact;
	struct setting_row      setting;
	struct parked_row       parked;
	struct strip_row        strip;
};
struct world_rows world_rows(int64_t run, int number);

/* begin, all of them, commit; -1 after the first that fails, rolled back. */
int world_write(struct survey *s, const struct world_rows *rows, struct fault *why);

/* What a survey holds. The first WORLD_ROWS of each kind; n counts them all. */
struct world_seen {
	int                     n_run, n_coverage, n_activity, n_transmission, n_incident, n_artefact,
				n_setting, n_parked, n_strip;
	struct run_row          run[WORLD_ROWS];
	struct coverage_row     coverage[WORLD_ROWS];
	struct activity_row     activity[WORLD_ROWS];
	struct transmission_row transmission[WORLD_ROWS];
	struct incident_row     incident[WORLD_ROWS];
	struct artefact_row     artefact[WORLD_ROWS];
	struct setting_row      setting[WORLD_ROWS];    /* file and text are gone */
	struct parked_row       parked[WORLD_ROWS];
	struct strip_row        strip[WORLD_ROWS];      /* packed is gone */
	int64_t                 looks;          /* of all coverage */
	int64_t                 level_us;       /* of all activity */
	int64_t                 parks;          /* of all parked   */
	int64_t                 text_bytes, strip_bytes;
};
int world_see(struct survey *s, struct world_seen *seen, struct fault *why);

#endif
