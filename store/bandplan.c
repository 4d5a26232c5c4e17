#include "store/bandplan.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "store/settings.h"

/* ---- the file ---- */

/* What an interest may be called; the same words in receivers' and interests' files. */
static const char *const services[] = {
	"fire", "ems", "police", "rescue", "public-safety", "works", "business", "mixed",
	"amateur", "air", "military-air", "marine", "rail", "weather", "personal", "trunked",
	"paging", "telemetry", "beacon", "broadcast", NULL
};

/* In the order of enum mode. */
static const char *const modes[] = { "none", "AM", "NFM", "WFM", NULL };

static const char *const kinds[] = { "bands", NULL };

/* Widest span a dongle's tuner could land on. */
#define LOWEST_HZ  100e3
#define HIGHEST_HZ 6e9

/* 45 MHz is the widest in use (common practice). */
#define SPLIT_MOST_HZ 100e6

struct band_line {
	char        id[24], name[64], service[24];
	struct freq low, high, base, step;
	int         mode;
	struct freq width;
	struct freqs split;
};

#define AT(of, member) .at = offsetof(struct of, member), .size = sizeof ((struct of *)0)->member

static const struct field band_fields[] = {
	{ .name = "id", .type = FIELD_TEXT, AT(band_line, id), .help = "Short name, used once." },
	{ .name = "name", .type = FIELD_TEXT, AT(band_line, name), .help = "Name for people." },
	{ .name = "service",
	  .type = FIELD_TEXT,
	  AT(band_line, service),
	  .choices = services,
	  .help = "Who is expected there; interests and banks go by it." },
	{ .name = "low",
	  .type = FIELD_FREQ,
	  AT(band_line, low),
	  .min = LOWEST_HZ,
	  .max = HIGHEST_HZ,
	  .help = "No channel centre below this." },
	{ .name = "high",
	  .type = FIELD_FREQ,
	  AT(band_line, high),
	  .min = LOWEST_HZ,
	  .max = HIGHEST_HZ,
	  .help = "No channel centre above this." },
	{ .name = "base",
	  .type = FIELD_FREQ,
	  AT(band_line, base),
	  .max = HIGHEST_HZ,
	  .preset = "0 Hz",
	  .help = "Any centre of the raster, also outside; the low end unless set." },
	{ .name = "step",
	  .type = FIELD_FREQ,
	  AT(band_line, step),
	  .min = 1e3,
	  .max = 1e6,
	  .help = "From one channel centre to the next." },
	{ .name = "mode",
	  .type = FIELD_CHOICE,
	  AT(band_line, mode),
	  .choices = modes,
	  .help = "What a receiver would be set to." },
	{ .name = "width",
	  .type = FIELD_FREQ,
	  AT(band_line, width),
	  .min = 100,
	  .max = 1e6,
	  .help = "Occupied width of its usual emission." },
	{ .name = "split",
	  .type = FIELD_FREQS,
	  AT(band_line, split),
	  .min = -SPLIT_MOST_HZ,
	  .max = SPLIT_MOST_HZ,
	  .preset = "",
	  .help = "From an output in it to its input, or from the shore to the ships; below is negative." },
	{ 0 }
};

static const struct field never_fields[] = {
	{ .name = "low", .type = FIELD_FREQ, AT(stretch, low), .max = HIGHEST_HZ,
	  .help = "Lower edge." },
	{ .name = "high", .type = FIELD_FREQ, AT(stretch, high), .max = HIGHEST_HZ,
	  .help = "Upper edge." },
	{ .name = "why", .type = FIELD_TEXT, AT(stretch, why), .help = "Reason, for people." },
	{ 0 }
};

struct plan_file {
	char        kind[16], name[64];
	struct rows bands, never;
};

const struct field bandplan_fields[] = {
	{ .name = "kind", .type = FIELD_TEXT, AT(plan_file, kind), .choices = kinds,
	  .help = "What this file is: bands." },
	{ .name = "name", .type = FIELD_TEXT, AT(plan_file, name), .help = "Name of the plan." },
	{ .name = "bands", .type = FIELD_ROWS, .at = offsetof(struct plan_file, bands),
	  .size = sizeof(struct band_line), .rows_of = band_fields, .help = "Bands to survey." },
	{ .name = "never", .type = FIELD_ROWS, .at = offsetof(struct plan_file, never),
	  .size = sizeof(struct stretch), .rows_of = never_fields, .preset = "",
	  .help = "Never surveyed or proposed." },
	{ 0 }
};

/* ---- what it says ---- */

/* A channel that a scanning receiver might open on is as wide as its emission, so
 * a band that comes this near a "never" would hear into it. */
static struct freq half_width(const struct band *b)
{
	return (struct freq){ INT64_C(3) * b->width_hz / 2 };
}

static struct freq heard_low(const struct band *b)
{
	return (struct freq){ b->raster.first.thirds - half_width(b).thirds };
}

static struct freq heard_high(const struct band *b)
{
	return (struct freq){ raster_last(&b->raster).thirds + half_width(b).thirds };
}

static int make_splits(const struct plan_file *file, int row, struct band *out, struct fault *why)
{
	const struct band_line *line = (const struct band_line *)file->bands.at + row;

	if (line->split.n > BAND_SPLITS)
		return fault_set(why, FAULT_INPUT,
				 "%s:%d: split of %s has %d of them, must be at most %d",
				 file->bands.file[row], file->bands.line[row], line->id,
				 line->split.n, BAND_SPLITS);
	for (int i = 0; i < line->split.n; i++) {
		if (line->split.at[i].thirds == 0)
			return fault_set(why, FAULT_INPUT,
					 "%s:%d: split of %s is 0, must lead to another "
					 "channel",
					 file->bands.file[row], file->bands.line[row], line->id);
		out->split[i] = line->split.at[i];
	}
	return 0;
}

static int make_band(const struct plan_file *file, int row, struct band *out, struct fault *why)
{
	const struct band_line *line = (const struct band_line *)file->bands.at + row;
	struct freq base = line->base.thirds ? line->base : line->low;
	char low[FREQ_TEXT], high[FREQ_TEXT];

	if (!line->id[0])
		return fault_set(why, FAULT_INPUT, "%s:%d: id is empty, must be a short name",
				 file->bands.file[row], file->bands.line[row]);
	freq_format_mhz(low, line->low);
	freq_format_mhz(high, line->high);
	if (line->low.thirds > line->high.thirds)
		return fault_set(why, FAULT_INPUT,
				 "%s:%d: low of %s is %s MHz, must be at most its high, "
				 "%s MHz",
				 file->bands.file[row], file->bands.line[row], line->id, low, high);
	*out = (struct band){
		.raster = raster_between(line->low, line->high, base, line->step),
		.mode = (enum mode)line->mode,
		.width_hz = (int32_t)(line->width.thirds / 3),
	};
	memcpy(out->id, line->id, sizeof out->id);
	memcpy(out->name, line->name, sizeof out->name);
	memcpy(out->service, line->service, sizeof out->service);
	if (out->raster.count < 1)
		return fault_set(why, FAULT_INPUT,
				 "%s:%d: %s has no channel from %s to %s MHz, move low, "
				 "high or base",
				 file->bands.file[row], file->bands.line[row], line->id, low, high);
	if (out->raster.count > RASTER_MOST)
		return fault_set(why, FAULT_INPUT,
				 "%s:%d: %s has %d channels, must be at most %d: a wider step",
				 file->bands.file[row], file->bands.line[row], line->id,
				 out->raster.count, RASTER_MOST);
	return make_splits(file, row, out, why);
}

static int check_pair(const struct plan_file *file, const struct band *bands, int i, int j,
		      struct fault *why)
{
	const struct band *a = &bands[i], *b = &bands[j];
	const char *said = strcmp(a->id, b->id) == 0 ? "has the id of" :
		a->raster.first.thirds <= raster_last(&b->raster).thirds &&
		b->raster.first.thirds <= raster_last(&a->raster).thirds ? "overlaps" : NULL;

	if (!said)
		return 0;
	return fault_set(why, FAULT_INPUT, "%s:%d: band %s %s band %s of %s:%d, must not",
			 file->bands.file[j], file->bands.line[j], b->id, said, a->id,
			 file->bands.file[i], file->bands.line[i]);
}

static int check_never(const struct plan_file *file, const struct band *bands, int i, int row,
		       struct fault *why)
{
	const struct stretch *never = (const struct stretch *)file->never.at + row;

	if (heard_high(&bands[i]).thirds < never->low.thirds ||
	    heard_low(&bands[i]).thirds > never->high.thirds)
		return 0;
	return fault_set(why, FAULT_INPUT, "%s:%d: band %s touches what must never be surveyed, "
			 "\"%s\" of %s:%d", file->bands.file[i], file->bands.line[i], bands[i].id,
			 never->why, file->never.file[row], file->never.line[row]);
}

/* In the order of the file, so that the first thing wrong is the first one told. */
static int check_all(const struct plan_file *file, const struct band *bands, struct fault *why)
{
	for (int row = 0; row < file->never.n; row++) {
		const struct stretch *never = (const struct stretch *)file->never.at + row;
		if (never->low.thirds > never->high.thirds)
			return fault_set(why, FAULT_INPUT,
					 "%s:%d: low is above high, must be at most it",
					 file->never.file[row], file->never.line[row]);
	}
	for (int j = 0; j < file->bands.n; j++) {
		for (int i = 0; i < j; i++)
			if (check_pair(file, bands, i, j, why) < 0)
				return -1;
		for (int row = 0; row < file->never.n; row++)
			if (check_never(file, bands, j, row, why) < 0)
				return -1;
	}
	return 0;
}

static int ascending(const void *a, const void *b)
{
	const struct band *x = a, *y = b;

	return (x->raster.first.thirds > y->raster.first.thirds) -
	       (x->raster.first.thirds < y->raster.first.thirds);
}

static int make_plan(const struct plan_file *file, const char *path, struct bandplan *out,
		     struct fault *why)
{
	if (file->bands.n == 0)
		return fault_set(why, FAULT_INPUT, "%s: bands is empty, must hold one at least",
				 path);
	out->bands = calloc((size_t)file->bands.n, sizeof *out->bands);
	out->never = calloc((size_t)file->never.n + 1, sizeof *out->never);
	if (!out->bands || !out->never)
		return fault_set(why, FAULT_FATAL, "%s: out of memory", path);
	memcpy(out->name, file->name, sizeof out->name);
	out->n_bands = file->bands.n;
	out->n_never = file->never.n;
	if (file->never.n)
		memcpy(out->never, file->never.at, (size_t)file->never.n * sizeof *out->never);
	for (int i = 0; i < out->n_bands; i++)
		if (make_band(file, i, &out->bands[i], why) < 0)
			return -1;
	if (check_all(file, out->bands, why) < 0)
		return -1;
	qsort(out->bands, (size_t)out->n_bands, sizeof *out->bands, ascending);
	return 0;
}

int bandplan_read(const char *path, struct bandplan *out, struct fault *why)
{
	struct plan_file file;

	*out = (struct bandplan){ 0 };
	if (settings_read(path, bandplan_fields, &file, why) < 0)
		return -1;
	int result = make_plan(&file, path, out, why);
	if (result < 0)
		bandplan_free(out);
	settings_free(bandplan_fields, &file);
	return result;
}

void bandplan_free(struct bandplan *p)
{
	free(p->bands);
	free(p->never);
	*p = (struct bandplan){ 0 };
}
