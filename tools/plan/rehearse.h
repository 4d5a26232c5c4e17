#ifndef BANDCENSUS_TOOLS_PLAN_REHEARSE_H
#define BANDCENSUS_TOOLS_PLAN_REHEARSE_H

#include <stdbool.h>

/* A scanning receiver played over activity, look by look: what would be heard. */

/* One over on the air. */
struct cue {
	double on_s, off_s;             /* from the start of the script              */
	int    line;                    /* whose: 0 .. lines-1                       */
	bool   reply;                   /* not the first of its exchange             */
};

/* All that is on the air, by on_s; overs of one line do not overlap. */
struct script {
	struct cue *cue;
	int         cues;
	int         lines;
	double      seconds;            /* it lasts                                  */
};

/* A memory the receiver scans. */
struct seat {
	int    line;                    /* several may have one line                 */
	double delay_s;                 /* held so long after an over ends           */
};

/* What the receiver does: looks at each seat in turn, stops where something is on, stays until
 * it ends and the delay has passed without more of it. */
struct stage {
	const struct seat *seat;
	int    seats;                   /* at least one                              */
	double look_s;                  /* a look, retuning and squelch included     */
	int    priority;                /* seat looked at in between; -1: none. seats: one */
					/* more, behind those that are scanned       */
	double priority_s;              /* from one such look to the next            */
};

/* What became of one line. */
struct part {
	int    overs, heard;            /* heard: any of it                          */
	int    replies, replied;        /* replies to an over that was heard; heard  */
	int    exchanges, met;          /* met: any over of it heard                 */
	double air_s, heard_s;
	double late_s;                  /* before the receiver came, of overs heard  */
	int    cut;                     /* overs left for the priority seat          */
	double held_s;                  /* the receiver stood there, delay included  */
};

/* Plays the stage over the script; part[script->lines] is added to, so that many draws of one
 * night sum up. start_s: the scan begins that much into its round, for draws that differ.
 * -1: no memory. */
int rehearse(const struct script *script, const struct stage *stage, double start_s,
	     struct part *part);

#endif
