#ifndef BANDCENSUS_TESTS_CSV_ROWS_H
#define BANDCENSUS_TESTS_CSV_ROWS_H

/* A CSV file (RFC 4180) with a head, cells found by the head's names. */
struct csv_rows;

struct csv_rows *csv_open(const char *path);    /* NULL: can't be read, or has no head */
void csv_close(struct csv_rows *c);             /* NULL is fine                        */

int csv_count(const struct csv_rows *c);        /* rows, the head not counted          */

/* "" when the row is shorter than the head; NULL when no column has that name. */
const char *csv_cell(const struct csv_rows *c, int row, const char *column);

/* A cell as a number, "a/b" divided; the test fails when there is no such column. */
double csv_number(const struct csv_rows *c, int row, const char *column);

/* First row with that text in the column; -1: none. */
int csv_row(const struct csv_rows *c, const char *column, const char *text);

/* Row whose number in the column is nearest, at most within away; -1: none. */
int csv_near(const struct csv_rows *c, const char *column, double number, double within);

#endif
