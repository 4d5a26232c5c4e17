#ifndef BANDCENSUS_TOOLS_PAGE_PAGES_H
#define BANDCENSUS_TOOLS_PAGE_PAGES_H

#include "tools/page/page.h"
#include "tools/plan/plan.h"

/* plan.html, for paper: a bank a page. Each returns 0, or -1 when there is no memory; whether
 * all was written the stream tells. */
int page_sheet(FILE *to, const struct plan *p, const struct census *c, const struct receiver *r);

/* Its parts, for the report too. */
void page_sets(struct html *h, const struct plan *p, const struct census *c);
void page_changes(struct html *h, const struct plan *p, int digits);   /* nothing for an empty set */
void page_banks(struct html *h, const struct plan *p, const struct receiver *r);
void page_ranges(struct html *h, const struct plan *p, const struct receiver *r);
void page_left_out(struct html *h, const struct plan *p, const struct census *c);
void page_not_looked(struct html *h, const struct census *c, const struct unknown *u);

#endif
