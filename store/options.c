#include "store/options.h"

#include <errno.h>
#include <math.h>
#include <stdbool.h>
#include <stdlib.h>
#include <string.h>

#include "dsp/freq.h"
#include "store/moment.h"
#include "store/settings.h"

#define HELP_AT    24           /* where words of help begin in a line of --help */
#define HELP_WIDTH 100
#define OPTIONS_MOST 64        /* of a table, among which a mistyped one is looked for */

/* ---- values, by type: 0, or -1 when text is none ---- */

static int take_texts(struct option_texts *out, const char *text)
{
	if (out->n == OPTION_AGAIN || !*text)
		return -1;
	out->at[out->n++] = text;
	return 0;
}

static int take_whole(const struct option_row *row, int64_t *out, const char *text)
{
	char *end;

	errno = 0;
	long long n = strtoll(text, &end, 10);
	if (errno || end == text || *end || !((double)n >= row->low && (double)n <= row->high))
		return -1;
	*out = row->scale != 0 ? (int64_t)n * (int64_t)row->scale : n;
	return 0;
}

static int take_real(const struct option_row *row, double *out, const char *text)
{
	char *end;
	double v = strtod(text, &end);

	if (end == text || *end || !(v >= row->low && v <= row->high))
		return -1;
	*out = v;
	return 0;
}

static int take_seed(uint64_t *out, const char *text)
{
	char *end;

	errno = 0;
	unsigned long long n = strtoull(text, &end, 10);
	if (errno || end == text || *end || text[0] == '-')
		return -1;
	*out = n;
	return 0;
}

static int take_hz(int32_t *out, const char *text)
{
	struct freq f;

	if (freq_parse(text, &f) < 0 || f.thirds <= 0 || f.thirds % 3 || f.thirds / 3 > INT32_MAX)
		return -1;
	*out = (int32_t)(f.thirds / 3);
	return 0;
}

static int take_freq(struct freq *out, const char *text)
{
	struct freq f;

	if (freq_parse(text, &f) < 0 || f.thirds <= 0)
		return -1;
	*out = f;
	return 0;
}

static int take_duration(int64_t *out, const char *text)
{
	int64_t us;

	if (duration_parse(text, &us) < 0 || us <= 0)
		return -1;
	*out = us;
	return 0;
}

static int take_bits(uint64_t *out, const char *text)
{
	uint64_t bits = 0;

	for (const char *p = text;; p++) {
		size_t digits = strspn(p, "0123456789");
		int bit = digits > 0 && digits < 3 ? atoi(p) : 0;
		if (bit < 1 || bit > 64 || (p[digits] && p[digits] != ','))
			return -1;
		bits |= UINT64_C(1) << (bit - 1);
		p += digits;
		if (!*p)
			break;
	}
	*out = bits;
	return 0;
}

static int take(const struct option_row *row, const char *text, void *out)
{
	void *at = (char *)out + row->at;

	switch (row->type) {
	case OPTION_FLAG:
		*(bool *)at = true;
		return 0;
	case OPTION_TEXT:
		*(const char **)at = text;
		return *text ? 0 : -1;
	case OPTION_TEXTS:
		return take_texts(at, text);
	case OPTION_WHOLE:
		return take_whole(row, at, text);
	case OPTION_REAL:
		return take_real(row, at, text);
	case OPTION_SEED:
		return take_seed(at, text);
	case OPTION_HZ:
		return take_hz(at, text);
	case OPTION_FREQ:
		return take_freq(at, text);
	case OPTION_DURATION:
		return take_duration(at, text);
	case OPTION_MOMENT:
		return moment_parse(text, at);
	default:
		return take_bits(at, text);
	}
}

char *options_allowed(const struct option_row *row, char out[100])
{
	static const char *const words[] = {
		[OPTION_TEXT] = "not empty",
		[OPTION_SEED] = "a whole number",
		[OPTION_HZ] = "a frequency such as 154235000 or \"154.235 MHz\"",
		[OPTION_FREQ] = "a frequency such as 154235000 or \"154.235 MHz\"",
		[OPTION_DURATION] = "a duration such as 90 s, 10 min or 12 h",
		[OPTION_MOMENT] = "a time such as 21:00, 21:00Z or \"2026-02-17 21:00\"",
		[OPTION_BITS] = "numbers from 1 to 64 such as 1,2,5",
	};

	switch (row->type) {
	case OPTION_FLAG:
		return strcpy(out, "alone");
	case OPTION_TEXTS:
		snprintf(out, 100, "not empty, and given at most %d times", OPTION_AGAIN);
		return out;
	case OPTION_WHOLE:
		snprintf(out, 100, "a whole number, %.0f to %.0f", row->low, row->high);
		return out;
	case OPTION_REAL:
		snprintf(out, 100, "a number, %g to %g", row->low, row->high);
		return out;
	default:
		return strcpy(out, words[row->type]);
	}
}

/* ---- the command line ---- */

static const struct option_row *row_named(const struct option_row *row, int rows, const char *name,
					  size_t n)
{
	for (int i = 0; i < rows; i++)
		if (strlen(row[i].name) == n && memcmp(row[i].name, name, n) == 0)
			return &row[i];
	return NULL;
}

static int unknown(const struct option_row *row, int rows, const char *name, size_t n,
		   const char *program, struct fault *why)
{
	const char *names[OPTIONS_MOST];
	char word[40];

	for (int i = 0; i < rows && i < OPTIONS_MOST; i++)
		names[i] = row[i].name;
	snprintf(word, sizeof word, "%.*s", (int)n, name);
	const char *meant = word_nearest(word, names, rows < OPTIONS_MOST ? rows : OPTIONS_MOST);
	return fault_set(why, FAULT_INPUT, "--%.60s is unknown%s%s%s, see %s --help", name,
			 meant ? " (--" : "", meant ? meant : "", meant ? "?)" : "", program);
}

/* One option that begins at argv[i]. Returns the last word that belongs to it, or -1. */
static int take_option(const struct option_row *row, int rows, int argc, char **argv, int i,
		       const char *program, void *out, struct fault *why)
{
	const char *name = argv[i] + 2, *value = strchr(name, '=');
	size_t n = value ? (size_t)(value - name) : strlen(name);
	const struct option_row *r = row_named(row, rows, name, n);
	char must[100];

	if (!r)
		return unknown(row, rows, name, n, program, why);
	if (r->type == OPTION_FLAG && value)
		return fault_set(why, FAULT_INPUT, "--%s takes no value", r->name);
	if (r->type != OPTION_FLAG && !value && ++i == argc)
		return fault_set(why, FAULT_INPUT, "--%s needs a %s, see %s --help", r->name,
				 r->value, program);
	value = value ? value + 1 : argv[i];
	if (take(r, value, out) < 0)
		return fault_set(why, FAULT_INPUT, "--%s is \"%.60s\", must be %s", r->name, value,
				 options_allowed(r, must));
	return i;
}

int options_take(const struct option_row *row, int rows, int argc, char **argv, const char *program,
		 void *out, char **word, int most, int *words, struct fault *why)
{
	bool ended = false;     /* "--" alone: what follows is no option */

	*words = 0;
	for (int i = 1; i < argc; i++) {
		if (!ended && strcmp(argv[i], "--") == 0) {
			ended = true;
		} else if (!ended && strncmp(argv[i], "--", 2) == 0) {
			i = take_option(row, rows, argc, argv, i, program, out, why);
			if (i < 0)
				return -1;
		} else if (!ended && argv[i][0] == '-' && argv[i][1]) {
			return fault_set(why, FAULT_INPUT,
					 "\"%.60s\" is not an option, see %s --help", argv[i],
					 program);
		} else if (*words == most) {
			return fault_set(why, FAULT_INPUT,
					 "\"%.60s\" is a word too many, see %s --help", argv[i],
					 program);
		} else {
			word[(*words)++] = argv[i];
		}
	}
	return 0;
}

/* ---- help ---- */

void options_print(FILE *to, const struct option_row *row, int rows)
{
	for (int i = 0; i < rows; i++) {
		int at = fprintf(to, "  --%s%s%s", row[i].name, row[i].value ? " " : "",
				 row[i].value ? row[i].value : "");
		const char *p = row[i].help;
		for (bool first = true; *p; first = false) {
			size_t n = strcspn(p, " ");
			if (first ? at >= HELP_AT : at + 1 + (int)n > HELP_WIDTH) {
				fputc('\n', to);
				at = 0;
				first = true;
			}
			at += fprintf(to, "%*s%.*s", first ? HELP_AT - at : 1, "", (int)n, p);
			p += n;
			p += strspn(p, " ");
		}
		fputc('\n', to);
	}
}

/* ---- what was meant ---- */

#define WORD_MOST 32

/* Letters too few, too many, wrong or swapped between two words. */
static int distance(const char *a, const char *b)
{
	int n = (int)strlen(a), m = (int)strlen(b), d[WORD_MOST + 1][WORD_MOST + 1];

	if (n > WORD_MOST || m > WORD_MOST)
		return WORD_MOST;
	for (int i = 0; i <= n; i++)
		d[i][0] = i;
	for (int j = 0; j <= m; j++)
		d[0][j] = j;
	for (int i = 1; i <= n; i++)
		for (int j = 1; j <= m; j++) {
			int least = d[i - 1][j - 1] + (a[i - 1] != b[j - 1]);
			if (d[i - 1][j] + 1 < least)
				least = d[i - 1][j] + 1;
			if (d[i][j - 1] + 1 < least)
				least = d[i][j - 1] + 1;
			if (i > 1 && j > 1 && a[i - 1] == b[j - 2] && a[i - 2] == b[j - 1] &&
			    d[i - 2][j - 2] + 1 < least)
				least = d[i - 2][j - 2] + 1;
			d[i][j] = least;
		}
	return d[n][m];
}

const char *word_nearest(const char *word, const char *const *name, int n)
{
	const char *nearest = NULL;
	int least = 0;

	for (int i = 0; i < n; i++) {
		int d = distance(word, name[i]);
		/* A word that begins the name is meant, however much is missing. */
		if (strlen(word) >= 3 && strncmp(word, name[i], strlen(word)) == 0)
			d = d < 1 ? d : 1;
		if (d <= (strlen(name[i]) > 5 ? 2 : 1) && (!nearest || d < least)) {
			nearest = name[i];
			least = d;
		}
	}
	return nearest;
}
