#ifndef BANDCENSUS_DAEMON_OUTBOX_H
#define BANDCENSUS_DAEMON_OUTBOX_H

#include "dsp/ear.h"
#include "dsp/track.h"
#include "store/survey.h"

/* What the survey will be told at the next commit: accounts by channel and
 * hour, looked and parked time by span and hour, minutes of strips, overs and
 * incidents. Emptied only after the commit came back. */
struct outbox;

struct outbox *outbox_create(int64_t run, const struct band *bands, int n_bands,
			     const struct hop_plan *hops);
void outbox_destroy(struct outbox *o);          /* NULL is fine */

/* Callbacks for track_create; self is the outbox. */
void outbox_ended(void *self, const struct transmission *t);
void outbox_touched(void *self, const struct touch *t);

/* A look, judged. Accounts that follow belong to its hour. */
struct outbox_look {
	int                  hop;
	const struct look   *look;
	const struct judged *judged;
	bool                 soon;              /* after the one before                        */
	const double        *floor_dbfs;        /* per measured width, for each span of the hop */
};
void outbox_looked(struct outbox *o, const struct outbox_look *l);

/* A look of a park: the overs that it shows are kept, and its time apart from the others',
 * but it feeds no account. begins: it is the park's first. soon and floor do not count. */
void outbox_parked(struct outbox *o, const struct outbox_look *l, bool begins);

/* Whether a commit would have anything to write. */
bool outbox_holds(const struct outbox *o);

/* Call before a look whose start lies in another hour than the last: true when
 * what is held must be committed first. */
bool outbox_hour_turns(const struct outbox *o, int64_t start_us);

void outbox_incident(struct outbox *o, const char *what, int64_t at_us, int64_t until_us,
		     const char *text);

void outbox_artefact(struct outbox *o, const struct artefact_row *row);

/* One transaction. On failure everything is still held. Without strips their minutes are let
 * go: not looked at, as far as the picture tells. */
int outbox_commit(struct outbox *o, struct survey *s, bool strips, struct fault *why);

/* For the hourly line: since the last call. */
struct outbox_sum {
	int64_t looks, parked, transmissions;
	int     busy_channels;          /* since the last commit */
};
struct outbox_sum outbox_sum(struct outbox *o);

#endif
