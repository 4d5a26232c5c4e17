/* Feeds what it is given to the settings reader and the band plan reader, and holds
 * them to their promises. As it is built, it takes files and folders of them and
 * serves as a test over tests/corpus/settings. tests/fuzz.sh searches for more. */
#include "tests/fuzz.h"

#include <string.h>
#include <sys/mman.h>
#include <unistd.h>

#include "store/settings.h"

struct inner {
	char         id[8];
	struct freqs spots;
};

struct outer {
	char         kind[16], word[8];
	bool         flag;
	int32_t      count;
	double       gain, plain;
	int64_t      hang;
	struct freq  centre;
	int          colour;
	struct texts names;
	struct rows  rows;
};

#define AT(of, member) .at = offsetof(struct of, member), .size = sizeof ((struct of *)0)->member

static const char *const colours[] = { "red", "green", NULL };

static const struct field inner_fields[] = {
	{ .name = "id", .type = FIELD_TEXT, AT(inner, id) },
	{ .name = "spots", .type = FIELD_FREQS, AT(inner, spots), .preset = "" },
	{ 0 }
};

static const struct field outer_fields[] = {
	{ .name = "kind", .type = FIELD_TEXT, AT(outer, kind), .preset = "" },
	{ .name = "word", .type = FIELD_TEXT, AT(outer, word), .preset = "a" },
	{ .name = "flag", .type = FIELD_BOOL, AT(outer, flag), .preset = "true" },
	{ .name = "count", .type = FIELD_INT, AT(outer, count), .min = 1, .max = 10, .preset = "1" },
	{ .name = "gain", .type = FIELD_NUMBER, AT(outer, gain), .min = -10, .max = 60, .unit = "dB",
	  .preset = "0 dB" },
	{ .name = "plain", .type = FIELD_NUMBER, AT(outer, plain), .min = 0, .max = 1, .preset = "0" },
	{ .name = "hang", .type = FIELD_DURATION, AT(outer, hang), .min = 0, .max = 60,
	  .preset = "1 s" },
	{ .name = "centre", .type = FIELD_FREQ, AT(outer, centre), .min = 1e6, .max = 2e9,
	  .preset = "1 GHz" },
	{ .name = "colour", .type = FIELD_CHOICE, AT(outer, colour), .choices = colours,
	  .preset = "red" },
	{ .name = "names", .type = FIELD_TEXTS, AT(outer, names), .preset = "" },
	{ .name = "rows", .type = FIELD_ROWS, .at = offsetof(struct outer, rows),
	  .size = sizeof(struct inner), .rows_of = inner_fields, .preset = "" },
	{ 0 }
};

static void try_settings(const char *path)
{
	struct fault why = { 0 };
	struct outer o;

	if (settings_read(path, outer_fields, &o, &why) < 0) {
		promise_refusal(&why);
		promise(!o.names.at && !o.rows.at, "a refusal keeps nothing");
		return;
	}
	promise(memchr(o.word, '\0', sizeof o.word) != NULL, "text ends");
	promise(o.count >= 1 && o.count <= 10, "a whole number in range");
	promise(o.gain >= -10 && o.gain <= 60 && o.plain >= 0 && o.plain <= 1, "numbers in range");
	promise(o.hang >= 0 && o.hang <= 60000000, "a time in range");
	promise(o.centre.thirds >= INT64_C(3000000) && o.centre.thirds <= INT64_C(6000000000),
		"a frequency in range");
	promise(o.colour == 0 || o.colour == 1, "a choice");
	for (int i = 0; i < o.names.n; i++)
		promise(memchr(o.names.at[i], '\0', sizeof o.names.at[i]) != NULL, "texts end");
	for (int i = 0; i < o.rows.n; i++)
		promise(o.rows.line[i] > 0, "rows have lines");
	settings_free(outer_fields, &o);
}

int LLVMFuzzerTestOneInput(const uint8_t *bytes, size_t n)
{
	struct fault why = { 0 };
	char path[64], kind[16];
	int fd = memfd_create("settings", MFD_CLOEXEC);

	promise(fd >= 0 && write(fd, bytes, n) == (ssize_t)n, "room for the file");
	snprintf(path, sizeof path, "/proc/self/fd/%d", fd);
	try_settings(path);
	if (settings_kind(path, kind, sizeof kind, &why) < 0)
		promise_refusal(&why);
	close(fd);
	return 0;
}
