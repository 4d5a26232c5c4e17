#ifndef BANDCENSUS_TESTS_DONGLE_TUNER_H
#define BANDCENSUS_TESTS_DONGLE_TUNER_H

#include <stdbool.h>
#include <stdint.h>

/* An R820T behind a dongle's bus. */

#define TUNER_REGISTERS 32
#define TUNER_ADDRESS   0x34    /* with the read bit off */

struct tuner {
	uint8_t registers[TUNER_REGISTERS];
	uint8_t at;             /* register the next read is meant for           */
	bool    no_lock;        /* set from outside: whatever the VCO, no lock    */
	int64_t settings;       /* times the whole part of the divider was written */
};

void tuner_reset(struct tuner *t);

/* Register number, then data. */
void tuner_write(struct tuner *t, const uint8_t *bytes, int n);

/* Always from register 0, each byte bit-reversed. */
void tuner_read(const struct tuner *t, uint8_t *bytes, int n);

double tuner_vco_hz(const struct tuner *t);
double tuner_lo_hz(const struct tuner *t);
bool tuner_locked(const struct tuner *t);
double tuner_gain_db(const struct tuner *t);

#endif
