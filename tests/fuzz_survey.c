/* Feeds what it is given, as a survey file, to the readers, the writer and rescue, and holds them
 * to their promises. As it is built, it takes files and folders of them and serves as a test over
 * tests/corpus/survey. tests/fuzz.sh searches for more. */
#include "tests/fuzz_folder.h"
#include "tests/fuzz_readers.h"

int LLVMFuzzerTestOneInput(const uint8_t *bytes, size_t n)
{
	char folder[64], path[100];
	unsigned sum = 0;

	fuzz_folder(folder);
	snprintf(path, sizeof path, "%s/survey", folder);
	FILE *f = fopen(path, "w");
	promise(f && fwrite(bytes, 1, n, f) == n && fclose(f) == 0, "room for the file");
	for (size_t i = 0; i < n; i++)
		sum += bytes[i];
	try_survey(path, sum);
	fuzz_folder_drop(folder);
	return 0;
}
