#ifndef BANDCENSUS_TOOLS_PAGE_HTML_H
#define BANDCENSUS_TOOLS_PAGE_HTML_H

#include <stdbool.h>
#include <stdio.h>

#include "tools/png.h"

/* HTML to a stream, element by element. The one place where text is escaped: all that goes
 * through here is shown as it is and never read as mark-up, whoever wrote it. Besides, controls and
 * characters that turn lines about become '?' (store/text.h). */
#define HTML_DEEP 32

struct html {
	FILE       *to;
	const char *open[HTML_DEEP];    /* names, borrowed until closed              */
	int         deep;
	bool        failed;             /* no memory: what was written is incomplete */
};

/* Attributes follow as name, value, name, value ..., NULL. */
void html_open(struct html *h, const char *element, ...) __attribute__((sentinel));
/* One that has nothing in it and no end: br, input, meta; in SVG path, image ... */
void html_void(struct html *h, const char *element, ...) __attribute__((sentinel));
/* With text alone in it. */
void html_leaf(struct html *h, const char *element, const char *text, ...) __attribute__((sentinel));
void html_close(struct html *h);        /* the innermost */

void html_text(struct html *h, const char *text);
void html_textf(struct html *h, const char *format, ...) __attribute__((format(printf, 2, 3)));

/* Mark-up of our own, never anything from a file. */
void html_ours(struct html *h, const char *markup);

/* "data:image/png;base64,...", to be freed. NULL: no memory. */
char *html_picture(const struct png_picture *p);

#endif
