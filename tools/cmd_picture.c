#include "tools/verbs.h"

#include "tools/band_picture.h"
#include "tools/deliver.h"

#include <stdio.h>
#include <string.h>

#define WIDE 1600
#define HIGH 1000

static int write_picture(FILE *to, const void *of)
{
	return band_picture_write(to, of);
}

/* Of a band whose id goes into a file's name. */
static void name_of(const struct band *b, char out[64])
{
	snprintf(out, 64, "%s.png", b->id);
	for (char *c = out; *c; c++)
		if (*c == '/' || (c == out && *c == '.'))
			*c = '_';
}

static bool is_file(const char *output)
{
	size_t n = strlen(output);

	return n > 4 && strcmp(output + n - 4, ".png") == 0;
}

/* One band into the file that was named. */
static int one(const char *output, const struct band_picture *p, struct fault *why)
{
	char folder[4096];
	const char *slash = strrchr(output, '/');
	struct delivery file = { slash ? slash + 1 : output, write_picture };

	if (p->census->bands != 1)
		return fault_set(why, FAULT_INPUT,
				 "--output %s is one picture and there are %d bands, name one with "
				 "--band, or a folder for all",
				 output, p->census->bands);
	if (snprintf(folder, sizeof folder, "%.*s",
		     slash ? (int)(slash - output + (slash == output)) : 1,
		     slash ? output : ".") >= (int)sizeof folder)
		return fault_set(why, FAULT_INPUT, "--output %.60s...: path is too long", output);
	return deliver(folder, &file, 1, p, why);
}

static int draw(const char *output, struct band_picture *p, struct fault *why)
{
	int result = 0;

	if (is_file(output))
		return one(output, p, why);
	for (p->band = 0; result == 0 && p->band < p->census->bands; p->band++) {
		char name[64];
		name_of(&p->census->band[p->band], name);
		result = deliver(output, &(struct delivery){ name, write_picture }, 1, p, why);
	}
	return result;
}

int verb_picture(const struct choice *o)
{
	struct band_picture p = {.width = o->width ? (int)o->width : WIDE,
				 .height = o->height ? (int)o->height : HIGH};
	struct narrowed part = { 0 };
	struct panorama panorama = { 0 };
	struct fault why = { 0 };
	int code = 0;

	struct census *c = night_read(o->file[0], &o->night, &why);
	struct survey *s = c ? survey_read(o->file[0], &why) : NULL;
	p.census = c;
	p.panorama = &panorama;
	if (!s || narrow(&o->night, s, o->file[0], &part, &why) < 0 ||
	    panorama_read(s, &part, c, &panorama, &why) < 0 || draw(o->output, &p, &why) < 0)
		code = command_fail(&why);
	panorama_free(&panorama);
	narrow_free(&part);
	survey_close(s);
	census_destroy(c);
	return code;
}
