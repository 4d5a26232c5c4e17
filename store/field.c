#include "store/field.h"

#include <ctype.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <strings.h>

#include "store/text.h"

#define DAY_S           86400.0
#define MANY_DAYS_S     (30 * DAY_S)    /* a range up to more is told in days */
#define NAME_MAX_LENGTH 40      /* longer names are compared as far as this */

static void *member(const struct field *f, void *out)
{
	return (char *)out + f->at;
}

/* Plain decimal notation only: strtod alone also takes "nan", "inf" and "0x1".
 * The text after the number and spaces, or NULL. */
static const char *scan_number(const char *text, double *value)
{
	char *end;

	while (isspace((unsigned char)*text))
		text++;
	const char *digits = text + (*text == '+' || *text == '-');
	bool hex = digits[0] == '0' && (digits[1] == 'x' || digits[1] == 'X');
	if (hex || !isdigit((unsigned char)digits[digits[0] == '.']))
		return NULL;
	*value = strtod(text, &end);
	if (!isfinite(*value))
		return NULL;
	while (isspace((unsigned char)*end))
		end++;
	return end;
}

static const struct {
	const char *name;
	double      us;
} time_units[] = { { "us", 1 }, { "ms", 1e3 }, { "s", 1e6 }, { "min", 60e6 }, { "h", 3600e6 },
		  { "d", 86400e6 } };

int duration_parse(const char *text, int64_t *us)
{
	double value;
	const char *unit = scan_number(text, &value);

	if (!unit || value < 0)
		return -1;
	for (size_t i = 0; i < sizeof time_units / sizeof time_units[0]; i++)
		if (strcmp(unit, time_units[i].name) == 0) {
			if (value * time_units[i].us > 9e18)
				return -1;
			*us = llround(value * time_units[i].us);
			return 0;
		}
	return -1;
}

static bool outside(const struct field *f, double value)
{
	return (f->min != 0 || f->max != 0) && !(value >= f->min && value <= f->max);
}

/* Index of the choice, or -1. */
static int choice_of(const struct field *f, const char *text)
{
	for (int i = 0; f->choices[i]; i++)
		if (strcasecmp(text, f->choices[i]) == 0)
			return i;
	return -1;
}

static enum field_verdict parse_text(const struct field *f, void *to, const char *text)
{
	if (strlen(text) >= f->size || (f->choices && choice_of(f, text) < 0))
		return FIELD_OUTSIDE;
	if (f->form && *text && !f->form(text))
		return FIELD_MALFORMED;
	memset(to, 0, f->size);
	text_tame(strcpy(to, text));
	return FIELD_GOOD;
}

static enum field_verdict parse_bool(const struct field *f, void *to, const char *text)
{
	(void)f;
	if (strcmp(text, "true") != 0 && strcmp(text, "false") != 0)
		return FIELD_MALFORMED;
	*(bool *)to = text[0] == 't';
	return FIELD_GOOD;
}

static enum field_verdict parse_int(const struct field *f, void *to, const char *text)
{
	double value;
	const char *end = scan_number(text, &value);

	if (!end || *end || floor(value) != value)
		return FIELD_MALFORMED;
	if (value < INT32_MIN || value > INT32_MAX || outside(f, value))
		return FIELD_OUTSIDE;
	*(int32_t *)to = (int32_t)value;
	return FIELD_GOOD;
}

static enum field_verdict parse_number(const struct field *f, void *to, const char *text)
{
	double value;
	const char *unit = scan_number(text, &value);

	if (!unit || strcmp(unit, f->unit ? f->unit : "") != 0)
		return FIELD_MALFORMED;
	if (outside(f, value))
		return FIELD_OUTSIDE;
	*(double *)to = value;
	return FIELD_GOOD;
}

static enum field_verdict parse_duration(const struct field *f, void *to, const char *text)
{
	int64_t us;

	if (duration_parse(text, &us) < 0)
		return FIELD_MALFORMED;
	if (outside(f, (double)us / 1e6))
		return FIELD_OUTSIDE;
	*(int64_t *)to = us;
	return FIELD_GOOD;
}

static enum field_verdict parse_freq(const struct field *f, void *to, const char *text)
{
	struct freq freq;
	size_t n = strlen(text);

	/* freq_parse takes bare hertz too; a settings file says its unit. */
	if (n == 0 || !isalpha((unsigned char)text[n - 1]) || freq_parse(text, &freq) < 0)
		return FIELD_MALFORMED;
	if (outside(f, freq_to_hz(freq)))
		return FIELD_OUTSIDE;
	*(struct freq *)to = freq;
	return FIELD_GOOD;
}

static enum field_verdict parse_choice(const struct field *f, void *to, const char *text)
{
	int i = choice_of(f, text);

	if (i < 0)
		return FIELD_OUTSIDE;
	*(int *)to = i;
	return FIELD_GOOD;
}

/* What each type is: its room, how its text is read, and what to call it. A list
 * starts with a pointer and ends with a count; "element" is the room of one. */
static const struct {
	size_t              size;       /* 0: the field's own */
	enum field_verdict (*parse)(const struct field *, void *, const char *);
	size_t              element;
	const char         *called;
} types[] = {
	[FIELD_TEXT] = { 0, parse_text, 0, "text in quotes" },
	[FIELD_BOOL] = { sizeof(bool), parse_bool, 0, "true or false" },
	[FIELD_INT] = { sizeof(int32_t), parse_int, 0, "a whole number" },
	[FIELD_NUMBER] = { sizeof(double), parse_number, 0, "a number" },
	[FIELD_DURATION] = { sizeof(int64_t), parse_duration, 0,
			     "a time with its unit, such as \"20 ms\" (us, ms, s, min, h or d)" },
	[FIELD_FREQ] = { sizeof(struct freq), parse_freq, 0,
			 "a frequency with its unit, such as \"118.0 MHz\" (Hz, kHz, MHz or GHz)" },
	[FIELD_CHOICE] = { sizeof(int), parse_choice, 0, "text in quotes" },
	[FIELD_TEXTS] = { sizeof(struct texts), parse_text, sizeof *((struct texts *)0)->at,
			  "a list of texts, such as [ \"one\", \"two\" ]" },
	[FIELD_FREQS] = { sizeof(struct freqs), parse_freq, sizeof(struct freq),
			  "a list of frequencies with their units, such as [ \"118.0 MHz\", \"25/3 kHz\" ]" },
	[FIELD_ROWS] = { sizeof(struct rows), NULL, 0,
			 "a list of groups, such as ( { ... }, { ... } )" },
};

enum field_verdict field_parse(const struct field *f, void *out, const char *text)
{
	return types[f->type].parse(f, member(f, out), text);
}

int field_make_list(const struct field *f, void *out, int n)
{
	size_t element = f->type == FIELD_ROWS ? f->size : types[f->type].element;
	void *at = calloc((size_t)n + 1, element);      /* never of no bytes */

	if (!at)
		return -1;
	if (f->type == FIELD_TEXTS)
		*(struct texts *)member(f, out) = (struct texts){ at, n };
	else if (f->type == FIELD_FREQS)
		*(struct freqs *)member(f, out) = (struct freqs){ at, n };
	else
		*(struct rows *)member(f, out) = (struct rows){ .at = at, .n = n,
			.line = calloc((size_t)n + 1, sizeof(int)),
			.file = calloc((size_t)n + 1, sizeof *((struct rows *)0)->file) };
	if (f->type != FIELD_ROWS)
		return 0;
	const struct rows *rows = member(f, out);
	return rows->line && rows->file ? 0 : -1;
}

enum field_verdict field_parse_element(const struct field *f, void *out, int i, const char *text)
{
	struct field one = *f;
	size_t element = types[f->type].element;
	void *list = f->type == FIELD_TEXTS ? (void *)((struct texts *)member(f, out))->at
					    : (void *)((struct freqs *)member(f, out))->at;

	one.size = element;
	return types[f->type].parse(&one, (char *)list + (size_t)i * element, text);
}

void field_clear_all(const struct field *table, void *out)
{
	for (const struct field *f = table; f->type != FIELD_END; f++)
		memset(member(f, out), 0, types[f->type].size ? types[f->type].size : f->size);
}

static void free_rows(const struct field *f, struct rows *rows)
{
	for (int i = 0; i < rows->n && rows->at; i++)
		settings_free(f->rows_of, (char *)rows->at + (size_t)i * f->size);
	free(rows->at);
	free(rows->line);
	free(rows->file);
}

void settings_free(const struct field *table, void *out)
{
	for (const struct field *f = table; f->type != FIELD_END; f++) {
		if (f->type == FIELD_TEXTS)
			free(((struct texts *)member(f, out))->at);
		else if (f->type == FIELD_FREQS)
			free(((struct freqs *)member(f, out))->at);
		else if (f->type == FIELD_ROWS)
			free_rows(f, member(f, out));
		else
			continue;
		memset(member(f, out), 0, types[f->type].size);
	}
}

static enum field_verdict preset_list(const struct field *f, void *out)
{
	int n = f->preset[0] != '\0';
	enum field_verdict v = FIELD_GOOD;

	for (const char *p = f->preset; *p; p++)
		n += *p == ',';
	if (f->type == FIELD_ROWS)
		n = 0;                  /* the only preset of rows is none */
	if (field_make_list(f, out, n) < 0)
		return FIELD_NO_MEMORY;
	char *copy = strdup(f->preset), *rest = copy;
	if (!copy)
		return FIELD_NO_MEMORY;
	for (int i = 0; i < n && v == FIELD_GOOD; i++) {
		char *one = strsep(&rest, ",");
		v = field_parse_element(f, out, i, one + strspn(one, " "));
	}
	free(copy);
	return v;
}

enum field_verdict field_preset(const struct field *f, void *out)
{
	if (!f->preset)
		return FIELD_MALFORMED;
	return types[f->type].parse && !types[f->type].element ? field_parse(f, out, f->preset)
							       : preset_list(f, out);
}

static const char *list_choices(const struct field *f, char *text, int room)
{
	int n = 0;

	for (int i = 0; f->choices[i] && n < room; i++)
		n += snprintf(text + n, (size_t)(room - n), "%s%s",
			      i == 0 ? "" : f->choices[i + 1] ? ", " : " or ", f->choices[i]);
	return text;
}

static const char *range_of(const struct field *f, char text[FIELD_ROOM])
{
	bool freq = f->type == FIELD_FREQ || f->type == FIELD_FREQS;
	const char *unit = freq ? "MHz" : f->type == FIELD_DURATION ? "s"
			 : f->type == FIELD_NUMBER && f->unit ? f->unit : "";
	double scale = freq ? 1e-6 : 1;
	double min = f->min, max = f->max;

	if (f->type == FIELD_DURATION && max > MANY_DAYS_S) {
		unit = "d";
		scale = 1 / DAY_S;
	}

	if (min == 0 && max == 0 && f->type == FIELD_INT) {
		min = INT32_MIN;
		max = INT32_MAX;
	}
	snprintf(text, FIELD_ROOM, "%.10g to %.10g%s%s", min * scale, max * scale,
		 unit[0] ? " " : "", unit);
	return text;
}

const char *field_allowed(const struct field *f, enum field_verdict v, char text[FIELD_ROOM])
{
	bool texts = f->type == FIELD_TEXT || f->type == FIELD_TEXTS;

	if (f->choices && f->type == FIELD_TEXTS && v == FIELD_MALFORMED) {
		int n = snprintf(text, FIELD_ROOM, "a list in brackets, such as [ \"%s\" ], of ", f->choices[0]);
		list_choices(f, text + n, FIELD_ROOM - n);
		return text;
	}
	if (f->choices)
		return list_choices(f, text, FIELD_ROOM);
	if (f->form)
		return f->formed;
	if (v == FIELD_OUTSIDE && !texts)
		return range_of(f, text);
	if (v == FIELD_OUTSIDE)
		snprintf(text, FIELD_ROOM, "at most %zu bytes long",
			 (f->type == FIELD_TEXT ? f->size : types[f->type].element) - 1);
	else if (f->type == FIELD_NUMBER && f->unit && f->unit[0])
		snprintf(text, FIELD_ROOM, "a number with its unit in quotes, such as \"%s%s\" (%s)",
			 f->preset && f->preset[0] ? f->preset : "1 ",
			 f->preset && f->preset[0] ? "" : f->unit, f->unit);
	else
		snprintf(text, FIELD_ROOM, "%s", types[f->type].called);
	return text;
}

/* Insertions, deletions and changes of one letter that make b of a. */
static int distance(const char *a, const char *b)
{
	int row[NAME_MAX_LENGTH + 1];
	int na = (int)strnlen(a, NAME_MAX_LENGTH), nb = (int)strnlen(b, NAME_MAX_LENGTH);

	for (int j = 0; j <= nb; j++)
		row[j] = j;
	for (int i = 1; i <= na; i++) {
		int diagonal = row[0];
		row[0] = i;
		for (int j = 1; j <= nb; j++) {
			int change = diagonal + (a[i - 1] != b[j - 1]);
			int step = (row[j] < row[j - 1] ? row[j] : row[j - 1]) + 1;
			diagonal = row[j];
			row[j] = change < step ? change : step;
		}
	}
	return row[nb];
}

const char *field_nearest(const struct field *table, const char *name)
{
	const char *best = NULL;
	int least = (int)strnlen(name, NAME_MAX_LENGTH) / 3 + 2;

	for (const struct field *f = table; f->type != FIELD_END; f++) {
		int d = distance(name, f->name);
		if (d < least) {
			least = d;
			best = f->name;
		}
	}
	return best;
}
