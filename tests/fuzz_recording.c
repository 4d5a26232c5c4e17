/* Feeds what it is given to the source that plays recordings: the description of one up to the first
 * empty line, its samples behind it; without an empty line all are raw bytes. As it is built, it takes
 * files and folders of them and serves as a test over tests/corpus/recording; tests/fuzz.sh searches
 * for more. */
#include "tests/fuzz_folder.h"

#include <math.h>
#include <string.h>

#include "daemon/source.h"

#define STEM "recording"
#define TAKE 1000               /* samples at once, not a part of any rate */

static void put(const char *path, const void *bytes, size_t n)
{
	FILE *f = fopen(path, "w");

	promise(f && fwrite(bytes, 1, n, f) == n, "room for the file");
	fclose(f);
}

static void promise_block(const struct block *b, int64_t *left)
{
	float value;

	promise(b->n > 0 && b->n <= TAKE && (int64_t)b->n <= *left, "as many as there are");
	promise(b->start_us >= 0 && b->mono_us >= 0, "a time");
	*left -= (int64_t)b->n;
	for (size_t i = 0; b->format == SAMPLE_CF32 && i < 2 * b->n; i++) {
		memcpy(&value, (const char *)b->iq + i * sizeof value, sizeof value);
		promise(isfinite(value), "samples are numbers");
	}
	promise(block_clipped(b) >= 0 && block_clipped(b) <= 1, "a share");
}

/* To its end, twice. */
static void play(void *source, const struct source_about *a)
{
	const struct tuning to = { .centre = a->centre, .rate_hz = a->rate_hz };
	struct fault why = { 0 };
	struct block b;

	promise(source_recording.tune(source, &to, &why) == 0, "it is where it is");
	for (int round = 0; round < 2; round++) {
		int64_t left = (a->length_us + 1) * (int64_t)a->rate_hz / 1000000 + 1;
		int got;
		while ((got = source_recording.read(source, TAKE, &b, &why)) == SOURCE_BLOCK)
			promise_block(&b, &left);
		promise(got == SOURCE_END || got == SOURCE_FAULT, "it ends or says why not");
		if (got == SOURCE_FAULT)
			promise_told(&why);
		promise(source_recording.restart(source, &why) == 0, "it begins again");
	}
}

int LLVMFuzzerTestOneInput(const uint8_t *bytes, size_t n)
{
	const uint8_t *gap = memmem(bytes, n, "\n\n", 2);
	size_t head = gap ? (size_t)(gap - bytes) + 2 : 0;
	char folder[64], meta[100], data[100];
	struct source_request q = { .arg = gap ? meta : data };
	struct source_about about;
	struct fault why = { 0 };

	fuzz_folder(folder);
	snprintf(meta, sizeof meta, "%s/" STEM ".sigmf-meta", folder);
	snprintf(data, sizeof data, "%s/" STEM "%s", folder, gap ? ".sigmf-data" : ".raw");
	if (gap)
		put(meta, bytes, head);
	else
		q.rate_hz = 1024000, q.centre = FREQ_KHZ(156000);
	put(data, bytes + head, n - head);
	void *source = source_recording.open(&q, &why);
	if (source) {
		source_recording.about(source, &about);
		promise(memchr(about.label, '\0', sizeof about.label) != NULL, "a label ends");
		play(source, &about);
		source_recording.close(source);
	} else {
		promise_told(&why);
	}
	fuzz_folder_drop(folder);
	return 0;
}
