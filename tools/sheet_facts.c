#include "tools/sheet.h"

#include <string.h>

#include "tools/plan/keys.h"
#include "tools/plan/words.h"

int sheet_bank_end(const struct plan *p, int first)
{
	int end = first;

	while (end < p->memories && p->memory[end].bank == p->memory[first].bank)
		end++;
	return end;
}

static int bank_keys(const struct plan *p, const struct receiver *r, int first, int end)
{
	int keys = 0;

	for (int i = first; i < end; i++)
		keys += keys_entry(&r->keypad, &p->memory[i], i > first ? &p->memory[i - 1] : NULL);
	return keys;
}

void sheet_bank_words(const struct plan *p, const struct receiver *r, int first, int end,
		      struct sheet_bank_words *out)
{
	const char *family = plan_bank_family(p, p->memory[first].bank);
	bool mixed = false;
	int live = 0, n = end - first;

	for (int i = first; i < end; i++) {
		live += !p->memory[i].locked;
		mixed |= strcmp(p->memory[i].family, family) != 0;
	}
	snprintf(out->what, sizeof out->what, "%s%s", family, mixed ? " and more" : "");
	snprintf(out->sum, sizeof out->sum, "%d memor%s, %d scanned, %d left empty, about %d keys",
		 n, n == 1 ? "y" : "ies", live, r->memories - n, bank_keys(p, r, first, end));
}

void say_facts(const struct saying *to, const struct plan *p, const struct census *c,
	       const struct receiver *r)
{
	char from[TIME_TEXT], until[TIME_TEXT], line[300];
	int live = 0, keys = 0;

	for (int i = 0; i < p->memories; i++)
		live += !p->memory[i].locked;
	for (int first = 0, end; first < p->memories; first = end) {
		end = sheet_bank_end(p, first);
		keys += bank_keys(p, r, first, end);
	}
	snprintf(line, sizeof line, "%s (%d banks of %d)", p->receiver, r->banks, r->memories);
	to->say(to->self, "for", line);
	snprintf(line, sizeof line, "%s to %s; all times are %s", words_local(from, c, c->start_us),
		 words_local(until, c, c->end_us), c->zone);
	to->say(to->self, "heard", line);
	snprintf(line, sizeof line, "%s, as you asked; of the rest nothing is said", c->part);
	if (c->part[0])
		to->say(to->self, "only", line);
	snprintf(line, sizeof line, "at a squelch of %g dB over the noise", 0.1 * c->squelch_ddb);
	to->say(to->self, "read", line);
	snprintf(line, sizeof line,
		 "%d memories, %d of them scanned, %d search ranges, %d channels left out",
		 p->memories, live, p->searches, p->lefts);
	to->say(to->self, "gives", line);
	snprintf(line, sizeof line, "about %d in all%s", keys, p->again ?
		 ", were the set empty; what has to be changed takes fewer, see below" : "");
	to->say(to->self, "keys", line);
}
