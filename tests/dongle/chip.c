#include "tests/dongle/chip.h"

#include <math.h>
#include <string.h>

#define PIPE_ERROR     -9
#define EEPROM_ADDRESS 0xa0
#define GATE_OPEN      0x18     /* page 1 register 1 */

enum block { BLOCK_DEMOD = 0, BLOCK_USB = 1, BLOCK_SYS = 2, BLOCK_I2C = 6 };

void chip_reset(struct chip *c, const char *serial)
{
	static const uint8_t head[8] = { 0x28, 0x32, 0xda, 0x0b, 0x38, 0x28, 0xa5, 0x16 };
	int at = 9;

	memset(c, 0, sizeof *c);
	c->usb[0] = 0x10;               /* the sample endpoint is held */
	c->usb[1] = 0x02;
	memcpy(c->eeprom, head, sizeof head);
	/* Its strings, in UTF-16 as USB has them; the last is the serial. */
	c->eeprom[at] = (uint8_t)(2 + 2 * strlen(serial));
	c->eeprom[at + 1] = 3;
	for (int i = 0; serial[i]; i++)
		c->eeprom[at + 2 + 2 * i] = (uint8_t)serial[i];
}

static enum block block_of(const struct request *r)
{
	return (enum block)(r->index >> 8);
}

bool chip_is_i2c(const struct request *r)
{
	return block_of(r) == BLOCK_I2C;
}

bool chip_is_tuner_write(const struct request *r)
{
	return chip_is_i2c(r) && !r->in && r->value == TUNER_ADDRESS;
}

/* The bytes of n registers from `at` on; two-byte values have the high one first. */
static void move(uint8_t *registers, unsigned at, unsigned room, const struct request *r)
{
	for (unsigned i = 0; i < r->n && at + i < room; i++) {
		if (r->in)
			r->bytes[i] = registers[at + i];
		else
			registers[at + i] = r->bytes[i];
	}
}

static int move_eeprom(struct chip *c, const struct request *r)
{
	for (int i = 0; i < r->n; i++) {
		if (r->in)
			r->bytes[i] = c->eeprom[c->eeprom_at++];
		else if (i == 0)
			c->eeprom_at = r->bytes[0];
		else
			c->eeprom[c->eeprom_at++] = r->bytes[i];
	}
	return r->n;
}

/* The tuner hears nothing while the gate is shut; what is not there never answers. */
static int move_i2c(struct chip *c, struct tuner *tuner, const struct request *r)
{
	if (r->value == EEPROM_ADDRESS)
		return move_eeprom(c, r);
	if (r->value != TUNER_ADDRESS || !tuner || c->demod[1][1] != GATE_OPEN)
		return PIPE_ERROR;
	if (r->in)
		tuner_read(tuner, r->bytes, r->n);
	else
		tuner_write(tuner, r->bytes, r->n);
	return r->n;
}

int chip_control(struct chip *c, struct tuner *tuner, const struct request *r)
{
	if (r->in)
		memset(r->bytes, 0, r->n);
	switch (block_of(r)) {
	case BLOCK_DEMOD:
		/* After each write page 10 is read: anything will do. */
		if ((r->index & 0x0f) < PAGES)
			move(c->demod[r->index & 0x0f], r->value >> 8, 256, r);
		break;
	case BLOCK_USB:
		if (r->value >= 0x2148 && r->value < 0x2158)
			move(c->usb, r->value - 0x2148u, sizeof c->usb, r);
		break;
	case BLOCK_SYS:
		if (r->value >= 0x3000 && r->value < 0x3010)
			move(c->sys, r->value - 0x3000u, sizeof c->sys, r);
		break;
	case BLOCK_I2C:
		return move_i2c(c, tuner, r);
	}
	return r->n;
}

static int32_t signed_of(uint32_t bits, int width)
{
	uint32_t top = UINT32_C(1) << (width - 1);
	return (int32_t)((bits ^ top) - top);
}

/* Crystal * 2^22 / ratio, trimmed in steps of 2^-24. Bit 28 of the ratio can't be
 * written: it counts as set when bit 27 is. */
double chip_rate_hz(const struct chip *c)
{
	const uint8_t *p = c->demod[1];
	uint32_t ratio = ((uint32_t)p[0x9f] << 24 | (uint32_t)p[0xa0] << 16 |
			  (uint32_t)p[0xa1] << 8 | p[0xa2]) & 0x0ffffffc;
	int32_t trim = signed_of((uint32_t)(p[0x3e] & 0x3f) << 8 | p[0x3f], 14);

	ratio |= (ratio & 0x08000000) << 1;
	return ratio ? CRYSTAL_HZ * 0x1p22 / ratio * (1 + trim * 0x1p-24) : 0;
}

double chip_if_hz(const struct chip *c)
{
	const uint8_t *p = c->demod[1];
	uint32_t bits = (uint32_t)(p[0x19] & 0x3f) << 16 | (uint32_t)p[0x1a] << 8 | p[0x1b];

	return -signed_of(bits, 22) * CRYSTAL_HZ * 0x1p-22;
}

bool chip_upright(const struct chip *c)
{
	return c->demod[1][0x15] & 0x01;
}

bool chip_counting(const struct chip *c)
{
	return c->demod[0][0x19] == 0x03;
}

/* 0x1002 holds and flushes the endpoint, 0 lets it run. */
bool chip_running(const struct chip *c)
{
	return c->usb[0] == 0 && c->usb[1] == 0;
}

bool chip_bias_tee(const struct chip *c)
{
	return c->sys[1] & 0x01;
}
