/* Runs a fuzz target over files and folders of a corpus, where no fuzzer drives it. */
#include "tests/fuzz.h"

#include <dirent.h>

static int run_file(const char *path)
{
	static const size_t room = 1 << 20;
	FILE *f = fopen(path, "r");
	uint8_t *bytes = malloc(room);

	if (!f || !bytes) {
		fprintf(stderr, "%s: can't be read\n", path);
		exit(1);
	}
	LLVMFuzzerTestOneInput(bytes, fread(bytes, 1, room, f));
	fclose(f);
	free(bytes);
	return 1;
}

int main(int argc, char **argv)
{
	int files = 0;

	for (int i = 1; i < argc; i++) {
		DIR *folder = opendir(argv[i]);
		struct dirent *e;
		if (!folder) {
			files += run_file(argv[i]);
			continue;
		}
		while ((e = readdir(folder))) {
			char path[1024];
			snprintf(path, sizeof path, "%s/%s", argv[i], e->d_name);
			if (e->d_name[0] != '.')
				files += run_file(path);
		}
		closedir(folder);
	}
	return files > 0 ? 0 : 1;
}
