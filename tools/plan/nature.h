#ifndef BANDCENSUS_TOOLS_PLAN_NATURE_H
#define BANDCENSUS_TOOLS_PLAN_NATURE_H

#include <stdbool.h>
#include <stddef.h>

#include "dsp/designator.h"
#include "dsp/emission.h"
#include "dsp/subtone.h"
#include "tools/plan/interval.h"

/* What a channel carries, as far as its overs agree: kind, widths, deviation or depth, and
 * who shares it by the tone or code below speech. */

/* A figure measured sample by sample, in those overs that were heard for long enough. */
struct gauge {
	int             overs;          /* so many; 0: in none, and all else is 0         */
	double          median;
	struct interval likely;         /* where the median of all such overs lies: 95 %; */
					/* of fewer than six, the least and the most      */
};

struct nature {
	struct gauge occupied_hz;       /* 99 % of the power (ITU RR 1.153)               */
	struct gauge down26_hz;         /* outside it all is 26 dB down from its strongest 62.5 Hz: */
					/* of AM hardly more than the carrier             */
	struct gauge deviation_hz;      /* FM: peak                                       */
	struct gauge am_depth;          /* AM: peak, 0 .. 1                               */
	int          system_hz;         /* FM voice: peak deviation that it is built for; */
					/* 0: not known                                   */
	bool         talks;             /* data in overs and replies as voice has         */
	char         designator[DESIGNATOR_TEXT];       /* a hint; "": not known          */
	struct users users;             /* users.overs: long enough to tell               */
	int          believed;          /* of users.user, the first so many: those agreed on. */
					/* One without tone and code is toneless; 0: not known */
};

struct census;
struct channel;

/* Of a channel whose overs are indexed and their lengths measured: its kind, how sure that
 * is, and its nature. work: room for the overs. */
void nature_settle(const struct census *c, struct channel *ch, double *work);

/* The tone of the user heard most, in tenths of a hertz; 0: none is agreed on, or that one
 * has none. */
int32_t nature_tone_ddhz(const struct nature *n);

#define NATURE_TEXT 240

/* "tone 100.0"; "code 023 (or 047 inverted)"; "no tone"; "two users: 100.0 and 123.0"; ""
 * when it is not known. Returns out. */
char *nature_users_words(const struct nature *n, char *out, size_t size);

/* The same for a sheet, with "16K0F3E probably" when that was measured. */
char *nature_brief(const struct nature *n, char *out, size_t size);

/* What a person asks for, each with how many overs say so: "tone 100.0 (12 of 13 overs);
 * 99 % in 8.4 kHz (17 overs: 8.1-8.9)"; "" when nothing was measured. */
char *nature_words(const struct nature *n, char *out, size_t size);

#endif
