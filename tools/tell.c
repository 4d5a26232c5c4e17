#include "tools/teller.h"

#include <inttypes.h>
#include <math.h>
#include <string.h>

#include "tools/plan/words.h"

#define NUMBER 64

static void field(struct teller *t, const char *name, const char *meaning, enum told_type type,
		  const char *text)
{
	const struct told_field f = { .name = name, .meaning = meaning, .type = type,
				      .known = text && *text, .text = text ? text : "" };

	t->ops->field(t, &f);
}

void tell_text(struct teller *t, const char *name, const char *text, const char *meaning)
{
	field(t, name, meaning, TOLD_TEXT, text);
}

void tell_whole(struct teller *t, const char *name, int64_t v, const char *meaning)
{
	char text[NUMBER];
	const struct told_field f = { .name = name,
				      .meaning = meaning,
				      .type = TOLD_WHOLE,
				      .known = true,
				      .text = text,
				      .whole = &v,
				      .wholes = 1 };

	snprintf(text, sizeof text, "%" PRId64, v);
	t->ops->field(t, &f);
}

void tell_yes(struct teller *t, const char *name, bool v, const char *meaning)
{
	field(t, name, meaning, TOLD_YES, v ? "yes" : "no");
}

void tell_freq(struct teller *t, const char *name, struct freq f, const char *meaning)
{
	char text[FREQ_TEXT];

	field(t, name, meaning, TOLD_FREQ, freq_format(text, f));
}

void tell_time(struct teller *t, const char *name, int64_t us, const char *meaning)
{
	char text[TIME_TEXT];

	field(t, name, meaning, TOLD_TIME, us ? words_time(text, us) : "");
}

/* No minus before nothing. */
static const char *unsigned_nothing(char *text)
{
	return text[0] == '-' && strspn(text + 1, "0.") == strlen(text + 1) ? text + 1 : text;
}

void tell_real(struct teller *t, const char *name, double v, int digits, const char *meaning)
{
	char text[NUMBER] = "";

	if (isfinite(v))
		snprintf(text, sizeof text, "%.*f", digits, v);
	field(t, name, meaning, TOLD_REAL, unsigned_nothing(text));
}

void tell_figure(struct teller *t, const char *name, double v, const char *meaning)
{
	char text[NUMBER] = "";

	if (isfinite(v))
		snprintf(text, sizeof text, "%.3g", v);
	field(t, name, meaning, TOLD_REAL, text);
}

void tell_wholes(struct teller *t, const char *name, const int64_t *v, int n, const char *meaning)
{
	char text[1024] = "";
	const struct told_field f = { .name = name,
				      .meaning = meaning,
				      .type = TOLD_WHOLES,
				      .known = true,
				      .text = text,
				      .whole = v,
				      .wholes = n };

	for (int i = 0, at = 0; i < n && at < (int)sizeof text - NUMBER; i++)
		at += snprintf(text + at, sizeof text - (size_t)at, "%s%" PRId64, i ? " " : "",
			       v[i]);
	t->ops->field(t, &f);
}

void tell_bits(struct teller *t, const char *name, uint64_t bits, const char *meaning)
{
	int64_t v[64];
	int n = 0;

	for (int b = 0; b < 64; b++)
		if (bits >> b & 1)
			v[n++] = b + 1;
	tell_wholes(t, name, v, n, meaning);
}

void tell_open(struct teller *t, const char *name, bool known, const char *meaning)
{
	t->ops->open(t, name, known, meaning);
}

void tell_close(struct teller *t)
{
	t->ops->close(t);
}

void tell_list(struct teller *t, const char *name, const char *meaning)
{
	t->ops->list(t, name, meaning);
}

bool tell_more(struct teller *t, int i, int n)
{
	return t->ops->more(t, i, n);
}
