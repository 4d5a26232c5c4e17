#ifndef BANDCENSUS_TOOLS_PLAN_WORDS_H
#define BANDCENSUS_TOOLS_PLAN_WORDS_H

#include "tools/plan/plan.h"

/* Facts put into words and digits that no locale changes. */

/* "2024-05-06T07:08:09Z" */
#define TIME_TEXT 32
char *words_time(char out[TIME_TEXT], int64_t us);

/* "2024-05-06 09:08", in the place's time. */
char *words_local(char out[TIME_TEXT], const struct census *c, int64_t us);

/* "21:40": of UTC, or of the place's time where census_local_us made it that. */
char *words_clock(char out[8], int64_t us);

/* Below this a voice is hard work to follow (common practice). */
#define FAINT_DB 8.0

/* "37 overs, 21:40-05:10, median 24 dB, tone 100.0", in the place's time; "median 7 dB: faint";
 * "always on: 1290 looks over 12 h, median 40 dB" */
void words_evidence(const struct census *c, const struct channel *ch, char *out, size_t size);

/* "20-05 h, 07-08 h": the hours of a day whose bit is set; "all hours", "no hour". */
char *words_hours(uint32_t hours, char *out, size_t size);

/* What the receiver's display shows at that frequency: later digits are cut. */
char *words_display(struct freq f, int digits, char out[FREQ_TEXT]);

/* What to type: megahertz without zeros that change nothing. */
char *words_typed(struct freq f, char out[FREQ_TEXT]);

#endif
