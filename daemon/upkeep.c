#include "daemon/upkeep.h"

#include <inttypes.h>
#include <stdio.h>

#include "daemon/log.h"
#include "store/picture.h"

#define DAY_US (24 * HOUR_US)

struct upkeep upkeep_create(const struct watch *n, struct outbox *o)
{
	return (struct upkeep){ .n = n, .outbox = o, .thinning = { .stage = THIN_DONE } };
}

/* ---- room ---- */

static const char *const words[ALLOWANCES] = {
	[ALLOW_ALL] = "everything is kept again",
	[ALLOW_NO_STRIPS] = "strips are not kept",
	[ALLOW_NOTHING] =
		"nothing is written until there is room, and what is heard is held in memory",
};

static void tell_room(struct upkeep *u, enum allowance is, const struct room *r, int64_t now_us)
{
	char text[200];

	snprintf(text, sizeof text, "the disk has %.0f MB left: %s", (double)r->free * 1e-6,
		 words[is]);
	progress_clear(u->n->progress);
	log_line(is == ALLOW_ALL ? LOG_NOTICE : LOG_WARNING, "room on the disk: left=%.0fMB: %s",
		 (double)r->free * 1e-6, words[is]);
	if (u->allowed == ALLOW_ALL)
		u->since_us = now_us;
	outbox_incident(u->outbox, "room", is == ALLOW_ALL ? u->since_us : now_us,
			is == ALLOW_ALL ? now_us : 0, text);
	u->allowed = is;
}

void upkeep_room(struct upkeep *u, int64_t now_us)
{
	const struct room_source *ask = u->n->room;
	struct room r;
	int known = ask ? ask->ask(ask->self, &r) : room_of(survey_path(u->n->survey), &r);

	if (known < 0)
		return;
	enum allowance is = room_allows(&r, u->allowed);
	if (is != u->allowed)
		tell_room(u, is, &r, now_us);
}

/* ---- thinning ---- */

static int start_thinning(struct upkeep *u, struct fault *why)
{
	if (thin_newest(u->n->survey, &u->newest_us, why) < 0)
		return -1;
	u->thinning = (struct thinning){ 0 };
	return 0;
}

static void tell_thinned(struct upkeep *u)
{
	char text[200];

	if (u->thinning.rows == 0)
		return;
	snprintf(text, sizeof text,
		 "%" PRId64 " rows that were older than the settings keep them were "
		 "joined or dropped",
		 u->thinning.rows);
	progress_clear(u->n->progress);
	log_line(LOG_INFO, "thinned: rows=%" PRId64, u->thinning.rows);
	outbox_incident(u->outbox, "thinned", u->newest_us, 0, text);
}

struct keep upkeep_keep(const struct station *st)
{
	return (struct keep){ st->keep_minutes_us, st->keep_strips_us, st->keep_overs_us,
			      st->keep_hours_us };
}

/* 1: there is more to do. */
static int thin(struct upkeep *u, struct fault *why)
{
	const struct keep keep = upkeep_keep(u->n->station);
	int more;

	if (u->thinning.stage == THIN_DONE)
		return 0;
	more = thin_step(u->n->survey, &keep, u->newest_us, &u->thinning, why);
	if (more == 0)
		tell_thinned(u);
	return more;
}

/* What can't be done now is done another time. */
static int forgive(const struct fault *why)
{
	return why->kind == FAULT_RETRY ? 0 : -1;
}

int upkeep_begin(struct upkeep *u, struct fault *why)
{
	int more;

	/* What is there is of runs that are over. */
	while ((more = picture_tidy(u->n->survey, 0, INT64_MAX, why)) > 0)
		;
	if (more < 0 || start_thinning(u, why) < 0)
		return forgive(why);
	while ((more = thin(u, why)) > 0)
		;
	return more < 0 ? forgive(why) : 0;
}

/* ---- size ---- */

static int weigh(struct upkeep *u, int64_t now_us, struct fault *why)
{
	int64_t bytes, unused;
	char text[200];

	if (u->n->limit_bytes == 0 || u->full)
		return 0;
	if (survey_size(u->n->survey, &bytes, &unused, why) < 0)
		return -1;
	bytes -= unused;        /* of what was thinned: filled before the file grows */
	if (bytes < u->n->limit_bytes)
		return 0;
	u->full = true;
	snprintf(text, sizeof text, "the survey has reached %.1f MB, more than it may: it ends",
		 (double)bytes * 1e-6);
	progress_clear(u->n->progress);
	log_line(LOG_WARNING, "survey is full: size=%.1fMB limit=%.1fMB, ending",
		 (double)bytes * 1e-6, (double)u->n->limit_bytes * 1e-6);
	outbox_incident(u->outbox, "full", now_us, 0, text);
	return 0;
}

int upkeep_step(struct upkeep *u, int64_t now_us, struct fault *why)
{
	if (weigh(u, now_us, why) < 0)
		return forgive(why);
	if (u->thinned_us == 0)
		u->thinned_us = now_us;
	if (now_us - u->thinned_us >= DAY_US) {
		u->thinned_us = now_us;
		if (start_thinning(u, why) < 0)
			return forgive(why);
	}
	return thin(u, why) < 0 ? forgive(why) : 0;
}
