/* Fills the manual page of bandcensusd. Runs while building, on the computer that builds. */
#include "daemon/options.h"
#include "store/manual.h"

static void write_options(FILE *to, const char *what)
{
	int rows;
	const struct option_row *row = options_table(&rows);
	(void)what;

	manual_options(to, row, rows);
}

int main(int argc, char **argv)
{
	static const struct manual_part parts[] = { { "options", write_options } };

	return manual_main(argc, argv, parts, 1);
}
