#ifndef BANDCENSUS_STORE_STATEMENT_H
#define BANDCENSUS_STORE_STATEMENT_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "store/fault.h"

/* A prepared statement: its parameters are set, it is stepped from row to row, and a row's
 * columns are read. database_prepare makes it; its database frees it. */
struct database;
struct statement;

/* Parameters count from 1. Text and blobs are borrowed until the statement is
 * done or reset. */
void statement_set_int(struct statement *q, int at, int64_t value);
void statement_set_text(struct statement *q, int at, const char *text);
void statement_set_part(struct statement *q, int at, const void *text, size_t n);
void statement_set_blob(struct statement *q, int at, const void *bytes, size_t n);

/* 1: a row to look at; 0: done, and reset; -1: failed, and reset. */
int statement_step(struct database *d, struct statement *q, struct fault *why);
void statement_reset(struct statement *q);

/* Steps what gives no rows, and resets it: rows that the tables don't want are no fault. */
enum { STATEMENT_DONE = 0, STATEMENT_AGAIN /* is there */, STATEMENT_REFUSED };
int statement_try(struct database *d, struct statement *q, struct fault *why);

enum value_type { VALUE_OTHER = 0, VALUE_INT, VALUE_TEXT, VALUE_BLOB };

/* Columns count from 0; pointers are good until the next step or reset. */
enum value_type statement_type(struct statement *q, int at);    /* asked before the value */
/* The whole number that a column holds; false: it holds something else. */
bool statement_whole(struct statement *q, int at, int64_t *out);
int64_t statement_int(struct statement *q, int at);
const char *statement_text(struct statement *q, int at);        /* never NULL */
const uint8_t *statement_blob(struct statement *q, int at, size_t *n);

#endif
