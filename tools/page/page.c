#include "tools/page/page.h"

void page_begin(struct html *h, const char *title)
{
	char policy[300];

	snprintf(policy, sizeof policy,
		 "default-src 'none'; img-src data:; style-src '%s'; script-src '%s'; "
		 "base-uri 'none'; form-action 'none'",
		 page_style_hash, page_script_hash);
	html_ours(h, "<!DOCTYPE html>\n");
	html_open(h, "html", "lang", "en", NULL);
	html_open(h, "head", NULL);
	html_void(h, "meta", "charset", "utf-8", NULL);
	html_void(h, "meta", "http-equiv", "Content-Security-Policy", "content", policy, NULL);
	html_void(h, "meta", "name", "viewport", "content", "width=device-width, initial-scale=1",
		  NULL);
	html_void(h, "meta", "name", "color-scheme", "content", "light dark", NULL);
	html_void(h, "meta", "name", "referrer", "content", "no-referrer", NULL);
	html_leaf(h, "title", title, NULL);
	html_ours(h, "<style>");
	html_ours(h, page_style);
	html_ours(h, "</style>\n");
	html_close(h);
	html_open(h, "body", NULL);
	html_open(h, "main", NULL);
	html_leaf(h, "h1", title, NULL);
}

void page_end(struct html *h, bool script)
{
	html_close(h);
	if (script) {
		html_ours(h, "\n<script>");
		html_ours(h, page_script);
		html_ours(h, "</script>");
	}
	html_close(h);
	html_close(h);
	html_ours(h, "\n");
}

void page_section(struct html *h, const char *id, const char *title)
{
	char heading[40];

	snprintf(heading, sizeof heading, "%s-h", id);
	html_ours(h, "\n");
	html_open(h, "section", "id", id, "aria-labelledby", heading, NULL);
	html_leaf(h, "h2", title, "id", heading, NULL);
}

void page_paragraphs(struct html *h, const char *const *text)
{
	for (; *text; text++)
		html_leaf(h, "p", *text, NULL);
}

void page_list(struct html *h, const char *const *text)
{
	html_open(h, "ul", NULL);
	for (; *text; text++)
		html_leaf(h, "li", *text, NULL);
	html_close(h);
}

void page_heads(struct html *h, const char *const *head)
{
	html_open(h, "thead", NULL);
	html_open(h, "tr", NULL);
	for (; *head; head++)
		html_leaf(h, "th", *head, "scope", "col", NULL);
	html_close(h);
	html_close(h);
}

void page_table(struct html *h, const char *named_by, const char *const *head)
{
	html_open(h, "div", "class", "wide", "tabindex", "0", "role", "region", "aria-labelledby",
		  named_by, NULL);
	html_open(h, "table", NULL);
	page_heads(h, head);
	html_open(h, "tbody", NULL);
}

void page_table_end(struct html *h)
{
	for (int i = 0; i < 3; i++)
		html_close(h);
}
