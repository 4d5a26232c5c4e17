#include "daemon/sigmf.h"

#include <ctype.h>
#include <errno.h>
#include <jansson.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>

#include "store/ordinary.h"

/* A description is text beside the samples; one of this size is something else. */
#define META_MAX (16 << 20)

/* Whole numbers up to here are exact as double. */
#define WHOLE_MAX 9007199254740992.0

/* An object of the file, and how a complaint about it begins. */
struct place {
	const char   *path;
	char          name[32];
	const json_t *object;
};

/* Numbers we look at; the rows below say where they stand and what they may be. */
struct global_numbers  { double rate, channels, offset, trailing; };
struct capture_numbers { double start, header, frequency; };

struct number {
	const char *key;
	size_t      at;
	double      min, max;
	bool        whole;
	const char *unit;
};

static const struct number global_rows[] = {
	{ "core:sample_rate", offsetof(struct global_numbers, rate),
	  RECORDING_RATE_MIN, RECORDING_RATE_MAX, false, " S/s" },
	{ "core:num_channels", offsetof(struct global_numbers, channels), 1, 1, true, "" },
	{ "core:offset", offsetof(struct global_numbers, offset), 0, WHOLE_MAX, true, "" },
	{ "core:trailing_bytes", offsetof(struct global_numbers, trailing),
	  0, WHOLE_MAX, true, "" },
	{ 0 }
};

static const struct number capture_rows[] = {
	{ "core:sample_start", offsetof(struct capture_numbers, start), 0, WHOLE_MAX, true, "" },
	{ "core:header_bytes", offsetof(struct capture_numbers, header), 0, WHOLE_MAX, true, "" },
	{ "core:frequency", offsetof(struct capture_numbers, frequency), 0, 300e9, false, " Hz" },
	{ 0 }
};

/* Single-byte types have no byte order to name. */
static const struct {
	const char        *name;
	enum sample_format format;
} datatypes[] = {
	{ "cu8", SAMPLE_CU8 },
	{ "ci8", SAMPLE_CI8 },
	{ "ci16_le", SAMPLE_CI16 },
	{ "cf32_le", SAMPLE_CF32 },
};

/* Text from a file, fit for one line of ours. */
static const char *printable(char out[64], const char *text)
{
	size_t n = 0;
	for (; n < 63 && text[n]; n++)
		out[n] = (char)(text[n] >= ' ' && text[n] <= '~' ? text[n] : '?');
	out[n] = '\0';
	return out;
}

static int read_numbers(const struct place *p, const struct number *rows, void *out,
			struct fault *why)
{
	for (const struct number *r = rows; r->key; r++) {
		const json_t *v = json_object_get(p->object, r->key);
		if (!v)
			continue;
		if (!json_is_number(v))
			return fault_set(why, FAULT_INPUT, "%s: %s %s must be a number", p->path,
					 p->name, r->key);
		double x = json_number_value(v);
		if (!(x >= r->min && x <= r->max))
			return fault_set(why, FAULT_INPUT,
					 "%s: %s %s is %.10g, must be %.10g to %.10g%s", p->path,
					 p->name, r->key, x, r->min, r->max, r->unit);
		if (r->whole && x != floor(x))
			return fault_set(why, FAULT_INPUT,
					 "%s: %s %s is %.10g, must be a whole number", p->path,
					 p->name, r->key, x);
		memcpy((char *)out + r->at, &x, sizeof x);
	}
	return 0;
}

static int read_datatype(const struct place *p, struct sigmf *out, struct fault *why)
{
	char shown[64];
	const json_t *v = json_object_get(p->object, "core:datatype");

	if (!json_is_string(v))
		return fault_set(why, FAULT_INPUT,
				 "%s: global core:datatype must be there, a string", p->path);
	for (size_t i = 0; i < sizeof datatypes / sizeof datatypes[0]; i++) {
		if (strcmp(datatypes[i].name, json_string_value(v)) == 0) {
			out->format = datatypes[i].format;
			return 0;
		}
	}
	return fault_set(why, FAULT_INPUT,
			 "%s: global core:datatype is \"%s\", must be cu8, ci8, ci16_le or cf32_le",
			 p->path, printable(shown, json_string_value(v)));
}

/* The data file may be named; it stands beside its description. */
static int read_dataset(const struct place *p, struct sigmf *out, struct fault *why)
{
	const json_t *v = json_object_get(p->object, "core:dataset");
	const char *name = v ? json_string_value(v) : "";

	if (!name || strchr(name, '/') || strlen(name) >= sizeof out->dataset)
		return fault_set(why, FAULT_INPUT,
				 "%s: global core:dataset must be the name of a file beside it",
				 p->path);
	strcpy(out->dataset, name);
	return 0;
}

static int read_global(const struct place *p, struct sigmf *out, double *offset, struct fault *why)
{
	struct global_numbers n = { 0 };

	if (!json_is_object(p->object))
		return fault_set(why, FAULT_INPUT, "%s: must hold an object \"global\"", p->path);
	if (json_is_true(json_object_get(p->object, "core:metadata_only")))
		return fault_set(why, FAULT_INPUT, "%s: says that it comes without samples",
				 p->path);
	if (read_datatype(p, out, why) < 0 || read_dataset(p, out, why) < 0 ||
	    read_numbers(p, global_rows, &n, why) < 0)
		return -1;
	/* Recorders write the rate their divider gives, 1000000.026 for a million. */
	double whole = rint(n.rate);
	if (fabs(n.rate - whole) > 1e-6 * n.rate)
		return fault_set(
		    why, FAULT_INPUT,
		    "%s: global core:sample_rate is %.10g, must be within 1 ppm of whole S/s",
		    p->path, n.rate);
	out->rate_hz = (int32_t)whole;
	out->trailing_bytes = (int64_t)n.trailing;
	*offset = n.offset;
	return 0;
}

int sigmf_datetime(const char *text, int64_t *us)
{
	static const char shape[] = "dddd-dd-ddTdd:dd:dd";
	struct tm t = { 0 }, back;
	int64_t micro = 0, unit = 100000;

	for (size_t i = 0; i < sizeof shape - 1; i++)
		if (shape[i] == 'd' ? !isdigit((unsigned char)text[i]) : text[i] != shape[i])
			return -1;
	sscanf(text, "%4d-%2d-%2dT%2d:%2d:%2d", &t.tm_year, &t.tm_mon, &t.tm_mday, &t.tm_hour,
	       &t.tm_min, &t.tm_sec);
	text += sizeof shape - 1;
	if (*text == '.') {
		if (!isdigit((unsigned char)text[1]))
			return -1;
		for (text++; isdigit((unsigned char)*text); text++, unit /= 10)
			micro += (*text - '0') * unit;
	}
	if ((strcmp(text, "Z") != 0 && strcmp(text, "+00:00") != 0) || t.tm_year < 1970 ||
	    t.tm_year > 2199)
		return -1;
	t.tm_year -= 1900;
	t.tm_mon -= 1;
	struct tm given = t;
	time_t s = timegm(&t);
	/* timegm mends a 31st of February silently; coming back shows it. */
	gmtime_r(&s, &back);
	if (back.tm_mon != given.tm_mon || back.tm_mday != given.tm_mday ||
	    back.tm_hour != given.tm_hour || back.tm_min != given.tm_min ||
	    back.tm_sec != given.tm_sec)
		return -1;
	*us = (int64_t)s * 1000000 + micro;
	return 0;
}

/* *known tells whether the capture has a time at all. */
static int read_datetime(const struct place *p, int64_t *us, bool *known, struct fault *why)
{
	char shown[64];
	const json_t *v = json_object_get(p->object, "core:datetime");

	*known = v != NULL;
	if (!v)
		return 0;
	if (!json_is_string(v))
		return fault_set(why, FAULT_INPUT, "%s: %s core:datetime must be a string", p->path,
				 p->name);
	if (sigmf_datetime(json_string_value(v), us) < 0)
		return fault_set(
		    why, FAULT_INPUT,
		    "%s: %s core:datetime is \"%s\", must be like 2024-05-06T07:08:09.5Z", p->path,
		    p->name, printable(shown, json_string_value(v)));
	return 0;
}

struct capture {
	struct capture_numbers n;
	int64_t start_us;
	bool    timed;
};

static int read_capture(const char *path, const json_t *list, size_t i, struct capture *out,
			struct fault *why)
{
	struct place p = { .path = path, .object = json_array_get(list, i) };

	snprintf(p.name, sizeof p.name, "captures[%zu]", i);
	if (!json_is_object(p.object))
		return fault_set(why, FAULT_INPUT, "%s: %s must be an object", path, p.name);
	if (read_numbers(&p, capture_rows, &out->n, why) < 0)
		return -1;
	return read_datetime(&p, &out->start_us, &out->timed, why);
}

/* A later capture may only go on where the first one is. */
static int check_later(const char *path, size_t i, const struct capture *first, double last_start,
		       const struct capture *c, double rate_hz, struct fault *why)
{
	if (c->n.start < last_start)
		return fault_set(why, FAULT_INPUT,
				 "%s: captures[%zu] core:sample_start is %.16g, must ascend", path,
				 i, c->n.start);
	if (c->n.frequency != first->n.frequency)
		return fault_set(
		    why, FAULT_INPUT,
		    "%s: captures[%zu] core:frequency is %.10g after %.10g Hz, a recording that is "
		    "retuned is not read: cut it up at sample %.16g",
		    path, i, c->n.frequency, first->n.frequency, c->n.start);
	if (c->n.header != 0)
		return fault_set(
		    why, FAULT_INPUT,
		    "%s: captures[%zu] core:header_bytes is %.16g, must be 0 after the first", path,
		    i, c->n.header);
	if (!first->timed || !c->timed || rate_hz <= 0)
		return 0;
	double said_s = (double)(c->start_us - first->start_us) / 1e6;
	double counted_s = (c->n.start - first->n.start) / rate_hz;
	/* A second, since many recorders write whole seconds. */
	if (fabs(said_s - counted_s) > 1.0)
		return fault_set(why, FAULT_INPUT,
				 "%s: captures[%zu] begins %.3f s after the first by "
				 "core:datetime, %.3f s by its samples, a recording with a pause "
				 "is not read: cut it up",
				 path, i, said_s, counted_s);
	return 0;
}

static int read_captures(const char *path, const json_t *list, double offset, struct sigmf *out,
			 struct fault *why)
{
	struct capture first = { { .start = offset }, 0, false };
	double last_start;

	if (!json_is_array(list))
		return fault_set(why, FAULT_INPUT, "%s: must hold a list \"captures\"", path);
	if (json_array_size(list) > 0 && read_capture(path, list, 0, &first, why) < 0)
		return -1;
	if (first.n.start < offset)
		return fault_set(why, FAULT_INPUT,
				 "%s: captures[0] core:sample_start is %.16g, must not be below "
				 "core:offset %.16g",
				 path, first.n.start, offset);
	last_start = first.n.start;
	for (size_t i = 1; i < json_array_size(list); i++) {
		struct capture c = { { .frequency = first.n.frequency }, 0, false };
		if (read_capture(path, list, i, &c, why) < 0 ||
		    check_later(path, i, &first, last_start, &c, out->rate_hz, why) < 0)
			return -1;
		last_start = c.n.start;
	}
	out->first_sample = (int64_t)(first.n.start - offset);
	out->last_capture = (int64_t)(last_start - offset);
	out->header_bytes = (int64_t)first.n.header;
	out->centre = freq_from_hz(first.n.frequency);
	out->start_us = first.start_us;
	return 0;
}

int sigmf_parse(const char *path, const char *text, size_t n, struct sigmf *out, struct fault *why)
{
	struct place global = { .path = path, .name = "global" };
	char shown[64];
	json_error_t e;
	double offset = 0;
	int result = -1;

	memset(out, 0, sizeof *out);
	json_t *root = json_loadb(text, n, JSON_REJECT_DUPLICATES, &e);
	if (!root)
		return fault_set(why, FAULT_INPUT, "%s:%d: is not JSON: %s", path,
				 e.line > 0 ? e.line : 1, printable(shown, e.text));
	global.object = json_object_get(root, "global");
	if (read_global(&global, out, &offset, why) < 0)
		goto out;
	result = read_captures(path, json_object_get(root, "captures"), offset, out, why);
out:
	json_decref(root);
	return result;
}

int sigmf_read(const char *path, struct sigmf *out, struct fault *why)
{
	int result = -1;
	int64_t length;
	FILE *f = ordinary_stream(path, &length, why);
	char *text = NULL;
	size_t n;

	if (!f)
		return -1;
	if (length > META_MAX) {
		fault_set(why, FAULT_INPUT, "%s: is longer than %d bytes, is this the metadata", path, META_MAX);
		goto out;
	}
	text = malloc((size_t)length + 1);
	if (!text) {
		fault_set(why, FAULT_RETRY, "%s: no memory to read it", path);
		goto out;
	}
	n = fread(text, 1, (size_t)length, f);
	if (ferror(f)) {
		fault_set(why, FAULT_INPUT, "%s: %s", path, strerror(errno));
		goto out;
	}
	result = sigmf_parse(path, text, n, out, why);
out:
	free(text);
	fclose(f);
	return result;
}
