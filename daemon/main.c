/* bandcensusd: leaves no channel of its bands unlooked at, and keeps what it saw. */
#include <locale.h>
#include <signal.h>
#include <stdio.h>
#include <string.h>

#include "daemon/calibrate/baseline.h"
#include "daemon/calibrate/calibrate.h"
#include "daemon/dongle/capture_child.h"
#include "daemon/dongle/capture_order.h"
#include "daemon/duty.h"
#include "daemon/itinerary.h"
#include "daemon/log.h"

static volatile sig_atomic_t stop;

static void on_signal(int number)
{
	(void)number;
	stop = 1;
}

/* A terminal that is closed ends the survey in good order, but for whoever began it with nohup(1). */
static void catch_signals(void)
{
	struct sigaction act = { .sa_handler = on_signal }, usual;
	sigemptyset(&act.sa_mask);
	sigaction(SIGINT, &act, NULL);
	sigaction(SIGTERM, &act, NULL);
	if (sigaction(SIGHUP, NULL, &usual) == 0 && usual.sa_handler != SIG_IGN)
		sigaction(SIGHUP, &act, NULL);
}

/* Opens no dongle; a recording alone knows its centre, and a town what tuning costs in it. */
static int check(struct job *j, struct fault *why)
{
	struct source_about *a = &j->source[0].about;
	struct timetable table = timetable_of(j->station.hours, &j->station.days, NULL);

	if (j->source[0].ops != &source_dongle) {
		if (job_open_sources(j, why) < 0)
			return -1;
	} else {
		*a = (struct source_about){ .tunable = true, .rate_hz = j->options.rate_hz ?
			j->options.rate_hz : (int32_t)(j->station.rate_msps * 1e6 + 0.5) };
	}
	if (job_plan_hops(j, why) < 0)
		return -1;
	struct schedule_rules rules = watch_rules(&j->station, a);
	return itinerary_print(&j->station, &table, j->bands, j->n_bands, &j->hops, &rules,
			       a->tunable ? j->n_sources : 0, why);
}

/* One receiver to listen with, without keeping watch. */
static int listen_with(struct job *j, const char *option, struct listening_wants *on,
		       struct progress *progress, struct fault *why)
{
	const struct watch_source *s = &j->source[0];

	if (j->n_sources > 1)
		return fault_set(why, FAULT_INPUT, "--%s takes one --source at a time", option);
	if (job_open_sources(j, why) < 0 || job_plan_hops(j, why) < 0)
		return -1;
	if (!s->source || !s->about.tunable)
		return fault_set(why, FAULT_INPUT,
				 "--%s needs a source that is there and can be tuned, "
				 "%s is not",
				 option, j->options.source.at[0]);
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
		return fault_set(why, FAULT_INPUT,
				 "--survey is missing: the file that the lines are added to");
	struct survey *old = survey_read(j->options.survey, &none);
	int read = old ? survey_each_run(old, last_ppm, &j->station.ppm, why) : 0;
	survey_close(old);
	if (read < 0 || listen_with(j, "baseline", &b.on, &progress, why) < 0 ||
	    job_open_survey(j, j->options.survey, why) < 0)
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

/* Of what is not a survey nothing is shown. */
static int check_page(const struct options *o, struct fault *why)
{
	const char *beside = o->calibrate ? "calibrate" : o->baseline ? "baseline" : o->check ? "check" : NULL;

	return o->page && beside ? fault_set(why, FAULT_INPUT, "--page and --%s exclude each other", beside) : 0;
}

static int work(struct job *j, struct fault *why)
{
	if (check_page(&j->options, why) < 0)
		return -1;
	if (job_prepare(j, why) < 0)
		return -1;
	if (j->options.calibrate)
		return calibrate(j, why);
	if (j->options.baseline)
		return baseline(j, why);
	return j->options.check ? check(j, why) : duty(j, &stop, why);
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
	log_failure(why.text);
	status = fault_exit(&why);
done:
	job_release(&job);
	return status;
}
