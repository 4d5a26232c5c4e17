#include "tests/fuzz_log.h"

#include <string.h>

#define MAGIC   0x377f0682u     /* sums over words with the low byte first */
#define FORMAT  3007000u

struct log {
	FILE    *to;
	uint32_t sum[2];
	uint8_t  salt[8];
};

static void big4(uint8_t *to, uint32_t v)
{
	for (int i = 0; i < 4; i++)
		to[i] = (uint8_t)(v >> (24 - 8 * i));
}

static void add_sum(struct log *l, const uint8_t *b, size_t n)
{
	uint32_t w[2];

	for (size_t i = 0; i + 8 <= n; i += 8) {
		memcpy(w, b + i, 8);
		l->sum[0] += w[0] + l->sum[1];
		l->sum[1] += w[1] + l->sum[0];
	}
}

static void put_head(struct log *l, uint32_t page)
{
	uint8_t head[32];

	big4(head, MAGIC);
	big4(head + 4, FORMAT);
	big4(head + 8, page);
	big4(head + 12, 0);
	memcpy(head + 16, l->salt, 8);
	add_sum(l, head, 24);
	big4(head + 24, l->sum[0]);
	big4(head + 28, l->sum[1]);
	fwrite(head, 1, sizeof head, l->to);
}

/* count: pages of the whole once it is committed by this frame; 0: it is not. wrong: added to its sum. */
static void put_frame(struct log *l, uint32_t number, uint32_t count, const uint8_t *page, uint32_t size, uint32_t wrong)
{
	uint8_t head[24];

	big4(head, number);
	big4(head + 4, count);
	memcpy(head + 8, l->salt, 8);
	add_sum(l, head, 8);
	add_sum(l, page, size);
	big4(head + 16, l->sum[0] + wrong);
	big4(head + 20, l->sum[1]);
	fwrite(head, 1, sizeof head, l->to);
	fwrite(page, 1, size, l->to);
}

size_t made_log(struct script *s, const char *path, unsigned char *bytes, size_t n, uint32_t page)
{
	struct log l = { .salt = "saltsal" };
	uint32_t pages = (uint32_t)(n / page), every = 1 + script_byte(s) % 8, wrong = script_byte(s), cut = script_byte(s);
	uint32_t count = pages + (cut >= 250 ? cut : 0);
	char beside[200];

	snprintf(beside, sizeof beside, "%s-wal", path);
	l.to = fopen(beside, "w");
	promise(l.to != NULL, "room for the log");
	bytes[18] = bytes[19] = 2;      /* the file is written by way of a log */
	put_head(&l, page);
	for (uint32_t i = pages; i > 0; i--)
		if (i == 1 || i % every == 0) {
			put_frame(&l, i, i == 1 || cut % 16 == i ? count : 0, bytes + (i - 1) * page, page, wrong == 200 + i);
			if (i > 1)
				memset(bytes + (i - 1) * page, 0, page);
		}
	promise(fclose(l.to) == 0, "room for the log");
	return cut >= 128 && cut < 160 ? (pages - (cut - 128) % pages) * page : n;
}
