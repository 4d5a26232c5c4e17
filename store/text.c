#include "store/text.h"

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

/* Bytes of the character that begins here, its number in *c; 0: no UTF-8. */
static int decode(const unsigned char *s, uint32_t *c)
{
	static const struct { uint32_t least; unsigned char mask, mark;
	} forms[] = {
		{ 0, 0x80, 0x00 },
		{ 0x80, 0xe0, 0xc0 },
		{ 0x800, 0xf0, 0xe0 },
		{ 0x10000, 0xf8, 0xf0 },
	};

	for (int more = 0; more < 4; more++) {
		if ((s[0] & forms[more].mask) != forms[more].mark)
			continue;
		*c = s[0] & (unsigned char)~forms[more].mask;
		for (int i = 1; i <= more; i++) {
			if ((s[i] & 0xc0) != 0x80)      /* the end of the text is none either */
				return 0;
			*c = *c << 6 | (s[i] & 0x3f);
		}
		return *c >= forms[more].least ? more + 1 : 0;
	}
	return 0;
}

static const struct { uint32_t first, last; } unfit[] = {
	{ 0x0001, 0x001f }, { 0x007f, 0x009f }, { 0x200b, 0x200f }, { 0x2028, 0x202e },
	{ 0x2060, 0x206f }, { 0xd800, 0xdfff }, { 0xfeff, 0xfeff }, { 0x110000, UINT32_MAX },
};

static bool ends_line(const unsigned char *s)
{
	return *s == '\n' || *s == '\t' || (s[0] == '\r' && s[1] == '\n');
}

static char *tame(char *text, bool lines)
{
	const unsigned char *from = (const unsigned char *)text;
	char *to = text;
	uint32_t c;

	while (*from) {
		int n = decode(from, &c);
		bool fit = n > 0;
		for (size_t i = 0; fit && i < sizeof unfit / sizeof unfit[0]; i++)
			fit = c < unfit[i].first || c > unfit[i].last;
		fit = fit || (lines && ends_line(from));
		if (!fit)
			*to++ = '?';
		for (int i = 0; fit && i < n; i++)
			*to++ = (char)from[i];
		from += n > 0 ? n : 1;
	}
	*to = '\0';
	return text;
}

char *text_tame(char *text)
{
	return tame(text, false);
}

char *text_tame_lines(char *text)
{
	return tame(text, true);
}
