/* A mutator of text for targets whose readers know cells and values: half of the time one cell is another's, an odd
 * value or gone, or a line is there again, elsewhere or not at all; else libFuzzer does as it does. A cell is what
 * lies between the marks of CSV, settings and JSON. */
#include "tests/fuzz.h"

#include <string.h>

size_t LLVMFuzzerMutate(uint8_t *bytes, size_t n, size_t most);
size_t LLVMFuzzerCustomMutator(uint8_t *bytes, size_t n, size_t most, unsigned seed);

static const char *const odd[] = {
	"", "0", "-1", "1", "2", "1e308", "-1e308", "1e-320", "nan", "inf", "2147483647", "2147483648", "-2147483648",
	"9223372036854775807", "9223372036854775808", "-9223372036854775808", "0.0000001", "99999999999999999999", "0x7f",
	"true", "yes", "no", "null", "\"", "\"\"", "'", "=1+1", "\x1b[2J", "\xff", "\xe2\x80\xae", " ", "\t", "1 s", "1 h",
	"100 years", "-1 s", "154.235", "154235 kHz", "0 Hz", "6 GHz", "1000 GHz", "8.3333", "25/3 kHz", "24:00", "21:00-05:00",
	"-1 day", "2026-02-30 25:61",
};
#define ODD (sizeof odd / sizeof odd[0])

static unsigned draw(unsigned *seed, size_t n)
{
	*seed = *seed * 1103515245u + 12345u;
	return n ? (*seed >> 8) % (unsigned)n : 0;
}

static bool is_mark(uint8_t c)
{
	return c == '\n' || c == '\r' || strchr(",;=(){}[]:\"", c) != NULL;
}

struct part {
	size_t from, to;
};

/* The cell, or with lines the line and its end, about a place. */
static struct part part_at(const uint8_t *bytes, size_t n, size_t at, bool lines)
{
	struct part p = { at, at };

	while (p.from > 0 && (lines ? bytes[p.from - 1] != '\n' : !is_mark(bytes[p.from - 1])))
		p.from--;
	while (p.to < n && (lines ? bytes[p.to] != '\n' : !is_mark(bytes[p.to])))
		p.to++;
	if (lines && p.to < n)
		p.to++;
	return p;
}

/* with, of k bytes, in place of a part; as it was where there is no room. */
static size_t replace(uint8_t *bytes, size_t n, size_t most, struct part p, const void *with, size_t k)
{
	size_t left = n - (p.to - p.from) + k;

	if (left > most)
		return n;
	memmove(bytes + p.from + k, bytes + p.to, n - p.to);
	memcpy(bytes + p.from, with, k);
	return left;
}

size_t LLVMFuzzerCustomMutator(uint8_t *bytes, size_t n, size_t most, unsigned seed)
{
	if (n == 0 || draw(&seed, 2))
		return LLVMFuzzerMutate(bytes, n, most);
	unsigned how = draw(&seed, 7);
	bool lines = how >= 4;
	struct part to = part_at(bytes, n, draw(&seed, n), lines), from = part_at(bytes, n, draw(&seed, n), lines);
	const char *value = odd[draw(&seed, ODD)];
	size_t k = from.to - from.from;
	uint8_t *copy = malloc(k + 1);

	promise(copy != NULL, "memory for a cell");
	memcpy(copy, bytes + from.from, k);
	if (how == 0 || how == 1)               /* an odd value */
		n = replace(bytes, n, most, to, value, strlen(value));
	else if (how == 2 || how == 4)          /* another's */
		n = replace(bytes, n, most, to, copy, k);
	else if (how == 3 || how == 5)          /* gone */
		n = replace(bytes, n, most, to, "", 0);
	else                                    /* a line is there again */
		n = replace(bytes, n, most, (struct part){ to.from, to.from }, copy, k);
	free(copy);
	return n;
}
