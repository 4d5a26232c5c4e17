/* bandcensusd: leaves no channel of its bands unlooked at, and keeps what it saw. */
#include <locale.h>
#include <math.h>
#include <signal.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "daemon/itinerary.h"
#include "daemon/log.h"
#include "daemon/watch.h"
#include "daemon/options.h"

#define STEP_DEFAULT FREQ_HZ(12500)
#define RATE_DEFAULT 2400000

static volatile sig_atomic_t stop;

static void on_signal(int number)
{
	(void)number;
	stop = 1;
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
	const struct source_ops *ops;
	const char              *arg;
	void                    *source;
	struct source_about      about;
	struct band             *bands;
	int                      n_bands;
	struct hop_plan          hops;
	struct survey           *survey;
	struct run_row           run;
};

/* A recording without settings: its whole usable width on one raster. */
static int recording_band(struct job *j, struct fault *why)
{
	struct freq step = j->options.step.thirds ? j->options.step : STEP_DEFAULT;
	int64_t half = (int64_t)(j->about.rate_hz * HOP_USABLE * 1.5) - step.thirds / 2;
	struct band b = { .id = "recording", .name = "whole recording", .service = "unknown" };

	b.raster = raster_between((struct freq){ j->about.centre.thirds - half },
				  (struct freq){ j->about.centre.thirds + half }, FREQ_HZ(0), step);
	if (half <= 0 || b.raster.count == 0)
		return fault_set(why, FAULT_INPUT, "--step %.0f Hz leaves no channel in a recording of "
				 "%d Hz, must be well below it", freq_to_hz(step), j->about.rate_hz);
	b.mode = step.thirds >= FREQ_HZ(100000).thirds ? MODE_WFM : MODE_NFM;
	/* Emissions as wide as their step leaves them, but voice is 11 kHz on fine ones. */
	b.width_hz = (int32_t)fmax(0.88 * freq_to_hz(step), fmin(11000, 0.2 * j->about.rate_hz));
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
	if (strcmp(j->ops->name, "recording") != 0)
		return fault_set(why, FAULT_INPUT, "--config is missing: without it only a recording can "
				 "be surveyed");
	return 0;
}

static int open_source(struct job *j, struct fault *why)
{
	struct source_request request = {
		.arg = j->arg, .rate_hz = j->options.rate_hz, .centre = j->options.centre,
		.seed = j->options.seed, .truth_path = j->options.truth,
	};

	if (!request.rate_hz && strcmp(j->ops->name, "recording") != 0)
		request.rate_hz = (int32_t)(j->station.rate_msps * 1e6 + 0.5);
	j->source = j->ops->open(&request, why);
	if (!j->source)
		return -1;
	j->ops->about(j->source, &j->about);
	if (!j->about.rate_hz)
		j->about.rate_hz = request.rate_hz;
	return j->bands ? 0 : recording_band(j, why);
}

static int plan_hops(struct job *j, struct fault *why)
{
	int made = j->about.tunable ?
		hop_plan_sweep(&j->hops, j->bands, j->n_bands, j->about.rate_hz) :
		hop_plan_fixed(&j->hops, j->bands, j->n_bands, j->about.rate_hz, j->about.centre);

	if (made < 0)
		return fault_set(why, FAULT_INPUT, "a channel is wider than what %d S/s can show at once",
				 j->about.rate_hz);
	if (j->hops.n == 0)
		return fault_set(why, FAULT_INPUT, "no channel of the band plan lies inside the source's "
				 "%.3f MHz +- %.3f MHz", freq_to_hz(j->about.centre) * 1e-6,
				 j->about.rate_hz * HOP_USABLE / 2e6);
	return 0;
}

static int check(struct job *j, struct fault *why)
{
	if (strcmp(j->ops->name, "recording") == 0) {
		if (open_source(j, why) < 0)
			return -1;
	} else {
		j->about = (struct source_about){ .tunable = true, .rate_hz = j->options.rate_hz ?
			j->options.rate_hz : (int32_t)(j->station.rate_msps * 1e6 + 0.5) };
	}
	if (plan_hops(j, why) < 0)
		return -1;
	itinerary_print(&j->station, j->bands, j->n_bands, &j->hops, watch_look_us(&j->station, &j->about), j->about.tunable);
	return 0;
}

static int open_survey(struct job *j, struct fault *why)
{
	struct run_row *r = &j->run;

	*r = (struct run_row){
		.start_us = j->about.start_us, .rate_hz = j->about.rate_hz,
		.gain_ddb = (int32_t)lround(j->station.gain_db * 10), .ppm = j->station.ppm,
		.dwell_us = watch_look_us(&j->station, &j->about), .pfa = j->station.false_alarm,
		.margin_db = j->station.margin_db,
	};
	snprintf(r->station, sizeof r->station, "%s", j->station.name);
	snprintf(r->source, sizeof r->source, "%s", j->about.label);
	snprintf(r->version, sizeof r->version, "%s", BANDCENSUS_VERSION);
	j->survey = survey_write(j->options.survey, r, j->bands, j->n_bands, why);
	return j->survey ? 0 : -1;
}

/* How long the watch will take on its own clock; 0: without end. */
static int64_t work_us(const struct job *j)
{
	int64_t warm_up = j->about.tunable ? j->station.warm_up_us : 0;
	int64_t left = j->about.length_us ? j->about.length_us - warm_up : 0;

	return j->options.for_us && (!left || j->options.for_us < left) ? j->options.for_us : left;
}

static int survey(struct job *j, struct fault *why)
{
	struct progress progress;

	if (!j->options.survey)
		return fault_set(why, FAULT_INPUT, "--survey is missing, see --help");
	if (open_source(j, why) < 0 || plan_hops(j, why) < 0 || open_survey(j, why) < 0)
		return -1;
	log_line(LOG_INFO, "survey begins: file=%s source=\"%s\" hops=%d look=%.0fms",
		 j->options.survey, j->about.label, j->hops.n, (double)watch_look_us(&j->station, &j->about) * 1e-3);
	progress_begin(&progress, work_us(j));
	struct watch n = {
		.ops = j->ops, .source = j->source, .about = &j->about, .station = &j->station,
		.bands = j->bands, .n_bands = j->n_bands, .hops = &j->hops, .survey = j->survey,
		.run = j->run.id, .for_us = j->options.for_us, .stop = &stop, .progress = &progress,
	};
	if (watch_run(&n, why) < 0)
		return -1;
	log_line(LOG_INFO, "survey ends: file=%s%s", j->options.survey, stop ? " stopped=yes" : "");
	return 0;
}

static void release(struct job *j)
{
	survey_close(j->survey);
	hop_plan_free(&j->hops);
	free(j->bands);
	if (j->source)
		j->ops->close(j->source);
	station_free(&j->station);
}

static int work(struct job *j, struct fault *why)
{
	j->ops = source_named(j->options.source, &j->arg, why);
	if (!j->ops || read_settings(j, why) < 0)
		return -1;
	return j->options.check ? check(j, why) : survey(j, why);
}

int main(int argc, char **argv)
{
	struct job job = { 0 };
	struct fault why = { 0 };
	int status = 0;

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
