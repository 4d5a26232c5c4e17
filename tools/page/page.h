#ifndef BANDCENSUS_TOOLS_PAGE_PAGE_H
#define BANDCENSUS_TOOLS_PAGE_PAGE_H

#include "tools/page/html.h"

/* What all pages have: one file that asks nothing of any network. Its policy lets it load
 * nothing, and run and look like nothing but style.css and script.js, by their SHA-256. */
void page_begin(struct html *h, const char *title);
/* script: whether script.js comes along. */
void page_end(struct html *h, bool script);

/* A heading and its paragraphs, in a section of that id; html_close ends it. */
void page_section(struct html *h, const char *id, const char *title);
void page_paragraphs(struct html *h, const char *const *text);          /* up to NULL */
void page_list(struct html *h, const char *const *text);

/* A row of headings of a table, "head" up to NULL. */
void page_heads(struct html *h, const char *const *head);

/* A table that scrolls by itself where it is too wide, by keys too, named by what has that id. Rows
 * follow, then page_table_end. */
void page_table(struct html *h, const char *named_by, const char *const *head);
void page_table_end(struct html *h);

/* style.css and script.js, and "sha256-..." of each (tools/page/embed.sh). */
extern const char page_style[], page_script[];
extern const char page_style_hash[], page_script_hash[];

#endif
