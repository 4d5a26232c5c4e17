/* Feeds what it is given to the reader of licence lists, and holds it to its promises.
 * As it is built, it takes files and folders of them and serves as a test over
 * tests/corpus/licences. tests/fuzz.sh searches for more. */
#include "tests/fuzz_table.h"

#include <string.h>

#include "store/text.h"
#include "tools/plan/licences.h"

static void promise_order(const struct licences *l)
{
	for (int i = 0; i < l->n; i++) {
		const struct licence *at = &l->at[i];
		char tamed[LABEL_TEXT];
		promise(memchr(at->label, '\0', sizeof at->label) != NULL, "a label ends");
		promise(at->label[0] != '\0', "a label says something");
		memcpy(tamed, at->label, sizeof tamed);
		promise(strcmp(text_tame(tamed), at->label) == 0, "a label is fit to be printed");
		promise(at->frequency.thirds >= 300000 && at->frequency.thirds <= INT64_C(18000000000),
			"a frequency in range");
		promise(i == 0 || at[-1].frequency.thirds < at->frequency.thirds ||
			(at[-1].frequency.thirds == at->frequency.thirds && at[-1].order < at->order),
			"order");
	}
}

static void promise_words(const struct licences *l)
{
	char out[LISTED_TEXT];

	for (int i = 0; i < l->n && i < 100; i++) {
		int first = -1, n = licences_of(l, l->at[i].frequency, FREQ_HZ(6250), &first);
		promise(n >= 1 && first <= i && first + n > i, "what is listed is found");
		memset(out, 'x', sizeof out);
		licences_words(l, l->at[i].frequency, FREQ_HZ(6250), out);
		promise(memchr(out, '\0', sizeof out) != NULL && out[0], "words fit");
		promise(licences_of(l, l->at[i].frequency, (struct freq){ 1 }, &first) == n,
			"on the spot nothing is nearer");
	}
}

static int read_list(const char *path, void *out, struct fault *why)
{
	return licences_read(path, out, why);
}

static int rows(const void *out)
{
	const struct licences *l = out;

	return l->at ? l->n + 1 : l->n;
}

static void hold(void *out)
{
	promise_order(out);
	promise_words(out);
}

static void let_go(void *out)
{
	licences_free(out);
}

const struct fuzz_table fuzz_table = { sizeof(struct licences), read_list, rows, hold, let_go };
