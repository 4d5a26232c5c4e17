#include "daemon/source.h"

#include <errno.h>
#include <limits.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#include "daemon/sigmf.h"
#include "store/ordinary.h"

/* Full scale of float samples is 1; a file may be scaled otherwise, but squares
 * of more than this over a transform would leave the range of float. */
#define FLOAT_MAX_SAMPLE 1e9f

struct recording {
	int          fd;
	char         path[PATH_MAX];    /* of the samples                             */
	struct sigmf is;
	int64_t      n;                 /* I/Q pairs from first_sample to the end     */
	int64_t      at;                /* the next one to be read, from first_sample */
	void        *buffer;
	size_t       room;              /* I/Q pairs                                  */
};

static bool ends_with(const char *text, const char *end)
{
	size_t n = strlen(text), m = strlen(end);
	return n >= m && strcmp(text + n - m, end) == 0;
}

static bool exists(const char *path)
{
	struct stat st;
	return stat(path, &st) == 0;
}

/* Builds the name of the description when arg names a SigMF recording by either
 * file or by their common stem: 1; a raw recording: 0; -1 with why. */
static int find_meta(const char *arg, char meta[PATH_MAX], struct fault *why)
{
	bool by_meta = ends_with(arg, ".sigmf-meta"), by_data = ends_with(arg, ".sigmf-data");
	size_t stem = strlen(arg) - (by_meta || by_data ? strlen(".sigmf-meta") : 0);

	if (!*arg)
		return fault_set(why, FAULT_INPUT,
				 "source recording names no file, give recording:FILE");
	if (stem + sizeof ".sigmf-meta" > PATH_MAX)
		return fault_set(why, FAULT_INPUT, "source recording: %s", strerror(ENAMETOOLONG));
	snprintf(meta, PATH_MAX, "%.*s.sigmf-meta", (int)stem, arg);
	if (by_meta || by_data)
		return 1;
	if (ends_with(arg, ".sigmf"))
		return fault_set(why, FAULT_INPUT,
				 "%s: is a SigMF archive, unpack it with tar first", arg);
	return !exists(arg) && exists(meta);
}

/* The samples of the description at meta. */
static int data_path(struct recording *r, const char *meta, struct fault *why)
{
	size_t stem = strlen(meta) - strlen(".sigmf-meta");
	const char *slash = strrchr(meta, '/');
	int folder = slash ? (int)(slash - meta) + 1 : 0;
	int n = r->is.dataset[0]
		? snprintf(r->path, sizeof r->path, "%.*s%s", folder, meta, r->is.dataset)
		: snprintf(r->path, sizeof r->path, "%.*s.sigmf-data", (int)stem, meta);

	return n < (int)sizeof r->path ? 0
		: fault_set(why, FAULT_INPUT, "%s: %s", meta, strerror(ENAMETOOLONG));
}

/* Fills what the description lacks from the request; both may not differ. */
static int settle(struct recording *r, const char *said_by, const struct source_request *q,
		  struct fault *why)
{
	char is[FREQ_TEXT], asked[FREQ_TEXT];

	if (r->is.rate_hz && q->rate_hz && r->is.rate_hz != q->rate_hz)
		return fault_set(why, FAULT_INPUT,
				 "%s: says %d S/s but --rate is %d, leave --rate out", said_by,
				 r->is.rate_hz, q->rate_hz);
	if (r->is.centre.thirds && q->centre.thirds && r->is.centre.thirds != q->centre.thirds)
		return fault_set(
		    why, FAULT_INPUT, "%s: says %s MHz but --centre is %s MHz, leave --centre out",
		    said_by, freq_format_mhz(is, r->is.centre), freq_format_mhz(asked, q->centre));
	if (!r->is.rate_hz)
		r->is.rate_hz = q->rate_hz;
	if (!r->is.centre.thirds)
		r->is.centre = q->centre;
	return 0;
}

static int check_settled(const struct recording *r, const char *said_by, bool raw,
			 struct fault *why)
{
	const char *what = raw ? "a raw recording has" : "it names";

	if (r->is.rate_hz == 0)
		return fault_set(why, FAULT_INPUT, "%s: %s no rate of its own, give --rate HZ",
				 said_by, what);
	if (r->is.centre.thirds == 0)
		return fault_set(why, FAULT_INPUT, "%s: %s no centre of its own, give --centre HZ",
				 said_by, what);
	if (r->is.rate_hz < RECORDING_RATE_MIN || r->is.rate_hz > RECORDING_RATE_MAX)
		return fault_set(why, FAULT_INPUT, "%s: rate is %d S/s, must be %d to %d", said_by,
				 r->is.rate_hz, RECORDING_RATE_MIN, RECORDING_RATE_MAX);
	if (r->is.centre.thirds < 0)
		return fault_set(why, FAULT_INPUT, "%s: centre is below 0 Hz", said_by);
	return 0;
}

/* Opens the samples and sees that there are as many as said. */
static int open_samples(struct recording *r, struct fault *why)
{
	int64_t each = (int64_t)sample_bytes(r->is.format), all, bytes;

	r->fd = ordinary_open(r->path, &all, why);
	if (r->fd < 0)
		return -1;
	if (r->is.header_bytes + r->is.trailing_bytes > all)
		return fault_set(why, FAULT_INPUT,
				 "%s: has %lld bytes, fewer than its %lld of header and trailer",
				 r->path, (long long)all,
				 (long long)r->is.header_bytes + r->is.trailing_bytes);
	bytes = all - r->is.header_bytes - r->is.trailing_bytes;
	if (bytes % each != 0)
		return fault_set(why, FAULT_INPUT,
				 "%s: ends in the middle of a sample, %lld bytes after the last "
				 "whole one of %lld",
				 r->path, (long long)(bytes % each), (long long)each);
	r->n = bytes / each - r->is.first_sample;
	if (bytes == 0)
		return fault_set(why, FAULT_INPUT, "%s: holds no samples", r->path);
	if (bytes / each <= r->is.last_capture)
		return fault_set(
			why, FAULT_INPUT,
			"%s: has %lld samples, but a capture begins at sample %lld, it was "
			"cut short",
			r->path, (long long)(bytes / each), (long long)r->is.last_capture);
	return 0;
}

static void recording_close(void *self)
{
	struct recording *r = self;

	if (!r)
		return;
	if (r->fd >= 0)
		close(r->fd);
	free(r->buffer);
	free(r);
}

static void *recording_open(const struct source_request *request, struct fault *why)
{
	char meta[PATH_MAX];
	int described = find_meta(request->arg, meta, why);
	const char *said_by = described ? meta : request->arg;
	struct recording *r = NULL;

	if (described < 0)
		return NULL;
	r = calloc(1, sizeof *r);
	if (!r) {
		fault_set(why, FAULT_RETRY, "%s: no memory to read it", request->arg);
		return NULL;
	}
	r->fd = -1;
	snprintf(r->path, sizeof r->path, "%s", request->arg);
	if (described && (sigmf_read(meta, &r->is, why) < 0 || data_path(r, meta, why) < 0))
		goto fail;
	if (settle(r, said_by, request, why) < 0 ||
	    check_settled(r, said_by, !described, why) < 0 || open_samples(r, why) < 0)
		goto fail;
	return r;
fail:
	recording_close(r);
	return NULL;
}

/* Of that many samples, rounded down; exact for any length, nothing drifts. */
static int64_t samples_us(int64_t n, int32_t rate_hz)
{
	return n / rate_hz * 1000000 + n % rate_hz * 1000000 / rate_hz;
}

static void recording_about(void *self, struct source_about *out)
{
	const struct recording *r = self;
	const char *slash = strrchr(r->path, '/');

	memset(out, 0, sizeof *out);
	snprintf(out->label, sizeof out->label, "recording %.100s", slash ? slash + 1 : r->path);
	out->rate_hz = r->is.rate_hz;
	out->centre = r->is.centre;
	out->start_us = r->is.start_us;
	out->length_us = samples_us(r->n, r->is.rate_hz);
	out->virtual_clock = true;
}

/* Gain and ppm belong to the receiver that made it: nothing to set here. */
static int recording_tune(void *self, const struct tuning *to, struct fault *why)
{
	const struct recording *r = self;
	char is[FREQ_TEXT], asked[FREQ_TEXT];

	if (to->centre.thirds == r->is.centre.thirds && to->rate_hz == r->is.rate_hz)
		return 0;
	return fault_set(why, FAULT_INPUT,
			 "%s: is of %s MHz at %d S/s, can't be tuned to %s MHz at %d S/s", r->path,
			 freq_format_mhz(is, r->is.centre), r->is.rate_hz,
			 freq_format_mhz(asked, to->centre), to->rate_hz);
}

static int make_room(struct recording *r, size_t n, struct fault *why)
{
	if (n <= r->room)
		return 0;
	void *more = realloc(r->buffer, n * sample_bytes(r->is.format));
	if (!more)
		return fault_set(why, FAULT_RETRY, "%s: no memory for %zu samples", r->path, n);
	r->buffer = more;
	r->room = n;
	return 0;
}

static int fetch(struct recording *r, size_t n, struct fault *why)
{
	size_t each = sample_bytes(r->is.format), want = n * each, have = 0;
	off_t from = r->is.header_bytes + (r->is.first_sample + r->at) * (int64_t)each;

	while (have < want) {
		ssize_t got =
		    pread(r->fd, (char *)r->buffer + have, want - have, from + (off_t)have);
		if (got < 0 && errno == EINTR)
			continue;
		if (got < 0)
			return fault_set(why, FAULT_FATAL, "%s: %s", r->path, strerror(errno));
		if (got == 0)
			return fault_set(why, FAULT_FATAL, "%s: became shorter while it was read",
					 r->path);
		have += (size_t)got;
	}
	return 0;
}

static int check_floats(const struct recording *r, size_t n, struct fault *why)
{
	const float *p = r->buffer;

	if (r->is.format != SAMPLE_CF32)
		return 0;
	for (size_t i = 0; i < 2 * n; i++)
		if (!(fabsf(p[i]) <= FLOAT_MAX_SAMPLE))
			return fault_set(
			    why, FAULT_INPUT, "%s: sample %lld is %g, must be a number within %g",
			    r->path, (long long)r->is.first_sample + r->at + (int64_t)(i / 2),
			    (double)p[i], (double)FLOAT_MAX_SAMPLE);
	return 0;
}

static int recording_read(void *self, size_t n, struct block *out, struct fault *why)
{
	struct recording *r = self;
	int64_t since_us = samples_us(r->at, r->is.rate_hz);

	if (r->at >= r->n)
		return SOURCE_END;
	if ((int64_t)n > r->n - r->at)
		n = (size_t)(r->n - r->at);
	if (make_room(r, n, why) < 0 || fetch(r, n, why) < 0 || check_floats(r, n, why) < 0)
		return SOURCE_FAULT;
	*out = (struct block){
		.iq = r->buffer, .format = r->is.format, .n = n, .rate_hz = r->is.rate_hz,
		.centre = r->is.centre, .start_us = r->is.start_us + since_us,
		.mono_us = r->is.start_us + since_us,
	};
	r->at += (int64_t)n;
	return SOURCE_BLOCK;
}

/* A recording is as long as it is: passing over part of it would hide air that
 * was recorded. */
static void recording_rest(void *self, int64_t us)
{
	(void)self;
	(void)us;
}

static int recording_restart(void *self, struct fault *why)
{
	struct recording *r = self;
	(void)why;
	r->at = 0;
	return 0;
}

const struct source_ops source_recording = {
	.name = "recording",
	.open = recording_open,
	.about = recording_about,
	.tune = recording_tune,
	.read = recording_read,
	.rest = recording_rest,
	.restart = recording_restart,
	.close = recording_close,
};
