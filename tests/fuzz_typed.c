/* Feeds what it is given to the reader of plan files, and holds it to its promises.
 * As it is built, it takes files and folders of them and serves as a test over
 * tests/corpus/typed. To search for more, from the root:
 *
 *   clang -fsanitize=fuzzer,address,undefined -D_GNU_SOURCE -I. -o /tmp/fuzz \
 *         tests/fuzz_typed.c tools/typed_read.c tools/table_read.c tools/megahertz.c \
 *         tools/plan/typed.c tools/plan/landing.c tools/plan/receiver.c tools/plan/plan.c \
 *         tools/plan/list.c store/text.c store/fault.c dsp/freq.c dsp/raster.c dsp/band.c -lm
 *   /tmp/fuzz -max_total_time=60 NEW-FOLDER tests/corpus/typed
 */
#include "tests/fuzz.h"

#include <string.h>
#include <sys/mman.h>
#include <unistd.h>

#include "tools/plan/typed.h"

static void promise_ranges(const struct typed *t)
{
	promise(t->line > 1, "a memory comes after the head");
	promise(t->bank >= 1 && t->bank <= 9999 && t->slot >= 0 && t->slot <= 9999, "a place");
	promise(t->frequency.thirds >= 300000 && t->frequency.thirds <= INT64_C(18000000000),
		"a frequency in range");
	promise(t->mode >= MODE_NONE && t->mode < MODE_COUNT, "a mode");
	promise(t->delay_s == -1 || (t->delay_s >= 0 && t->delay_s <= 60), "a delay in range");
	promise(t->noted >= NOTED_NOTHING && t->noted < NOTED_COUNT, "a note");
}

static void promise_refusal(const struct fault *why)
{
	promise(why->kind == FAULT_INPUT, "a refusal is for a person to mend");
	promise(why->text[0] != '\0', "a refusal says why");
	for (const char *p = why->text; *p; p++)
		promise((unsigned char)*p >= ' ' && *p != 0x7f, "a refusal is one line");
}

/* Typed into a small set, with nothing heard. */
static void type_in(const struct typed_list *l)
{
	struct receiver r = {
		.name = "small", .banks = 3, .memories = 4, .scan_rate = 25, .priorities = 1, .reaches = 1,
		.delay_us = { 2000000 }, .delays = 1, .filter_hz = { 0, 9000, 15000, 180000 },
		.reach[0] = { FREQ_KHZ(25000), FREQ_KHZ(800000), 1u << MODE_NFM | 1u << MODE_AM,
			      { FREQ_HZ(5000), FREQ_HZ(12500) }, 2 },
	};
	struct census c = { 0 };
	struct fault why = { 0 };
	struct plan *p = typed_plan(l, "list", &c, &r, &why);

	if (!p) {
		promise_refusal(&why);
		return;
	}
	promise(p->memories == l->n && p->memories <= 12, "all are in the set");
	for (int i = 0; i < p->memories; i++) {
		const struct memory *m = &p->memory[i];
		promise(m->bank >= 1 && m->bank <= 3 && m->slot >= 1 && m->slot <= 4 && m->channel == -1, "a seat");
		promise(m->delay_us == 0 || m->delay_us == 2000000, "a delay that it has");
	}
	plan_destroy(p);
}

int LLVMFuzzerTestOneInput(const uint8_t *bytes, size_t n)
{
	struct fault why = { 0 };
	struct typed_list l;
	char path[64];
	int fd = memfd_create("typed", MFD_CLOEXEC);

	promise(fd >= 0 && write(fd, bytes, n) == (ssize_t)n, "room for the file");
	snprintf(path, sizeof path, "/proc/self/fd/%d", fd);
	if (typed_read(path, &l, &why) < 0) {
		promise_refusal(&why);
		promise(!l.at && l.n == 0, "a refusal keeps nothing");
	} else {
		promise(l.n > 0 && l.n <= TYPED_MOST, "so many");
		for (int i = 0; i < l.n; i++)
			promise_ranges(&l.at[i]);
		type_in(&l);
		typed_free(&l);
	}
	close(fd);
	return 0;
}
