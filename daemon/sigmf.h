#ifndef BANDCENSUS_DAEMON_SIGMF_H
#define BANDCENSUS_DAEMON_SIGMF_H

#include <stddef.h>

#include "dsp/block.h"
#include "store/fault.h"

/* Sample rates a recording may have. */
#define RECORDING_RATE_MIN 48000
#define RECORDING_RATE_MAX 3200000

/* What a SigMF metadata file says of the samples beside it, as far as it
 * matters here: one stretch of I/Q at one tuning. */
struct sigmf {
	enum sample_format format;
	int32_t     rate_hz;            /* 0: it does not say                          */
	struct freq centre;             /* 0: it does not say                          */
	int64_t     start_us;           /* UTC of first_sample; 0 (1970) when not said */
	int64_t     first_sample;       /* of the data file, where the capture begins  */
	int64_t     last_capture;       /* the sample where the last one begins        */
	int64_t     header_bytes;       /* before sample 0 of the data file            */
	int64_t     trailing_bytes;     /* behind the last one                         */
	char        dataset[256];       /* file name of the data; "": the usual one    */
};

/* -1 with a FAULT_INPUT "PATH: captures[0] core:frequency is ..., must be ...":
 * not JSON, wrong types, values out of range, a sample type we do not read,
 * several channels, a retune or a pause in the middle. path is for that line. */
int sigmf_parse(const char *path, const char *text, size_t n, struct sigmf *out, struct fault *why);

/* The same of a file. */
int sigmf_read(const char *path, struct sigmf *out, struct fault *why);

/* "2024-05-06T07:08:09.123Z" (ISO 8601, UTC, 1970 to 2199) to microseconds;
 * -1 when it is not that, out untouched. */
int sigmf_datetime(const char *text, int64_t *us);

#endif
