#include "daemon/job.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>

#include "daemon/log.h"
#include "daemon/opening.h"

#define STEP_DEFAULT FREQ_HZ(12500)
#define RATE_DEFAULT 2400000

static int64_t now_us(void)
{
	struct timespec now;

	clock_gettime(CLOCK_REALTIME, &now);
	return (int64_t)now.tv_sec * 1000000 + now.tv_nsec / 1000;
}

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
		return fault_set(why, FAULT_INPUT,
				 "--step %.0f Hz leaves no channel in a recording of "
				 "%d Hz, must be well below it",
				 freq_to_hz(step), about->rate_hz);
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
		return fault_set(why, FAULT_INPUT,
				 "--config is missing: without it only a recording can "
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
			return fault_set(why, FAULT_INPUT,
					 "--source %s can't be surveyed beside another, "
					 "give it alone",
					 j->options.source.at[i]);
		if (a->virtual_clock != b->virtual_clock)
			return fault_set(why, FAULT_INPUT,
					 "--source %s keeps another time than %s, give "
					 "them to two surveys",
					 j->options.source.at[i], j->options.source.at[0]);
	}
	return 0;
}

int job_open_sources(struct job *j, struct fault *why)
{
	for (int i = 0; i < j->n_sources; i++)
		if (open_source(j, &j->source[i], j->options.source.at[i], why) < 0)
			return -1;
	if (check_together(j, why) < 0)
		return -1;
	return j->bands ? 0 : recording_band(j, why);
}

int job_plan_hops(struct job *j, struct fault *why)
{
	const struct source_about *a = &j->source[0].about;
	int made = a->tunable ? hop_plan_sweep(&j->hops, j->bands, j->n_bands, a->rate_hz) :
		hop_plan_fixed(&j->hops, j->bands, j->n_bands, a->rate_hz, a->centre);

	if (made < 0)
		return fault_set(why, FAULT_INPUT,
				 "a channel is wider than what %d S/s can show at once",
				 a->rate_hz);
	if (j->hops.n == 0)
		return fault_set(why, FAULT_INPUT,
				 "no channel of the band plan lies inside the source's "
				 "%.3f MHz +- %.3f MHz",
				 freq_to_hz(a->centre) * 1e-6, a->rate_hz * HOP_USABLE / 2e6);
	return 0;
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
			return fault_set(why, FAULT_INPUT,
					 "--%s is for the town alone, not for --source %s",
					 o->antenna_off ? "antenna-off" :
					 o->truth	? "truth" :
							  "start",
					 o->source.at[i]);
		j->n_sources++;
	}
	return 0;
}

int job_prepare(struct job *j, struct fault *why)
{
	return name_source_ops(j, why) < 0 ? -1 : read_settings(j, why);
}

int job_open_survey(struct job *j, const char *path, struct fault *why)
{
	const struct opening o = {
		.path = path, .config = j->options.config, .station = &j->station,
		.sources = j->source, .n_sources = j->n_sources,
		.bands = j->bands, .n_bands = j->n_bands,
	};

	j->survey = opening_write(&o, &j->run, why);
	return j->survey ? 0 : -1;
}

void job_close(struct job *j)
{
	survey_close(j->survey);
	j->survey = NULL;
	hop_plan_free(&j->hops);
	j->hops = (struct hop_plan){ 0 };
	for (int i = 0; i < j->n_sources; i++) {
		if (j->source[i].source)
			j->source[i].ops->close(j->source[i].source);
		j->source[i].source = NULL;
	}
}

void job_release(struct job *j)
{
	job_close(j);
	free(j->bands);
	station_free(&j->station);
}
