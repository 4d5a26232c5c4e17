#ifndef BANDCENSUS_DAEMON_OPTIONS_H
#define BANDCENSUS_DAEMON_OPTIONS_H

#include <stdbool.h>
#include <stdint.h>

#include "dsp/freq.h"
#include "store/options.h"

/* bandcensusd's command line. */
struct options {
	const char *config;             /* NULL: presets        */
	const char *survey;
	const char *folder;             /* of weekly surveys    */
	struct option_texts source;     /* one receiver each; "dongle" when absent */
	const char *page, *page_token;  /* NULL: no page; no token */
	const char *start;              /* NULL: as the town's file says */
	const char *truth;              /* NULL: none           */
	int32_t     rate_hz;            /* 0: not given         */
	struct freq centre, step;       /* 0: not given         */
	int64_t     for_us;             /* 0: until stopped     */
	int64_t     limit_bytes;        /* 0: none              */
	uint64_t    seed;
	bool        check, calibrate, baseline, antenna_off, help, version;
};

/* The table it is read by; *rows: how many. */
const struct option_row *options_table(int *rows);

/* -1 with why: an unknown option, a value that is none, a word too many. */
int options_read(int argc, char **argv, struct options *out, struct fault *why);

/* What --help prints. */
void options_help(void);

#endif
