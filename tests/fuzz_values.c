/* Feeds what it is given to whoever reads one value that a stranger wrote: packed levels and strips of a survey, a
 * band's splits, frequencies, lengths and moments, text that is to be tamed. The first byte says which. As it is
 * built, it takes files and folders of them and serves as a test over tests/corpus/values; tests/fuzz.sh searches
 * for more. */
#include "tests/fuzz.h"

#include <string.h>

#include "dsp/band.h"
#include "store/levels.h"
#include "store/moment.h"
#include "store/settings.h"
#include "store/strip.h"
#include "store/text.h"

/* What was read and is packed again is what was read. */
static void try_levels(const uint8_t *bytes, size_t n)
{
	int64_t us[LEVEL_BINS], looks[LEVEL_BINS], us_again[LEVEL_BINS], looks_again[LEVEL_BINS];
	uint8_t packed[LEVELS_ROOM];

	if (levels_unpack(bytes, n, us, looks) < 0) {
		for (int i = 0; i < LEVEL_BINS; i++)
			promise(us[i] == 0 && looks[i] == 0, "what is refused is nothing");
		return;
	}
	size_t used = levels_pack(us, looks, packed);
	promise(used <= sizeof packed && levels_unpack(packed, used, us_again, looks_again) == 0, "it is packed again");
	promise(memcmp(us, us_again, sizeof us) == 0 && memcmp(looks, looks_again, sizeof looks) == 0, "and is the same");
}

/* So many cells as the first two bytes say. */
static void try_strip(const uint8_t *bytes, size_t n)
{
	size_t cells = n < 2 ? 1 : (size_t)(bytes[0] << 8 | bytes[1]) + 1;
	uint8_t *cell = malloc(cells), *again = malloc(cells), *packed = malloc(strip_room(cells));

	promise(cell && again && packed, "memory for the cells");
	int bad = strip_unpack(n < 2 ? bytes : bytes + 2, n < 2 ? n : n - 2, cell, cells);
	for (size_t i = 0; i < cells; i++)
		promise(bad ? cell[i] == STRIP_NOT_LOOKED : cell[i] < STRIP_HEARD + LEVEL_BINS, "a cell");
	size_t used = strip_pack(cell, cells, packed);
	promise(used > 0 && strip_unpack(packed, used, again, cells) == 0 && memcmp(cell, again, cells) == 0,
		"it is packed again, and is the same");
	free(cell);
	free(again);
	free(packed);
}

static void try_splits(const char *text)
{
	struct band b = { .id = "b" }, again = { .id = "b" };
	char words[BAND_SPLITS_TEXT];

	if (band_splits_parse(&b, text) == 0)
		promise(band_splits_parse(&again, band_splits_text(&b, words)) == 0 &&
			memcmp(b.split, again.split, sizeof b.split) == 0, "splits said again are the same");
}

static void try_frequency(const char *text)
{
	struct freq f, again;
	char words[FREQ_TEXT];

	if (freq_parse(text, &f) < 0)
		return;
	promise(strlen(freq_format_mhz(words, f)) < sizeof words, "a frequency fits");
	if (llabs(f.thirds) < INT64_C(3000000000000))   /* a terahertz: farther up it has more digits than are read */
		promise(freq_parse(freq_format(words, f), &again) == 0 && again.thirds == f.thirds,
			"said again it is the same");
}

static void try_length(const char *text)
{
	int64_t us = 0;

	if (duration_parse(text, &us) == 0)
		promise(us >= 0 || strchr(text, '-'), "a length is not negative by itself");
}

static void try_moment(const char *text)
{
	struct moment m = { 0 };
	struct fault why = { 0 };
	int64_t us = 0;

	if (moment_parse(text, &m) < 0)
		return;
	promise(m.given && m.month <= 12 && m.day <= 31 && m.hour <= 24 && m.minute <= 59, "a moment");
	if (moment_us(&m, INT64_C(1767225600000000), false, "--since", &us, &why) < 0)
		promise_refusal(&why);
	else
		promise(m.dated || us >= INT64_C(1767225600000000), "the first not before");
}

static void try_tame(const char *text)
{
	char *once = strdup(text), *twice = strdup(text);

	promise(once && twice, "memory for the text");
	text_tame(once);
	for (const char *p = once; *p; p++)
		promise((unsigned char)*p >= ' ' && *p != 0x7f, "tame text has no controls");
	strcpy(twice, once);
	promise(strcmp(text_tame(twice), once) == 0 && strlen(once) <= strlen(text), "tame text stays as it is");
	free(once);
	free(twice);
}

int LLVMFuzzerTestOneInput(const uint8_t *bytes, size_t n)
{
	static void (*const packed[])(const uint8_t *bytes, size_t n) = { try_levels, try_strip };
	static void (*const texts[])(const char *text) = { try_splits, try_frequency, try_length, try_moment, try_tame };
	const size_t n_packed = sizeof packed / sizeof packed[0], all = n_packed + sizeof texts / sizeof texts[0];

	if (n == 0)
		return 0;
	size_t which = bytes[0] % all;
	if (which < n_packed) {
		packed[which](bytes + 1, n - 1);
		return 0;
	}
	char *text = malloc(n);
	promise(text != NULL, "memory for the text");
	memcpy(text, bytes + 1, n - 1);
	text[n - 1] = '\0';
	texts[which - n_packed](text);
	free(text);
	return 0;
}
