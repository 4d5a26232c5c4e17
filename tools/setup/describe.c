#include "tools/setup/answers.h"

#include <stdlib.h>
#include <string.h>

#include "store/field.h"
#include "tools/profile.h"

/* A receiver is described by its settings' own table: help is the question, the preset what return
 * gives. Those named here are asked for; who wants to say more mends the file, which has all of
 * them. */
static const char *const asked[] = {
	"name", "banks", "memories_per_bank", "scan_rate", "delays", "priority_channels",
	"search_ranges", "display_digits", "filter_nfm",
};

/* Better than the table's, for a set that nobody described yet. */
static const struct {
	const char *name, *preset;
} usual[] = {
	{ "name", "my receiver" }, { "delays", "0 s, 2 s, 4 s" },
};

static const char *preset_of(const struct field *f)
{
	for (size_t i = 0; i < sizeof usual / sizeof usual[0]; i++)
		if (strcmp(usual[i].name, f->name) == 0)
			return usual[i].preset;
	return f->preset ? f->preset : "";
}

struct describing {
	const struct field *field;
	FILE *to;
	struct { double low_mhz, high_mhz; } reach[REACHES_MAX];
	int   reaches;
	char  modes[100], steps[200];
};

/* One value: whether the table takes it. */
static int check_one(const struct field *f, const char *text, struct fault *why)
{
	union { char text[64]; double number; int64_t whole; } room;
	char allowed[FIELD_ROOM];
	struct field one = *f;
	int64_t us;

	one.at = 0;
	if (f->type == FIELD_FREQS)
		one.type = FIELD_FREQ;
	else if (f->type == FIELD_TEXTS)
		one.type = FIELD_TEXT;
	one.size = sizeof room.text;
	enum field_verdict v =
	    strpbrk(text, "\"\\") ? FIELD_MALFORMED : field_parse(&one, &room, text);
	if (v == FIELD_GOOD && strcmp(f->name, "delays") == 0 && duration_parse(text, &us) < 0)
		return fault_set(why, FAULT_INPUT,
				 "delays are \"%.40s\", must be like \"0 s, 2 s\"", text);
	if (v == FIELD_GOOD)
		return 0;
	return fault_set(why, FAULT_INPUT, "%s is \"%.40s\", must be %s", f->name, text,
			 field_allowed(&one, v, allowed));
}

/* "0 s, 2 s" as [ "0 s", "2 s" ]; check NULL: whatever is there. */
static int write_list(FILE *to, const char *answer, const struct field *check, struct fault *why)
{
	char *copy = strdup(answer), *rest = copy, *one;
	int n = 0, result = copy ? 0 : fault_set(why, FAULT_FATAL, "no memory");

	if (to)
		fputs("[ ", to);
	while (result == 0 && (one = strsep(&rest, ","))) {
		one += strspn(one, " ");
		for (size_t k = strlen(one); k && one[k - 1] == ' '; k--)
			one[k - 1] = '\0';
		if (*one && check)
			result = check_one(check, one, why);
		if (*one && to)
			fprintf(to, "%s\"%s\"", n++ ? ", " : "", one);
	}
	if (to)
		fputs(" ]", to);
	free(copy);
	return result;
}

static bool is_plain(const struct field *f)
{
	return f->type == FIELD_INT || f->type == FIELD_BOOL ||
	       (f->type == FIELD_NUMBER && !(f->unit && f->unit[0]));
}

static int take_field(void *self, const char *answer, struct fault *why)
{
	struct describing *d = self;
	const struct field *f = d->field;
	bool list = f->type == FIELD_TEXTS || f->type == FIELD_FREQS;

	if ((list ? write_list(NULL, answer, f, why) : check_one(f, answer, why)) < 0)
		return -1;
	fprintf(d->to, "# %s\n%s = ", f->help, f->name);
	if (list)
		write_list(d->to, answer, NULL, why);
	else
		fprintf(d->to, is_plain(f) ? "%s" : "\"%s\"", answer);
	fputs(";\n", d->to);
	return 0;
}

static int take_coverage(void *self, const char *answer, struct fault *why)
{
	struct describing *d = self;

	d->reaches = 0;
	for (const char *p = answer; *p; d->reaches++)
		if (d->reaches == REACHES_MAX ||
		    answers_stretch(&p, &d->reach[d->reaches].low_mhz,
				    &d->reach[d->reaches].high_mhz) < 0 ||
		    (d->reaches &&
		     d->reach[d->reaches].low_mhz <= d->reach[d->reaches - 1].high_mhz))
			return fault_set(
			    why, FAULT_INPUT,
			    "coverage is \"%.60s\", must be like \"25-54 MHz, 108-174 MHz\", "
			    "upwards",
			    answer);
	if (d->reaches)
		return 0;
	return fault_set(why, FAULT_INPUT, "coverage is empty, must be like \"25-54 MHz\"");
}

static int take_modes(void *self, const char *answer, struct fault *why)
{
	struct describing *d = self;
	char copy[sizeof d->modes], *rest = copy, *one;

	if (snprintf(copy, sizeof copy, "%s", answer) >= (int)sizeof copy)
		return fault_set(why, FAULT_INPUT,
				 "modes are \"%.40s...\", must be of AM, NFM, WFM", answer);
	while ((one = strsep(&rest, ","))) {
		one += strspn(one, " ");
		enum mode m = mode_named(one);
		if (m == MODE_COUNT || m == MODE_NONE)
			return fault_set(
			    why, FAULT_INPUT,
			    "modes are \"%.40s\", must be of AM, NFM, WFM, with commas", answer);
	}
	strcpy(d->modes, answer);
	return 0;
}

static int take_steps(void *self, const char *answer, struct fault *why)
{
	static const struct field step = { .name = "steps", .type = FIELD_FREQ,
					   .min = 100, .max = 1e6 };
	struct describing *d = self;

	if (strlen(answer) >= sizeof d->steps)
		return fault_set(why, FAULT_INPUT, "steps are \"%.40s...\", must be fewer", answer);
	strcpy(d->steps, answer);
	return write_list(NULL, answer, &step, why);
}

/* "Banks of memories." as a question. */
static void question_of(const struct field *f, char out[200])
{
	snprintf(out, 200, "%s", f->help);
	size_t n = strlen(out);
	if (n && out[n - 1] == '.')
		out[n - 1] = '\0';
}

static int ask_fields(const struct asker *k, struct describing *d, struct fault *why)
{
	for (size_t i = 0; i < sizeof asked / sizeof asked[0]; i++)
		for (const struct field *f = receiver_fields; f->type != FIELD_END; f++) {
			char question[200];
			d->field = f;
			question_of(f, question);
			if (strcmp(f->name, asked[i]) == 0 &&
			    ask(k, question, NULL, preset_of(f), take_field, d, why) < 0)
				return -1;
		}
	return 0;
}

static void write_coverage(struct describing *d, struct fault *why)
{
	fputs("# Stretches it tunes, upwards, with modes and tuning steps.\ncoverage = (\n", d->to);
	for (int i = 0; i < d->reaches; i++) {
		fprintf(d->to, "\t{ low = \"%.10g MHz\"; high = \"%.10g MHz\"; modes = ",
			d->reach[i].low_mhz, d->reach[i].high_mhz);
		write_list(d->to, d->modes, NULL, why);
		fputs("; steps = ", d->to);
		write_list(d->to, d->steps, NULL, why);
		fprintf(d->to, "; }%s\n", i + 1 < d->reaches ? "," : "");
	}
	fputs(");\n", d->to);
}

/* What was not asked for stands there as a comment, to be mended. */
static void write_rest(FILE *to)
{
	fputs("\n# As it is when nothing is said:\n", to);
	for (const struct field *f = receiver_fields; f->type != FIELD_END; f++) {
		bool said = !f->preset || f->type == FIELD_FREQS || f->type == FIELD_TEXTS ||
			    f->type == FIELD_ROWS;
		for (size_t i = 0; i < sizeof asked / sizeof asked[0]; i++)
			said |= strcmp(f->name, asked[i]) == 0;
		if (!said)
			fprintf(to, is_plain(f) ? "# %s = %s;\t%s\n" : "# %s = \"%s\";\t%s\n",
				f->name, f->preset, f->help);
	}
}

int describe_receiver(const struct asker *k, struct answers *a, struct fault *why)
{
	struct describing d = { 0 };
	size_t size;
	int result = -1;

	free(a->receiver_text);
	a->receiver_text = NULL;
	d.to = open_memstream(&a->receiver_text, &size);
	if (!d.to)
		return fault_set(why, FAULT_FATAL, "no memory for a receiver");
	fputs("# What the set can do, as you described it; its manual knows better.\n\nkind = "
	      "\"receiver\";\n",
	      d.to);
	if (ask_fields(k, &d, why) == 0 &&
	    ask(k, "What it tunes, as its manual says", NULL, "25-54 MHz, 108-174 MHz, 400-512 MHz",
		take_coverage, &d, why) == 0 &&
	    ask(k, "Modes it has there", NULL, "AM, NFM, WFM", take_modes, &d, why) == 0 &&
	    ask(k, "Tuning steps, upwards", NULL, "5 kHz, 12.5 kHz, 50 kHz", take_steps, &d,
		why) == 0) {
		write_coverage(&d, why);
		write_rest(d.to);
		result = 0;
	}
	if (fclose(d.to) != 0)
		result = fault_set(why, FAULT_FATAL, "no memory for a receiver");
	return result;
}
