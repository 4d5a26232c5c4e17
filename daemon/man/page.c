/* Fills the manual page of bandcensusd, and what shells complete. Runs while building, on the computer
 * that builds. */
#include "daemon/options.h"
#include "store/completion.h"
#include "store/manual.h"

static void write_options(FILE *to, const char *what, const char *page)
{
	int rows;
	const struct option_row *row = options_table(&rows);
	(void)what;
	(void)page;

	manual_options(to, row, rows);
}

static void complete(FILE *to, const char *shell, const char *page)
{
	struct completed all = { 0 };
	(void)page;

	all.row = options_table(&all.rows);
	completion_write(to, shell, "bandcensusd", &all, 1);
}

int main(int argc, char **argv)
{
	static const struct manual_part parts[] = { { "options", write_options },
						    { "complete", complete } };

	return manual_main(argc, argv, parts, 2);
}
