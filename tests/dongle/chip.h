#ifndef BANDCENSUS_TESTS_DONGLE_CHIP_H
#define BANDCENSUS_TESTS_DONGLE_CHIP_H

#include <stdbool.h>
#include <stdint.h>

#include "tests/dongle/tuner.h"

/* An RTL2832U as its control transfers see it: registers of the demodulator, the
 * USB and the system block, and the bus to tuner and EEPROM behind its gate. */

#define CRYSTAL_HZ 28.8e6
#define PAGES      5

struct chip {
	uint8_t demod[PAGES][256];      /* by page                                 */
	uint8_t usb[16], sys[16];       /* those at 0x2148.. and 0x3000..          */
	uint8_t eeprom[256];
	uint8_t eeprom_at;
};

void chip_reset(struct chip *c, const char *serial);

/* The fields of a vendor request. */
struct request {
	bool     in;
	uint16_t value, index;
	uint8_t *bytes;
	uint16_t n;
};

/* Carries it out: bytes moved, or -9 for a pipe error. tuner NULL: nothing
 * answers there. */
int chip_control(struct chip *c, struct tuner *tuner, const struct request *r);

bool chip_is_i2c(const struct request *r);
bool chip_is_tuner_write(const struct request *r);

/* What the registers say. */
double chip_rate_hz(const struct chip *c);      /* 0: not set  */
double chip_if_hz(const struct chip *c);
bool chip_upright(const struct chip *c);
bool chip_counting(const struct chip *c);
bool chip_running(const struct chip *c);        /* the sample endpoint lets data through */
bool chip_bias_tee(const struct chip *c);

#endif
