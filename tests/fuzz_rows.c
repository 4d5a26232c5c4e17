/* Feeds surveys made of what it is given (tests/fuzz_made.h) to the readers, the writer, rescue, thinning and
 * merge, and holds them to their promises. As it is built, it takes files and folders of them and serves as a
 * test over tests/corpus/rows; tests/fuzz.sh searches for more. */
#include "tests/fuzz_folder.h"
#include "tests/fuzz_made.h"
#include "tests/fuzz_readers.h"

int LLVMFuzzerTestOneInput(const uint8_t *bytes, size_t n)
{
	struct script script = { bytes, n };
	char folder[64], path[100];
	unsigned which = script_byte(&script);

	fuzz_folder(folder);
	snprintf(path, sizeof path, "%s/survey", folder);
	made_survey(&script, path);
	try_survey(path, which);
	fuzz_folder_drop(folder);
	return 0;
}
