#ifndef BANDCENSUS_TOOLS_EXPORT_H
#define BANDCENSUS_TOOLS_EXPORT_H

#include <stdio.h>

#include "tools/plan/plan.h"
#include "tools/plan/rasters.h"

/* Census and plan for other programs. Each returns 0, or -1 when there is no
 * memory; whether all was written the stream tells. */

/* json.c: what a program reads. */
int json_channels(FILE *to, const struct census *c, const struct suspect *s, int min_overs);
int json_plan(FILE *to, const struct plan *p, const struct census *c);
int json_rasters(FILE *to, const struct census *c, const struct raster_told *t); /* one a band */

/* csv.c: RFC 4180, lines end in CR LF. */
int csv_channels(FILE *to, const struct census *c, const struct suspect *s, int min_overs);
int csv_plan(FILE *to, const struct plan *p);
int csv_rasters(FILE *to, const struct census *c, const struct raster_told *t);

/* sheet.c: for a person who must type it in. */
int sheet_plan(FILE *to, const struct plan *p, const struct census *c, const struct receiver *r);

#endif
