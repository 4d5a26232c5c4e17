#include "store/settings.h"

#include <ctype.h>
#include <errno.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <libconfig.h>

#include "store/field.h"
#include "store/ordinary.h"

#define SHOWN 64                /* of a value, in a complaint     */
#define PATH_SHOWN 200          /* of an included file           */
#define INCLUDE_NAME 256        /* room for what @include names  */
#define INCLUDES_DEEP 10        /* the library stops there as well */
#define BYTES_MOST (4 << 20)    /* of a file and all that it includes, each as often as it is */

/* ---- complaints ---- */

struct reading {
	const char   *path;
	struct fault *why;
};

/* The library tells an included file by the name the @include gave it, and
 * nothing for what it does not know. */
static const char *file_named(const char *top, const char *file, char out[PATH_SHOWN])
{
	if (!file || strcmp(file, top) == 0 || settings_beside(top, file, out, PATH_SHOWN) < 0)
		return top;
	return out;
}

static const char *file_of(const struct reading *r, const config_setting_t *at,
			   char out[PATH_SHOWN])
{
	return file_named(r->path, config_setting_source_file(at), out);
}

/* A value as it was written, cut, with nothing in it that would break the line. */
static const char *show(const config_setting_t *at, char out[SHOWN])
{
	switch (config_setting_type(at)) {
	case CONFIG_TYPE_INT:
	case CONFIG_TYPE_INT64:
		snprintf(out, SHOWN, "%lld", config_setting_get_int64(at));
		break;
	case CONFIG_TYPE_FLOAT:
		snprintf(out, SHOWN, "%.10g", config_setting_get_float(at));
		break;
	case CONFIG_TYPE_BOOL:
		snprintf(out, SHOWN, "%s", config_setting_get_bool(at) ? "true" : "false");
		break;
	case CONFIG_TYPE_STRING:
		snprintf(out, SHOWN, "%s", config_setting_get_string(at));
		break;
	case CONFIG_TYPE_GROUP:
		snprintf(out, SHOWN, "a group");
		break;
	default:
		snprintf(out, SHOWN, "a list");
	}
	for (char *p = out; *p; p++)
		if ((unsigned char)*p < ' ' || *p == 0x7f)
			*p = ' ';
	return out[0] ? out : "empty";
}

static int wrong(const struct reading *r, const struct field *f, const config_setting_t *at,
		 enum field_verdict v)
{
	char shown[SHOWN], allowed[FIELD_ROOM], file[PATH_SHOWN];

	if (v == FIELD_NO_MEMORY)
		return fault_set(r->why, FAULT_FATAL, "%s: out of memory", r->path);
	return fault_set(r->why, FAULT_INPUT, "%s:%d: %s is %s, must be %s", file_of(r, at, file),
			 config_setting_source_line(at), f->name, show(at, shown),
			 field_allowed(f, v, allowed));
}

static int unknown(const struct reading *r, const struct field *table, const config_setting_t *at)
{
	const char *name = config_setting_name(at), *near = field_nearest(table, name);
	char all[FIELD_ROOM] = "", file[PATH_SHOWN];
	int n = 0;

	if (near)
		return fault_set(r->why, FAULT_INPUT, "%s:%d: %.40s is unknown, did you mean %s",
				 file_of(r, at, file), config_setting_source_line(at), name, near);
	for (const struct field *f = table; f->type != FIELD_END && n < FIELD_ROOM; f++)
		n += snprintf(all + n, (size_t)(FIELD_ROOM - n), "%s%s", n ? ", " : "", f->name);
	return fault_set(r->why, FAULT_INPUT, "%s:%d: %.40s is unknown, must be one of %s",
			 file_of(r, at, file), config_setting_source_line(at), name, all);
}

/* ---- values ---- */

static int read_group(const struct reading *r, const struct field *table, void *out,
		      const config_setting_t *group);

/* The text of a single value, where the file may write it so: quantities are
 * strings, and plain numbers only what has no unit. NULL: not so. */
static const char *plain_text(const struct field *f, const config_setting_t *at, char out[SHOWN])
{
	bool unitless = f->type == FIELD_NUMBER && !(f->unit && f->unit[0]);

	switch (config_setting_type(at)) {
	case CONFIG_TYPE_STRING:
		return f->type == FIELD_INT || f->type == FIELD_BOOL
			? NULL : config_setting_get_string(at);
	case CONFIG_TYPE_INT:
	case CONFIG_TYPE_INT64:
		snprintf(out, SHOWN, "%lld", config_setting_get_int64(at));
		return f->type == FIELD_INT || unitless ? out : NULL;
	case CONFIG_TYPE_FLOAT:
		snprintf(out, SHOWN, "%.17g", config_setting_get_float(at));
		return unitless ? out : NULL;
	case CONFIG_TYPE_BOOL:
		return f->type != FIELD_BOOL ? NULL
		     : config_setting_get_bool(at) ? "true" : "false";
	default:
		return NULL;
	}
}

static int read_rows(const struct reading *r, const struct field *f, void *out,
		     const config_setting_t *at)
{
	struct rows *rows = (struct rows *)(void *)((char *)out + f->at);
	char file[PATH_SHOWN];

	for (int i = 0; i < rows->n; i++) {
		const config_setting_t *row = config_setting_get_elem(at, (unsigned)i);
		if (!config_setting_is_group(row))
			return wrong(r, f, row, FIELD_MALFORMED);
		rows->line[i] = (int)config_setting_source_line(row);
		snprintf(rows->file[i], sizeof rows->file[i], "%s", file_of(r, row, file));
		if (read_group(r, f->rows_of, (char *)rows->at + (size_t)i * f->size, row) < 0)
			return -1;
	}
	return 0;
}

static int read_list(const struct reading *r, const struct field *f, void *out,
		     const config_setting_t *at)
{
	char room[SHOWN];

	if (!config_setting_is_list(at) && !config_setting_is_array(at))
		return wrong(r, f, at, FIELD_MALFORMED);
	int n = config_setting_length(at);
	if (field_make_list(f, out, n) < 0)
		return wrong(r, f, at, FIELD_NO_MEMORY);
	if (f->type == FIELD_ROWS)
		return read_rows(r, f, out, at);
	for (int i = 0; i < n; i++) {
		const config_setting_t *one = config_setting_get_elem(at, (unsigned)i);
		const char *text = plain_text(f, one, room);
		enum field_verdict v = text ? field_parse_element(f, out, i, text) : FIELD_MALFORMED;
		if (v != FIELD_GOOD)
			return wrong(r, f, one, v);
	}
	return 0;
}

static int read_value(const struct reading *r, const struct field *f, void *out,
		      const config_setting_t *at)
{
	char room[SHOWN];

	if (f->type == FIELD_TEXTS || f->type == FIELD_FREQS || f->type == FIELD_ROWS)
		return read_list(r, f, out, at);
	const char *text = plain_text(f, at, room);
	enum field_verdict v = text ? field_parse(f, out, text) : FIELD_MALFORMED;
	return v == FIELD_GOOD ? 0 : wrong(r, f, at, v);
}

/* A field the file does not set. group NULL: there is no file. */
static int read_preset(const struct reading *r, const struct field *f, void *out,
		       const config_setting_t *group)
{
	char allowed[FIELD_ROOM], file[PATH_SHOWN];
	enum field_verdict v = field_preset(f, out);

	if (v == FIELD_GOOD)
		return 0;
	if (f->preset)
		return fault_set(r->why, FAULT_FATAL, "%s: the preset of %s will not do", r->path,
				 f->name);
	if (group && !config_setting_is_root(group))
		return fault_set(r->why, FAULT_INPUT, "%s:%d: %s is missing, must be %s",
				 file_of(r, group, file), config_setting_source_line(group), f->name,
				 field_allowed(f, FIELD_MALFORMED, allowed));
	return fault_set(r->why, FAULT_INPUT, "%s: %s is missing, must be %s", r->path, f->name,
			 field_allowed(f, FIELD_MALFORMED, allowed));
}

static const struct field *field_named(const struct field *table, const char *name)
{
	for (const struct field *f = table; f->type != FIELD_END; f++)
		if (strcmp(f->name, name) == 0)
			return f;
	return NULL;
}

static int read_group(const struct reading *r, const struct field *table, void *out,
		      const config_setting_t *group)
{
	int n = group ? config_setting_length(group) : 0;

	for (int i = 0; i < n; i++) {
		const config_setting_t *at = config_setting_get_elem(group, (unsigned)i);
		const struct field *f = field_named(table, config_setting_name(at));
		if (!f)
			return unknown(r, table, at);
		if (read_value(r, f, out, at) < 0)
			return -1;
	}
	for (const struct field *f = table; f->type != FIELD_END; f++)
		if (!(group && config_setting_get_member(group, f->name)) &&
		    read_preset(r, f, out, group) < 0)
			return -1;
	return 0;
}

/* ---- files ---- */

/* Length of the folder part of path, its slash included. */
static int folder_length(const char *path)
{
	const char *slash = strrchr(path, '/');

	return slash ? (int)(slash + 1 - path) : 0;
}

int settings_beside(const char *beside, const char *path, char *out, size_t size)
{
	int n = path[0] == '/' ? snprintf(out, size, "%s", path)
		: snprintf(out, size, "%.*s%s", folder_length(beside), beside, path);

	return n >= 0 && (size_t)n < size ? 0 : -1;
}

/* 1 when the line is an @include; its file's name, or nothing for one that the
 * library might take for something else than we do. */
static int include_of(const char *line, char name[INCLUDE_NAME])
{
	char quote = '\0';
	int n = 0;

	sscanf(line, " @include%n", &n);
	if (n == 0)
		return 0;
	if (sscanf(line + n, " \"%255[^\"\\\n]%c", name, &quote) != 2 || quote != '"')
		name[0] = '\0';
	for (const char *p = name; *p; p++)
		if (iscntrl((unsigned char)*p))
			name[0] = '\0';
	return 1;
}

/* A file and all it includes. "top" gives the folder that the library takes included names
 * from. */
struct walk {
	const char   *top;
	int         (*see)(void *self, const char *file, const char *text);     /* NULL: nobody */
	void         *self;
	struct fault *why;
	size_t       *bytes;            /* so far                                    */
};

static int walk_file(const struct walk *w, const char *path, int deep);

static int walk_line(const struct walk *w, const char *path, int number, const char *line, int deep)
{
	char name[INCLUDE_NAME], file[4096];

	if (include_of(line, name) == 0)
		return 0;
	if (!name[0])
		return fault_set(w->why, FAULT_INPUT, "%s:%d: @include must name a file in quotes, "
				 "in under %d plain letters", path, number, INCLUDE_NAME);
	if (deep == INCLUDES_DEEP || settings_beside(w->top, name, file, sizeof file) < 0)
		return fault_set(w->why, FAULT_INPUT, "%s:%d: @include goes too deep, must be at most "
				 "%d files", path, number, INCLUDES_DEEP);
	return walk_file(w, file, deep + 1);
}

/* The library's scanner ends the process when it is given a folder to read, so all are looked
 * at first. */
static int walk_file(const struct walk *w, const char *path, int deep)
{
	int64_t bytes;
	FILE *in = ordinary_stream(path, &bytes, w->why), *whole;
	char *line = NULL, *text = NULL;
	size_t room = 0, size;
	int number = 0, result = 0;

	if (!in)
		return -1;
	whole = open_memstream(&text, &size);
	while (whole && result == 0 && getline(&line, &room, in) > 0) {
		fputs(line, whole);
		result = walk_line(w, path, ++number, line, deep);
		*w->bytes += strlen(line);
		if (result == 0 && *w->bytes > BYTES_MOST)
			result = fault_set(w->why, FAULT_INPUT, "%s:%d: is too long, must be at most %d MiB with all "
					   "that it includes", path, number, BYTES_MOST >> 20);
	}
	if (!whole || fclose(whole) != 0)
		result = fault_set(w->why, FAULT_RETRY, "%s: out of memory", path);
	if (result == 0 && w->see)
		result = w->see(w->self, path, text);
	free(text);
	free(line);
	fclose(in);
	return result;
}

int settings_texts(const char *path, int (*see)(void *self, const char *file, const char *text),
		   void *self, struct fault *why)
{
	size_t bytes = 0;
	const struct walk w = { path, see, self, why, &bytes };

	return walk_file(&w, path, 0);
}

static int parse_file(config_t *config, const char *path, struct fault *why)
{
	char folder[4096], shown[PATH_SHOWN];

	if (settings_texts(path, NULL, NULL, why) < 0)
		return -1;
	snprintf(folder, sizeof folder, "%.*s", folder_length(path), path);
	if (folder[0])
		config_set_include_dir(config, folder);
	if (config_read_file(config, path))
		return 0;
	if (config_error_type(config) == CONFIG_ERR_FILE_IO)
		return fault_set(why, fault_kind_of(errno), "%s: can't be read: %s", path, strerror(errno));
	return fault_set(why, FAULT_INPUT, "%s:%d: %s",
			 file_named(path, config_error_file(config), shown),
			 config_error_line(config), config_error_text(config));
}

int settings_read(const char *path, const struct field *table, void *out, struct fault *why)
{
	struct reading r = { path ? path : "settings", why };
	config_t config;
	int result = -1;

	field_clear_all(table, out);
	config_init(&config);
	if (path && parse_file(&config, path, why) < 0)
		goto done;
	result = read_group(&r, table, out, path ? config_root_setting(&config) : NULL);
	if (result < 0)
		settings_free(table, out);
done:
	config_destroy(&config);
	return result;
}

int settings_kind(const char *path, char *out, size_t size, struct fault *why)
{
	config_t config;
	const char *kind;
	int result = -1;

	config_init(&config);
	if (parse_file(&config, path, why) < 0)
		goto done;
	if (!config_lookup_string(&config, "kind", &kind) || strlen(kind) >= size) {
		fault_set(why, FAULT_INPUT, "%s: kind is missing, must tell what this file is, such as "
			  "kind = \"receiver\"", path);
		goto done;
	}
	strcpy(out, kind);
	result = 0;
done:
	config_destroy(&config);
	return result;
}
