#ifndef BANDCENSUS_TOOLS_PAGE_REPORT_H
#define BANDCENSUS_TOOLS_PAGE_REPORT_H

#include "tools/export.h"
#include "tools/page/pages.h"
#include "tools/panorama.h"
#include "tools/plan/words.h"

/* What a channel of the census has come to in a plan: its first seat, or why it was left. */
struct outcome {
	const struct memory *memory;    /* NULL: none */
	const struct left   *left;      /* NULL: none */
};

/* All that report.html shows. */
struct report {
	struct told          told;
	struct panorama      panorama;
	const struct plan   *plan;      /* NULL: no receiver was given */
	const struct receiver *receiver;
	struct outcome      *outcome;   /* one a channel               */
	struct run_row      *run;
	int                  runs;
	struct incident_row *incident;
	int                  incidents;
	struct review        review[64];        /* of each bank alone  */
	int                  reviews;
};

/* Reads what the census does not have: runs, incidents and pictures of that part of the survey.
 * told, plan and receiver are filled before. Owned until report_free; -1 with why. */
int report_read(struct report *r, const char *path, const struct night_wants *part, struct fault *why);
void report_free(struct report *r);

/* The page. Returns 0, or -1 when there is no memory. */
int page_report(FILE *to, const struct report *r);

/* Its parts. */
void page_night(struct html *h, const struct report *r);
void page_bands(struct html *h, const struct report *r);
void page_channels(struct html *h, const struct report *r);
void page_each_channel(struct html *h, const struct report *r);
void page_rehearsal(struct html *h, const struct report *r);
void page_ghosts(struct html *h, const struct report *r);

/* A channel's row of a picture of all ("#days", "#nights"), wide cells of it. */
void page_strip(struct html *h, const char *class, const char *of, int row, int wide);

/* Its name in the plan, or who it probably is; and who is listed there. */
void page_who(struct html *h, const struct report *r, int channel);

/* How overs of a channel are spread, lengths, gaps and levels: a picture, and lines of words. */
void page_bars(struct html *h, const struct census *c, const struct channel *ch);
void page_spread(struct html *h, const struct census *c, const struct channel *ch);

/* A link to a channel's own part: "154.235". */
void page_channel_link(struct html *h, const struct census *c, int channel);

/* Time of day at the place: "21:40", with the day where that is longer than a day ago. */
char *page_clock(const struct census *c, int64_t us, char out[TIME_TEXT]);

#endif
