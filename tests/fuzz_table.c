#include "tests/fuzz_table.h"

#include <sys/mman.h>
#include <unistd.h>

int LLVMFuzzerTestOneInput(const uint8_t *bytes, size_t n)
{
	struct fault why = { 0 };
	char path[64];
	void *out = calloc(1, fuzz_table.size);
	int fd = memfd_create("table", MFD_CLOEXEC);

	promise(out && fd >= 0 && write(fd, bytes, n) == (ssize_t)n, "room for the file");
	snprintf(path, sizeof path, "/proc/self/fd/%d", fd);
	if (fuzz_table.read(path, out, &why) < 0) {
		promise_refusal(&why);
		promise(fuzz_table.rows(out) == 0, "a refusal keeps nothing");
	} else {
		fuzz_table.promise(out);
		fuzz_table.free(out);
	}
	close(fd);
	free(out);
	return 0;
}
