#include "tests/test.h"

#include "tests/csv_rows.h"

#include <stdbool.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#define COLUMNS_MAX 60
#define ROWS_MAX    20000

struct csv_rows {
	char  *text;
	char **cell;            /* (row + 1) * COLUMNS_MAX + column; row -1 is the head */
	int    rows, columns;
};

static char *whole_file(const char *path)
{
	FILE *f = fopen(path, "rb");
	char *text = calloc(1, 1 << 22);
	if (f && text)
		text[fread(text, 1, (1 << 22) - 1, f)] = '\0';
	if (f)
		fclose(f);
	if (f && text)
		return text;
	free(text);
	return NULL;
}

/* Cuts one cell out in place; *end is what ended it: ',', '\n' or '\0'. */
static char *take_cell(char **at, char *end)
{
	char *from = *at, *to = *at, *read = *at;
	bool quoted = *read == '"';

	for (read += quoted; *read; read++) {
		if (quoted && *read == '"' && *++read != '"')
			quoted = false;
		if (!*read || (!quoted && (*read == ',' || *read == '\n')))
			break;
		if (*read != '\r')
			*to++ = *read;
	}
	*end = *read;
	*at = read + (*read != '\0');
	*to = '\0';
	return from;
}

struct csv_rows *csv_open(const char *path)
{
	struct csv_rows *c = calloc(1, sizeof *c);
	char *at, end;

	c->text = whole_file(path);
	c->cell = calloc((size_t)(ROWS_MAX + 1) * COLUMNS_MAX, sizeof *c->cell);
	if (!c->text || !c->cell || !*c->text) {
		csv_close(c);
		return NULL;
	}
	c->rows = -1;
	for (at = c->text; *at && c->rows < ROWS_MAX; c->rows++) {
		int n = 0;
		do {
			char *cell = take_cell(&at, &end);
			if (n < COLUMNS_MAX)
				c->cell[(c->rows + 1) * COLUMNS_MAX + n++] = cell;
		} while (end == ',');
		if (c->rows < 0)
			c->columns = n;
	}
	return c;
}

void csv_close(struct csv_rows *c)
{
	if (!c)
		return;
	free(c->text);
	free(c->cell);
	free(c);
}

int csv_count(const struct csv_rows *c)
{
	return c->rows;
}

const char *csv_cell(const struct csv_rows *c, int row, const char *column)
{
	for (int i = 0; i < c->columns; i++)
		if (strcmp(c->cell[i], column) == 0) {
			const char *cell = c->cell[(row + 1) * COLUMNS_MAX + i];
			return cell ? cell : "";
		}
	return NULL;
}

double csv_number(const struct csv_rows *c, int row, const char *column)
{
	const char *cell = csv_cell(c, row, column);
	char *end;

	if (!cell)
		fail_msg("there is no column %s", column);
	double x = strtod(cell, &end);
	return *end == '/' ? x / strtod(end + 1, NULL) : x;
}

int csv_row(const struct csv_rows *c, const char *column, const char *text)
{
	for (int i = 0; i < c->rows; i++) {
		const char *cell = csv_cell(c, i, column);
		if (cell && strcmp(cell, text) == 0)
			return i;
	}
	return -1;
}

int csv_near(const struct csv_rows *c, const char *column, double number, double within)
{
	int best = -1;
	double least = within;

	for (int i = 0; i < csv_count(c); i++) {
		double off = fabs(csv_number(c, i, column) - number);
		if (best < 0 ? off <= least : off < least) {
			best = i;
			least = off;
		}
	}
	return best;
}
