#ifndef BANDCENSUS_STORE_TEXT_H
#define BANDCENSUS_STORE_TEXT_H

/* Text from a file that anybody may have written, made fit for a line on a terminal, in a log or
 * in a table: control characters (C0, DEL, C1), bytes that are no UTF-8, and characters that turn
 * lines about, break or hide them (U+200B..200F, 2028..202E, 2060..206F, FEFF) become one '?'
 * each. In place; never longer. Well-formed is what Unicode 15, table 3-7 says (from memory).
 * Returns text. */
char *text_tame(char *text);

/* The same of a text of several lines: tabs and the ends of lines (LF, CR LF) stay. */
char *text_tame_lines(char *text);

#endif
