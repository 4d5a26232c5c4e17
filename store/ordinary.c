#include "store/ordinary.h"

#include <errno.h>
#include <fcntl.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

int ordinary_open(const char *path, int64_t *bytes, struct fault *why)
{
	struct stat st;
	int fd = open(path, O_RDONLY | O_CLOEXEC | O_NONBLOCK);

	if (fd < 0 || fstat(fd, &st) < 0) {
		fault_set(why, fault_kind_of(errno), "%s: can't be read: %s", path, strerror(errno));
		goto fail;
	}
	if (!S_ISREG(st.st_mode)) {
		fault_set(why, FAULT_INPUT, "%s: can't be read: is %s", path,
			  S_ISDIR(st.st_mode) ? "a folder" : "no ordinary file");
		goto fail;
	}
	*bytes = st.st_size;
	return fd;
fail:
	if (fd >= 0)
		close(fd);
	return -1;
}

FILE *ordinary_stream(const char *path, int64_t *bytes, struct fault *why)
{
	int fd = ordinary_open(path, bytes, why);
	FILE *f = fd < 0 ? NULL : fdopen(fd, "r");

	if (fd >= 0 && !f) {
		fault_set(why, FAULT_RETRY, "%s: out of memory", path);
		close(fd);
	}
	return f;
}
