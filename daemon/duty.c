#include "daemon/duty.h"

#include <stdio.h>
#include <time.h>

#include "daemon/challenge.h"
#include "daemon/log.h"
#include "daemon/notify.h"
#include "daemon/page.h"
#include "daemon/plans.h"
#include "daemon/shelf.h"
#include "daemon/upkeep.h"
#include "store/timetable.h"

#define NAP_US  INT64_C(60000000)       /* the clock on the wall may be stepped meanwhile */
#define REST_US INT64_C(2000000)        /* before what failed is tried again, at first    */
#define RESTS   8                       /* times it is doubled: to eight minutes          */

/* One turn of duty, and what is told of it. */
struct turn {
	struct job                  *j;
	const volatile sig_atomic_t *stop;
	struct timetable             table;
	struct notify                notify;
	struct page                 *page;      /* NULL: none */
	int64_t                      began_us;  /* by the clock that is never stepped */
	bool                         looked;    /* once at least: settings and options will do */
};

static int64_t wall_us(void)
{
	struct timespec t;

	clock_gettime(CLOCK_REALTIME, &t);
	return (int64_t)t.tv_sec * 1000000 + t.tv_nsec / 1000;
}

static int64_t steady_us(void)
{
	return clock_of_computer.now_us(clock_of_computer.self);
}

static int32_t ahead_s(int64_t us)
{
	time_t s = (time_t)(us / 1000000);
	struct tm tm;

	return localtime_r(&s, &tm) ? (int32_t)tm.tm_gmtoff : 0;
}

/* "2026-11-27 20:00", local. */
static const char *moment(int64_t us, char out[32])
{
	time_t s = (time_t)(us / 1000000);
	struct tm tm;

	if (!localtime_r(&s, &tm) || strftime(out, 32, "%Y-%m-%d %H:%M", &tm) == 0)
		out[0] = '\0';
	return out;
}

/* How long the watch will take on its own clock; 0: without end. */
static int64_t work_us(const struct job *j, int64_t for_us)
{
	const struct source_about *a = &j->source[0].about;
	int64_t warm_up = a->tunable ? j->station.warm_up_us : 0;
	int64_t left = a->length_us ? a->length_us - warm_up : 0;

	return for_us && (!left || for_us < left) ? for_us : left;
}

/* Each transform length that the hops need. A replay takes what every computer has. */
static void fetch_plans(const struct job *j)
{
	for (int i = 0; i < j->hops.n && !j->source[0].about.virtual_clock; i++)
		if (i == 0 || j->hops.hops[i].bins != j->hops.hops[i - 1].bins)
			plans_fetch(&j->hops.hops[i].bins, 1);
}

static void see(void *self, const struct sight *s)
{
	(void)s;
	((struct turn *)self)->looked = true;
}

/* With those who look on. */
static int keep_watch(struct turn *t, struct watch *n, struct fault *why)
{
	struct challenges *c = challenges_create(
		&(struct challenge_wants){ t->j->bands, t->j->n_bands, &t->j->hops });
	if (!c)
		return fault_set(why, FAULT_FATAL, "no memory for challenges");
	const struct challenger asker = challenges_asker(c);
	const struct onlooker onlookers[] = {
		challenges_onlooker(c), notify_onlooker(&t->notify), { .self = t, .see = see },
	};
	n->challenger = &asker;
	n->onlookers = onlookers;
	n->n_onlookers = sizeof onlookers / sizeof onlookers[0];
	int result = watch_run(n, why);
	n->challenger = NULL;
	n->onlookers = NULL;
	n->n_onlookers = 0;
	challenges_destroy(c);
	return result;
}

/* The survey that a watch from then on is written to. */
static int file_of(const struct turn *t, int64_t from_us, char out[SHELF_PATH], struct fault *why)
{
	const struct options *o = &t->j->options;
	char week[WEEK_TEXT];

	if (o->folder)
		return shelf_choose(o->folder, timetable_week(&t->table, from_us, week), t->j->bands, t->j->n_bands,
				    out, why);
	return snprintf(out, SHELF_PATH, "%s", o->survey) < SHELF_PATH ? 0 :
	       fault_set(why, FAULT_INPUT, "%.60s...: path is too long", o->survey);
}

static void tell(struct turn *t, const struct shift *s)
{
	char text[120] = "surveying", until[32];

	if (s->until_us && s->until_us != INT64_MAX)
		snprintf(text, sizeof text, "surveying until %s", moment(s->until_us, until));
	notify_quiet(&t->notify, t->j->station.warm_up_us, text);
}

/* Past weeks, before the sources are opened. The watchdog is not fed: it takes some minutes at most. */
static void thin_past(struct turn *t, int64_t from_us)
{
	const struct keep keep = upkeep_keep(&t->j->station);
	struct shelf_sum sum;
	char week[WEEK_TEXT];

	if (!t->j->options.folder)
		return;
	notify_ready(&t->notify, "thinning past weeks");
	shelf_thin(t->j->options.folder, timetable_week(&t->table, from_us, week), &keep, wall_us(), t->stop, &sum);
}

/* From opening to closing. for_us 0: no such limit. */
static int watch_shift(struct turn *t, const struct shift *s, int64_t for_us, struct fault *why)
{
	struct job *j = t->j;
	struct progress progress;
	char path[SHELF_PATH];

	if (job_open_sources(j, why) < 0 || job_plan_hops(j, why) < 0)
		return -1;
	bool virtual = j->source[0].about.virtual_clock;
	if (file_of(t, virtual ? j->source[0].about.start_us : s->from_us, path, why) < 0 ||
	    job_open_survey(j, path, why) < 0)
		return -1;
	fetch_plans(j);
	page_show(t->page, path, NULL);
	log_line(LOG_INFO, "survey begins: file=%s source=\"%s\" hops=%d look=%.0fms",
		 path, j->run.source, j->hops.n, (double)j->run.dwell_us * 1e-3);
	tell(t, s);
	progress_begin(&progress, work_us(j, for_us));
	struct watch n = {
		.sources = j->source,
		.n_sources = j->n_sources,
		.station = &j->station,
		.bands = j->bands,
		.n_bands = j->n_bands,
		.hops = &j->hops,
		.survey = j->survey,
		.run = j->run.id,
		.for_us = for_us,
		.until_us = virtual ? 0 : s->until_us,
		.stop = t->stop,
		.progress = &progress,
		.limit_bytes = j->options.limit_bytes,
	};
	if (keep_watch(t, &n, why) < 0)
		return -1;
	log_line(LOG_INFO, "survey ends: file=%s%s", path, *t->stop ? " stopped=yes" : "");
	return 0;
}

/* What is left of --for; -1: nothing, 0: it was not given. */
static int64_t left_us(const struct turn *t)
{
	int64_t left = t->j->options.for_us + t->began_us - steady_us();

	return t->j->options.for_us == 0 ? 0 : left > 0 ? left : -1;
}

static int64_t lesser(int64_t a, int64_t b)
{
	return a < b ? a : b;
}

/* Until the clock on the wall says so, or --for is over by the one that is never stepped. Below 0: over. */
static int64_t wait_us(const struct turn *t, int64_t until_us)
{
	int64_t left = left_us(t), by_wall = until_us - wall_us();

	return left ? lesser(left, by_wall) : by_wall;
}

/* A clock that is stepped meanwhile is noticed within a nap. Off duty no looks are asked for. */
static void wait_until(struct turn *t, int64_t us, bool on_duty)
{
	const char *what = on_duty ? "resting" : "off duty";
	char text[80], from[32];
	int64_t left = wait_us(t, us);

	if (left <= 0 || *t->stop)
		return;
	snprintf(text, sizeof text, "%s until %s", what, moment(wall_us() + left, from));
	log_line(LOG_INFO, "%s: until=\"%s\"", what, from);
	page_show(t->page, NULL, text);
	if (on_duty)
		notify_ready(&t->notify, text);
	else
		notify_quiet(&t->notify, left, text);
	for (; left > 0 && !*t->stop; left = wait_us(t, us))
		clock_of_computer.wait(clock_of_computer.self, NULL, 0, steady_us() + lesser(left, NAP_US),
				       t->stop);
}

/* A disk that is full, say, may soon have room: the more often it had none, the later it is asked again. */
static int64_t rest_us(int lost)
{
	return REST_US << (lost < RESTS ? lost : RESTS);
}

/* Settings and options that something was looked at with are no mistakes: what they fail by later (a second dongle
 * on the table, a folder that lost its owner) came about since, and may go again. */
static bool may_pass(const struct turn *t, struct fault *why)
{
	if (why->kind == FAULT_INPUT && t->looked)
		why->kind = FAULT_RETRY;
	return why->kind == FAULT_RETRY;
}

/* The watch of a shift, begun again while the shift lasts where it failed for what may pass. */
static int keep_shift(struct turn *t, const struct shift *s, int *lost, struct fault *why)
{
	for (int64_t now_us = s->from_us; !*t->stop && left_us(t) >= 0 && now_us < s->until_us; now_us = wall_us()) {
		if (watch_shift(t, s, left_us(t), why) == 0) {
			*lost = 0;
			break;
		}
		if (!may_pass(t, why))
			return -1;
		log_line(LOG_ERROR, "nothing of this watch: %s", why->text);
		job_close(t->j);
		wait_until(t, lesser(wall_us() + rest_us((*lost)++), s->until_us), true);
	}
	return 0;
}

static int take_turns(struct turn *t, struct fault *why)
{
	int64_t done_us = 0;            /* shifts until then are over, however they ended */
	int lost = 0;                   /* watches in a row                               */

	while (!*t->stop && left_us(t) >= 0) {
		int64_t now = wall_us();
		struct shift s = timetable_shift(&t->table, now > done_us ? now : done_us);
		wait_until(t, s.from_us, false);
		if (*t->stop || left_us(t) < 0)
			break;
		thin_past(t, s.from_us);
		if (keep_shift(t, &s, &lost, why) < 0)
			return -1;
		page_show(t->page, NULL, "between two watches");
		job_close(t->j);
		done_us = s.until_us;
	}
	/* why is that of the last one. */
	return lost > 0 && !*t->stop ? -1 : 0;
}

static int check_target(const struct options *o, struct fault *why)
{
	if (!o->survey && !o->folder)
		return fault_set(why, FAULT_INPUT, "--survey is missing, see --help");
	if (o->survey && o->folder)
		return fault_set(why, FAULT_INPUT, "--survey and --folder exclude each other");
	return 0;
}

int duty(struct job *j, const volatile sig_atomic_t *stop, struct fault *why)
{
	struct turn t = { .j = j, .stop = stop, .began_us = steady_us() };
	const struct options *o = &j->options;
	int result = -1;

	if (check_target(&j->options, why) < 0)
		return -1;
	t.table = timetable_of(j->station.hours, &j->station.days, ahead_s);
	if (o->page_token && !o->page)
		return fault_set(why, FAULT_INPUT,
				 "--page-token needs --page ADDRESS, which it locks");
	if (o->page && !(t.page = page_open(o->page, o->page_token, why)))
		return -1;
	notify_open(&t.notify);
	/* What has no descriptor to be waited on has a clock of its own. */
	if ((t.table.always && !j->options.folder) || !j->source[0].ops->descriptor)
		result = watch_shift(&t, &(struct shift){ 0 }, j->options.for_us, why);
	else
		result = take_turns(&t, why);
	notify_stopping(&t.notify);
	notify_close(&t.notify);
	page_close(t.page);
	return result;
}
