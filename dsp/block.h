#ifndef BANDCENSUS_DSP_BLOCK_H
#define BANDCENSUS_DSP_BLOCK_H

#include <stdbool.h>
#include <stddef.h>

#include "dsp/freq.h"

/* How a source hands samples over; I first, then Q. Little endian. */
enum sample_format {
	SAMPLE_CU8 = 0,         /* unsigned bytes, zero at 127.5, full scale 127.5 */
	SAMPLE_CI8,             /* signed bytes, full scale 128                    */
	SAMPLE_CI16,            /* signed 16 bit, full scale 32768                 */
	SAMPLE_CF32,            /* float, full scale 1                             */
	SAMPLE_FORMATS
};

/* Bytes of one I/Q pair. */
size_t sample_bytes(enum sample_format f);

/* Consecutive samples at one tuning. Borrowed: valid until the source's next
 * read, tune or close. */
struct block {
	const void        *iq;
	enum sample_format format;
	size_t             n;           /* I/Q pairs                                 */
	int32_t            rate_hz;
	struct freq        centre;      /* where the tuner truly was                 */
	int64_t            start_us;    /* UTC of the first sample                   */
	int64_t            mono_us;     /* the same instant on a clock never stepped */
	bool               gap;         /* samples were lost inside or just before   */
};

/* Share of pairs in which I or Q stands at the end of its range; always 0 for
 * SAMPLE_CF32. */
double block_clipped(const struct block *b);

#endif
