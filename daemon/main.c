/* bandcensusd: leaves no channel of its bands unlooked at, and keeps what it saw. */
#include <locale.h>
#include <math.h>
#include <signal.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>

#include "daemon/calibrate/baseline.h"
#include "daemon/calibrate/calibrate.h"
#include "daemon/dongle/capture_child.h"
#include "daemon/dongle/capture_order.h"
#include "daemon/challenge.h"
#include "daemon/itinerary.h"
#include "daemon/log.h"
#include "daemon/opening.h"
#include "daemon/options.h"
#include "daemon/plans.h"
#include "daemon/watch.h"

#define STEP_DEFAULT FREQ_HZ(12500)
#define RATE_DEFAULT 2400000

static volatile sig_atomic_t stop;

static void on_signal(int number)
{
	(void)number;
	stop = 1;
}

static int64_t now_us(void)
{
	struct timespec now;

	clock_gettime(CLOCK_REALTIME, &now);
	return (int64_t)now.tv_sec * 1000000 + now.tv_nsec / 1000;
}

static void catch_signals(void)
{
	struct sigaction act = { .sa_handler = on_signal };
	sigemptyset(&act.sa_mask);
	sigaction(SIGINT, &act, NULL);
	sigaction(SIGTERM, &act, NULL);
}

/* What a run is made of, in the order it is acquired. */
struct job {
	struct options           options;
	struct station           station;
	struct watch_source      source[OPTION_AGAIN];
	int                      n_sources;
	struct band             *bands;
	int                      n_bands;
	struct hop_plan          hops;
	struct survey           *survey;
	struct run_row           run;
	struct challenges       *challenges;
};

static bool is_recording(const struct watch_source *s)
{
	return strcmp(s->ops->name, "recording") == 0;
}

/* A recording without settings: its whole usable width on one raster. */
static int recording_band(struct job *j, struct fault *why)
{
	const struct source_about *about = &j->source[0].about;
	struct freq step = j->options.step.thirds ? j->options.step : STEP_DEFAULT;
	int64_t half = (int64_t)(about->rate_hz * HOP_USABLE * 1.5) - step.thirds / 2;
	struct band b = { .id = "recording", .name = "whole recording", .service = "unknown" };

	b.raster = raster_between((struct freq){ about->centre.thirds - half },
				  (struct freq){ about->centre.thirds + half }, FREQ_HZ(0), step);
	if (half <= 0 || b.raster.count == 0)
		return fault_set(why, FAULT_INPUT, "--step %.0f Hz leaves no channel in a recording of "
				 "%d Hz, must be well below it", freq_to_hz(step), about->rate_hz);
	b.mode = step.thirds >= FREQ_HZ(100000).thirds ? MODE_WFM : MODE_NFM;
	/* Emissions as wide as their step leaves them, but voice is 11 kHz on fine ones. */
	b.width_hz = (int32_t)fmax(0.88 * freq_to_hz(step), fmin(11000, 0.2 * about->rate_hz));
	j->bands = malloc(sizeof *j->bands);
	if (!j->bands)
		return fault_set(why, FAULT_FATAL, "no memory for a band");
	*j->bands = b;
	j->n_bands = 1;
	return 0;
}

static int read_settings(struct job *j, struct fault *why)
{
	if (station_read(j->options.config, &j->station, why) < 0)
		return -1;
	if (j->options.config)
		return station_bands(&j->station, j->options.config, &j->bands, &j->n_bands, why);
	if (!is_recording(&j->source[0]))
		return fault_set(why, FAULT_INPUT, "--config is missing: without it only a recording can "
				 "be surveyed");
	return 0;
}

/* One that is not there yet is waited for. */
static int open_source(struct job *j, struct watch_source *s, const char *spec, struct fault *why)
{
	struct source_about *a = &s->about;

	if (!s->request.rate_hz && !is_recording(s))
		s->request.rate_hz = (int32_t)(j->station.rate_msps * 1e6 + 0.5);
	s->request.bias_tee = j->station.bias_tee;
	s->source = s->ops->open(&s->request, why);
	if (!s->source && (why->kind != FAULT_RETRY || is_recording(s)))
		return -1;
	if (s->source) {
		s->ops->about(s->source, a);
	} else {
		log_line(LOG_WARNING, "source is not there: %s", why->text);
		*a = (struct source_about){ .tunable = true, .start_us = now_us() };
		snprintf(a->label, sizeof a->label, "%s", spec);
	}
	if (!a->rate_hz)
		a->rate_hz = s->request.rate_hz;
	return 0;
}

/* Several share the hops: they must hop, in the same time. */
static int check_together(const struct job *j, struct fault *why)
{
	for (int i = 0; i < j->n_sources && j->n_sources > 1; i++) {
		const struct source_about *a = &j->source[i].about, *b = &j->source[0].about;
		if (is_recording(&j->source[i]))
			return fault_set(why, FAULT_INPUT, "--source %s can't be surveyed beside another, "
					 "give it alone", j->options.source.at[i]);
		if (a->virtual_clock != b->virtual_clock)
			return fault_set(why, FAULT_INPUT, "--source %s keeps another time than %s, give "
					 "them to two surveys", j->options.source.at[i], j->options.source.at[0]);
	}
	return 0;
}

static int open_sources(struct job *j, struct fault *why)
{
	for (int i = 0; i < j->n_sources; i++)
		if (open_source(j, &j->source[i], j->options.source.at[i], why) < 0)
			return -1;
	if (check_together(j, why) < 0)
		return -1;
	return j->bands ? 0 : recording_band(j, why);
}

static int plan_hops(struct job *j, struct fault *why)
{
	const struct source_about *a = &j->source[0].about;
	int made = a->tunable ? hop_plan_sweep(&j->hops, j->bands, j->n_bands, a->rate_hz) :
		hop_plan_fixed(&j->hops, j->bands, j->n_bands, a->rate_hz, a->centre);

	if (made < 0)
		return fault_set(why, FAULT_INPUT, "a channel is wider than what %d S/s can show at once",
				 a->rate_hz);
	if (j->hops.n == 0)
		return fault_set(why, FAULT_INPUT, "no channel of the band plan lies inside the source's "
				 "%.3f MHz +- %.3f MHz", freq_to_hz(a->centre) * 1e-6,
				 a->rate_hz * HOP_USABLE / 2e6);
	return 0;
}

/* Opens nothing but a recording, which alone knows its centre. */
static int check(struct job *j, struct fault *why)
{
	struct source_about *a = &j->source[0].about;

	if (is_recording(&j->source[0])) {
		if (open_sources(j, why) < 0)
			return -1;
	} else {
		*a = (struct source_about){ .tunable = true, .rate_hz = j->options.rate_hz ?
			j->options.rate_hz : (int32_t)(j->station.rate_msps * 1e6 + 0.5) };
	}
	if (plan_hops(j, why) < 0)
		return -1;
	struct schedule_rules rules = watch_rules(&j->station, a);
	return itinerary_print(&j->station, j->bands, j->n_bands, &j->hops, &rules,
			       a->tunable ? j->n_sources : 0, why);
}

static int open_survey(struct job *j, struct fault *why)
{
	const struct opening o = {
		.path = j->options.survey, .config = j->options.config, .station = &j->station,
		.sources = j->source, .n_sources = j->n_sources,
		.bands = j->bands, .n_bands = j->n_bands,
	};

	j->survey = opening_write(&o, &j->run, why);
	return j->survey ? 0 : -1;
}

/* How long the watch will take on its own clock; 0: without end. */
static int64_t work_us(const struct job *j)
{
	const struct source_about *a = &j->source[0].about;
	int64_t warm_up = a->tunable ? j->station.warm_up_us : 0;
	int64_t left = a->length_us ? a->length_us - warm_up : 0;

	return j->options.for_us && (!left || j->options.for_us < left) ? j->options.for_us : left;
}

/* Each transform length that the hops need. A replay takes what every computer has. */
static void fetch_plans(const struct job *j)
{
	for (int i = 0; i < j->hops.n && !j->source[0].about.virtual_clock; i++)
		if (i == 0 || j->hops.hops[i].bins != j->hops.hops[i - 1].bins)
			plans_fetch(&j->hops.hops[i].bins, 1);
}

/* With those who look on. */
static int keep_watch(struct job *j, struct watch *n, struct fault *why)
{
	j->challenges = challenges_create(&(struct challenge_wants){ j->bands, j->n_bands, &j->hops });
	if (!j->challenges)
		return fault_set(why, FAULT_FATAL, "no memory for challenges");
	const struct challenger asker = challenges_asker(j->challenges);
	const struct onlooker onlookers[] = { challenges_onlooker(j->challenges) };
	n->challenger = &asker;
	n->onlookers = onlookers;
	n->n_onlookers = sizeof onlookers / sizeof onlookers[0];
	return watch_run(n, why);
}

static int survey(struct job *j, struct fault *why)
{
	struct progress progress;

	if (!j->options.survey)
		return fault_set(why, FAULT_INPUT, "--survey is missing, see --help");
	if (open_sources(j, why) < 0 || plan_hops(j, why) < 0 || open_survey(j, why) < 0)
		return -1;
	fetch_plans(j);
	log_line(LOG_INFO, "survey begins: file=%s source=\"%s\" hops=%d look=%.0fms",
		 j->options.survey, j->run.source, j->hops.n, (double)j->run.dwell_us * 1e-3);
	progress_begin(&progress, work_us(j));
	struct watch n = {
		.sources = j->source, .n_sources = j->n_sources, .station = &j->station,
		.bands = j->bands, .n_bands = j->n_bands, .hops = &j->hops, .survey = j->survey,
		.run = j->run.id, .for_us = j->options.for_us, .stop = &stop, .progress = &progress,
		.limit_bytes = j->options.limit_bytes,
	};
	if (keep_watch(j, &n, why) < 0)
		return -1;
	log_line(LOG_INFO, "survey ends: file=%s%s", j->options.survey, stop ? " stopped=yes" : "");
	return 0;
}

/* One receiver to listen with, without keeping watch. */
static int listen_with(struct job *j, const char *option, struct listening_wants *on,
		       struct progress *progress, struct fault *why)
{
	const struct watch_source *s = &j->source[0];

	if (j->n_sources > 1)
		return fault_set(why, FAULT_INPUT, "--%s takes one --source at a time", option);
	if (open_sources(j, why) < 0 || plan_hops(j, why) < 0)
		return -1;
	if (!s->source || !s->about.tunable)
		return fault_set(why, FAULT_INPUT, "--%s needs a source that is there and can be tuned, "
				 "%s is not", option, j->options.source.at[0]);
	*on = (struct listening_wants){
		.ops = s->ops, .source = s->source, .about = &s->about, .hops = &j->hops,
		.look_us = j->station.dwell_us, .stop = &stop, .progress = progress,
	};
	return 0;
}

static int last_ppm(void *self, const struct run_row *row)
{
	*(double *)self = row->ppm;
	return 0;
}

/* Its own lines move with the correction: the survey's counts, if there is one yet. */
static int baseline(struct job *j, struct fault *why)
{
	struct progress progress = { 0 };
	struct baseline b = { .station = &j->station, .for_us = j->options.for_us };
	struct fault none;

	if (!j->options.survey)
		return fault_set(why, FAULT_INPUT, "--survey is missing: the file that the lines are added to");
	struct survey *old = survey_read(j->options.survey, &none);
	int read = old ? survey_each_run(old, last_ppm, &j->station.ppm, why) : 0;
	survey_close(old);
	if (read < 0 || listen_with(j, "baseline", &b.on, &progress, why) < 0 || open_survey(j, why) < 0)
		return -1;
	b.bands = j->bands;
	b.n_bands = j->n_bands;
	b.survey = j->survey;
	b.run = j->run.id;
	b.ppm = j->station.ppm;
	return baseline_run(&b, why);
}

static int calibrate(struct job *j, struct fault *why)
{
	struct progress progress = { 0 };
	struct listening_wants on;

	if (listen_with(j, "calibrate", &on, &progress, why) < 0)
		return -1;
	struct calibrate c = {
		.on = on, .station = &j->station, .bands = j->bands, .n_bands = j->n_bands,
		.for_us = j->options.for_us,
	};
	return calibrate_run(&c, why);
}

static void release(struct job *j)
{
	survey_close(j->survey);
	challenges_destroy(j->challenges);
	hop_plan_free(&j->hops);
	free(j->bands);
	for (int i = 0; i < j->n_sources; i++)
		if (j->source[i].source)
			j->source[i].ops->close(j->source[i].source);
	station_free(&j->station);
}

static int name_source_ops(struct job *j, struct fault *why)
{
	const struct options *o = &j->options;

	for (int i = 0; i < o->source.n; i++) {
		struct watch_source *s = &j->source[i];
		s->request = (struct source_request){ .rate_hz = o->rate_hz, .centre = o->centre,
						      .seed = o->seed, .start = o->start,
						      .antenna_off = o->antenna_off,
						      .truth_path = i ? NULL : o->truth };
		s->ops = source_named(o->source.at[i], &s->request.arg, why);
		if (!s->ops)
			return -1;
		if (strcmp(s->ops->name, "town") != 0 && (o->antenna_off || o->truth || o->start))
			return fault_set(why, FAULT_INPUT, "--%s is for the town alone, not for --source %s",
					 o->antenna_off ? "antenna-off" : o->truth ? "truth" : "start",
					 o->source.at[i]);
		j->n_sources++;
	}
	return 0;
}

static int work(struct job *j, struct fault *why)
{
	if (name_source_ops(j, why) < 0 || read_settings(j, why) < 0)
		return -1;
	if (j->options.calibrate)
		return calibrate(j, why);
	if (j->options.baseline)
		return baseline(j, why);
	return j->options.check ? check(j, why) : survey(j, why);
}

int main(int argc, char **argv)
{
	struct job job = { 0 };
	struct fault why = { 0 };
	int status = 0;

	if (argc > 1 && strcmp(argv[1], CAPTURE_OPTION) == 0)
		return capture_child();
	setlocale(LC_NUMERIC, "C");
	catch_signals();
	if (options_read(argc, argv, &job.options, &why) < 0)
		goto fail;
	if (job.options.help) {
		options_help();
	} else if (job.options.version) {
		puts("bandcensusd " BANDCENSUS_VERSION);
	} else if (work(&job, &why) < 0) {
		goto fail;
	}
	goto done;
fail:
	fprintf(stderr, "bandcensusd: %s\n", why.text);
	status = fault_exit(&why);
done:
	release(&job);
	return status;
}
