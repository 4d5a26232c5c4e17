/* Feeds what it is given, a word a line, to the command lines of both programs. As it is built, it takes
 * files and folders of them and serves as a test over tests/corpus/options; tests/fuzz.sh searches for
 * more. */
#include "tests/fuzz.h"

#include <math.h>
#include <string.h>

#include "daemon/options.h"
#include "tools/verbs.h"

#define WORDS 40

struct line {
	char  text[4096];
	char *word[WORDS + 1];
	int   words;
};

/* Readers may sort words about, so each gets a line of its own. */
static void split(struct line *l, const uint8_t *bytes, size_t n)
{
	char *rest = l->text;

	n = n < sizeof l->text ? n : sizeof l->text - 1;
	memcpy(l->text, bytes, n);
	l->text[n] = '\0';
	l->words = 0;
	l->word[l->words++] = l->text + n;      /* the program's own name: nothing */
	while (rest && l->words < WORDS)
		l->word[l->words++] = strsep(&rest, "\n");
	l->word[l->words] = NULL;
}

static void try_daemon(const uint8_t *bytes, size_t n)
{
	struct fault why = { 0 };
	struct options o = { 0 };
	struct line l;

	split(&l, bytes, n);
	if (options_read(l.words, l.word, &o, &why) < 0) {
		promise_refusal(&why);
		return;
	}
	promise(o.for_us >= 0 && o.limit_bytes >= 0 && o.rate_hz >= 0, "amounts");
	promise(o.centre.thirds >= 0 && o.step.thirds >= 0, "frequencies");
	promise(o.source.n >= 0 && o.source.n <= OPTION_AGAIN, "so many sources");
}

static void try_verb(const struct command *c, const uint8_t *bytes, size_t n)
{
	struct option_row row[TAKES_MOST + 1];
	struct fault why = { 0 };
	struct choice o = { 0 };
	struct line l;
	int files = 0, rows = command_options(c, row);

	split(&l, bytes, n);
	int most = c->most < WORDS ? c->most : WORDS;
	if (options_take(row, rows, l.words, l.word, "bandcensus", &o, l.word, most, &files, &why) < 0) {
		promise_refusal(&why);
		return;
	}
	promise(files >= 0 && files <= most, "so many files");
	for (int i = 0; i < files; i++)
		promise(strlen(l.word[i]) < sizeof l.text, "a file's name ends");
	promise(isfinite(o.night.squelch_db) && o.night.squelch_db >= 0 && o.night.squelch_db <= 60, "a squelch");
	promise(o.min_overs >= 0 && o.width >= 0 && o.height >= 0, "amounts");
	promise(o.keep.overs_us >= 0 && o.keep.hours_us >= 0, "ages");
}

int LLVMFuzzerTestOneInput(const uint8_t *bytes, size_t n)
{
	try_daemon(bytes, n);
	for (int i = 0; i < VERBS; i++)
		try_verb(&commands[i], bytes, n);
	return 0;
}
