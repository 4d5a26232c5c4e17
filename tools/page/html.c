#include "tools/page/html.h"

#include <assert.h>
#include <stdarg.h>
#include <stdlib.h>
#include <string.h>

#include "store/text.h"

/* Within text and within attributes in double quotes alike (HTML, Living Standard, 13.1.2 to
 * 13.1.4, from memory). */
static void escape(FILE *to, const char *text)
{
	for (size_t n; *text; text += n + 1) {
		n = strcspn(text, "&<>\"'");
		fwrite(text, 1, n, to);
		if (!text[n])
			break;
		fprintf(to, "&#%d;", text[n]);
	}
}

void html_text(struct html *h, const char *text)
{
	char *tame = strdup(text);

	if (!tame) {
		h->failed = true;
		return;
	}
	escape(h->to, text_tame(tame));
	free(tame);
}

void html_textf(struct html *h, const char *format, ...)
{
	char *text = NULL;
	va_list ap;

	va_start(ap, format);
	if (vasprintf(&text, format, ap) < 0)
		h->failed = true;
	else
		html_text(h, text);
	va_end(ap);
	free(text);
}

static void tag(struct html *h, const char *element, va_list ap)
{
	const char *name;

	fprintf(h->to, "<%s", element);
	while ((name = va_arg(ap, const char *))) {
		fprintf(h->to, " %s=\"", name);
		html_text(h, va_arg(ap, const char *));
		fputc('"', h->to);
	}
	fputc('>', h->to);
}

static void push(struct html *h, const char *element)
{
	assert(h->deep < HTML_DEEP);
	h->open[h->deep++] = element;
}

void html_open(struct html *h, const char *element, ...)
{
	va_list ap;

	va_start(ap, element);
	tag(h, element, ap);
	va_end(ap);
	push(h, element);
}

/* In SVG an element without an end would hold all that follows. */
void html_void(struct html *h, const char *element, ...)
{
	static const char *const bare[] = { "br", "input", "meta", "img", "hr", "col" };
	va_list ap;

	va_start(ap, element);
	tag(h, element, ap);
	va_end(ap);
	for (size_t i = 0; i < sizeof bare / sizeof bare[0]; i++)
		if (strcmp(element, bare[i]) == 0)
			return;
	fprintf(h->to, "</%s>", element);
}

void html_leaf(struct html *h, const char *element, const char *text, ...)
{
	va_list ap;

	va_start(ap, text);
	tag(h, element, ap);
	va_end(ap);
	html_text(h, text);
	fprintf(h->to, "</%s>", element);
}

void html_close(struct html *h)
{
	assert(h->deep > 0);
	fprintf(h->to, "</%s>", h->open[--h->deep]);
}

void html_ours(struct html *h, const char *markup)
{
	fputs(markup, h->to);
}

/* RFC 4648, section 4; out has room for 4 * ceil(n / 3) and the end. */
static void base64(const uint8_t *in, size_t n, char *out)
{
	static const char digit[] =
		"ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789+/";

	for (size_t i = 0; i < n; i += 3) {
		unsigned v = (unsigned)in[i] << 16 | (i + 1 < n ? (unsigned)in[i + 1] << 8 : 0) |
			     (i + 2 < n ? in[i + 2] : 0);
		*out++ = digit[v >> 18];
		*out++ = digit[v >> 12 & 63];
		*out++ = i + 1 < n ? digit[v >> 6 & 63] : '=';
		*out++ = i + 2 < n ? digit[v & 63] : '=';
	}
	*out = '\0';
}

char *html_picture(const struct png_picture *p)
{
	static const char head[] = "data:image/png;base64,";
	size_t n;
	uint8_t *file = png_encode(p, &n);
	char *uri = file ? malloc(sizeof head + (n + 2) / 3 * 4) : NULL;

	if (uri) {
		strcpy(uri, head);
		base64(file, n, uri + sizeof head - 1);
	}
	free(file);
	return uri;
}
