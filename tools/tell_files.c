#include "tools/export.h"

void tell_checks(struct teller *t, const void *checks)
{
	static const struct checked nothing = { "", true, "" };
	const struct checks *of = checks;

	tell_list(t, NULL, "files, as given");
	for (int i = 0; tell_more(t, i, of->n); i++) {
		const struct checked *c = i < of->n ? &of->at[i] : &nothing;
		tell_text(t, "file", c->file, "as it was given");
		tell_yes(t, "good", c->good, "it can be used");
		tell_text(t, "words", c->words, "what it is, or the first thing to mend");
	}
}

static void tell_lines(struct teller *t, const char *name, const struct lines *l,
		       const char *meaning)
{
	tell_list(t, name, meaning);
	for (int i = 0; tell_more(t, i, l->n); i++)
		tell_text(t, "words", i < l->n ? l->at[i] : "", "for a person");
}

void tell_merged(struct teller *t, const void *merged)
{
	const struct merged *m = merged;

	tell_open(t, NULL, true, "");
	tell_text(t, "file", m->file, "the new survey");
	tell_whole(t, "surveys", m->surveys, "that it was made of");
	tell_whole(t, "runs", m->sum->runs, "in it");
	tell_whole(t, "sites", m->sum->sites, "whose runs they are");
	tell_whole(t, "bands", m->sum->bands, "in it");
	tell_whole(t, "again", m->sum->again, "runs that were given more than once, and kept once");
	tell_lines(t, "notes", m->said, "what was found on the way");
	tell_close(t);
}

void tell_rescued(struct teller *t, const void *rescued)
{
	const struct rescued *r = rescued;

	tell_open(t, NULL, true, "");
	tell_text(t, "file", r->to, "the new survey");
	tell_text(t, "from", r->from, "the damaged one");
	tell_yes(t, "whole", r->sum->whole, "nothing is lost");
	tell_whole(t, "pages", r->sum->pages, "of the file");
	tell_whole(t, "pages_lost", r->sum->pages_lost, "that can't be read");
	tell_list(t, "tables", "of the survey");
	for (int i = 0; tell_more(t, i, r->sum->tables); i++) {
		bool any = i < r->sum->tables;
		tell_text(t, "name", any ? r->sum->table[i].name : "", "of the table");
		tell_whole(t, "saved", any ? r->sum->table[i].saved : 0, "rows");
		tell_whole(t, "homeless", any ? r->sum->table[i].homeless : 0,
			   "rows left out: their run or band is lost");
		tell_whole(t, "missing", any ? r->sum->table[i].missing : 0, "rows lost, at least");
	}
	tell_lines(t, "not_covered", r->said, "which count as not looked at, not as quiet");
	tell_close(t);
}

void tell_thinned(struct teller *t, const void *thinned)
{
	const struct thinned *of = thinned;

	tell_open(t, NULL, true, "");
	tell_text(t, "file", of->file, "the survey");
	tell_whole(t, "rows", of->sum->rows, "joined or dropped");
	tell_whole(t, "before_bytes", of->sum->before_bytes, "its size before");
	tell_whole(t, "after_bytes", of->sum->after_bytes, "and now");
	tell_yes(t, "tight", of->sum->tight,
		 "its disk has no room to write it anew, so that it did not shrink");
	tell_close(t);
}
