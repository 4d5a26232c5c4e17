#include "tests/fuzz_folder.h"

#include <dirent.h>
#include <unistd.h>

void fuzz_folder(char out[64])
{
	snprintf(out, 64, "%s/fuzz-XXXXXX", access("/dev/shm", W_OK) == 0 ? "/dev/shm" : "/tmp");
	promise(mkdtemp(out) != NULL, "room for a folder");
}

void fuzz_folder_drop(const char *folder)
{
	DIR *d = opendir(folder);
	struct dirent *e;
	char path[400];

	while (d && (e = readdir(d))) {
		snprintf(path, sizeof path, "%s/%s", folder, e->d_name);
		unlink(path);
	}
	if (d)
		closedir(d);
	rmdir(folder);
}
