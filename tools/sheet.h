#ifndef BANDCENSUS_TOOLS_SHEET_H
#define BANDCENSUS_TOOLS_SHEET_H

#include <stdio.h>

#include "tools/plan/plan.h"

/* Parts of the sheet (tools/export.h). */

/* Prints text after first, broken between words so that no line is too wide; the next ones
 * stand so far in. */
void sheet_wrap(FILE *to, const char *first, int indent, const char *text);

/* "1-3 5": the banks whose bit is set. Returns out. */
const char *sheet_banks(char out[200], uint64_t banks);

/* What stands on every sheet, a paragraph each, up to NULL. */
extern const char *const sheet_how_to_read[], *const sheet_cautions[];

/* Where the bank after the one that begins with that memory begins. */
int sheet_bank_end(const struct plan *p, int first);

/* "fire and ambulance and more"; "20 memories, 20 scanned, 20 left empty, about 175 keys". */
struct sheet_bank_words {
	char what[60], sum[100];
};
void sheet_bank_words(const struct plan *p, const struct receiver *r, int first, int end,
		      struct sheet_bank_words *out);

/* Where words go, item by item; label NULL: none, "": as before. */
struct saying {
	void (*say)(void *self, const char *label, const char *text);
	void  *self;
};

/* What the sheet is for and made of, and how much there is to type. */
void say_facts(const struct saying *to, const struct plan *p, const struct census *c,
	       const struct receiver *r);

/* How often each channel was looked at, which hours were not, what is not known for that, and
 * when to survey next. */
void say_not_looked(const struct saying *to, const struct census *c, const struct unknown *u);
void sheet_not_looked(FILE *to, const struct census *c, const struct unknown *u);

/* Which banks to switch on, and what else to set: priority and attenuator. */
void sheet_sets(FILE *to, const struct plan *p, const struct census *c);

/* The advice on the attenuator, and whom it would cost. Returns out. */
char *sheet_attenuator(const struct plan *p, const struct census *c, char out[1000]);

/* What is to be done with the slots of a set in use; nothing for an empty set. */
void sheet_changes(FILE *to, const struct plan *p, int digits);

/* What its listener's ticks told, if there are any. */
void sheet_learnt(FILE *to, const struct plan *p);
/* Of the levels that the set needs; false when there are no ticks. */
bool sheet_margin(const struct plan *p, char out[400]);

#endif
