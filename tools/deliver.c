#include "tools/deliver.h"

#include <errno.h>
#include <fcntl.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

static int write_file(const char *folder, const struct delivery *file, const void *of,
		      struct fault *why)
{
	char path[4096], draft[4096];
	FILE *to = NULL;
	int fd = -1;

	if (snprintf(path, sizeof path, "%s/%s", folder, file->name) >= (int)sizeof path ||
	    snprintf(draft, sizeof draft, "%s/.%s.XXXXXX", folder, file->name) >= (int)sizeof draft)
		return fault_set(why, FAULT_INPUT, "%.60s...: path is too long", folder);
	fd = mkostemp(draft, O_CLOEXEC);        /* mode 0600 */
	if (fd < 0)
		return fault_set(why, FAULT_FATAL, "%s: can't write here: %s", folder,
				 strerror(errno));
	to = fdopen(fd, "w");
	if (!to) {
		close(fd);
		goto fail;
	}
	if (file->write(to, of) < 0) {
		errno = ENOMEM;
		goto fail;
	}
	if (fflush(to) != 0 || ferror(to) || fsync(fd) < 0)
		goto fail;
	int closed = fclose(to);
	to = NULL;
	if (closed != 0 || rename(draft, path) < 0)
		goto fail;
	return 0;
fail:
	fault_set(why, FAULT_FATAL, "%s: can't be written: %s", path, strerror(errno));
	if (to)
		fclose(to);
	unlink(draft);
	return -1;
}

int deliver(const char *folder, const struct delivery *file, int n, const void *of,
	    struct fault *why)
{
	if (mkdir(folder, 0700) < 0 && errno != EEXIST)
		return fault_set(why, FAULT_FATAL, "%s: can't make this folder: %s", folder,
				 strerror(errno));
	for (int i = 0; i < n; i++)
		if (write_file(folder, &file[i], of, why) < 0)
			return -1;
	return 0;
}
