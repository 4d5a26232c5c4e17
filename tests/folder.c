#include "tests/folder.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

int make_folder(void **state)
{
	struct folder *f = calloc(1, sizeof *f);
	strcpy(f->path, "/tmp/test_folder.XXXXXX");
	*state = f;
	return mkdtemp(f->path) ? 0 : -1;
}

int drop_folder(void **state)
{
	struct folder *f = *state;
	char command[128];
	snprintf(command, sizeof command, "rm -r '%s'", f->path);
	int r = system(command);
	free(f);
	return r;
}

void write_file(const struct folder *f, const char *name, const void *bytes, size_t n)
{
	char path[128];
	snprintf(path, sizeof path, "%s/%s", f->path, name);
	FILE *out = fopen(path, "w");
	assert_non_null(out);
	assert_int_equal(fwrite(bytes, 1, n, out), n);
	assert_int_equal(fclose(out), 0);
}

void remove_file(const struct folder *f, const char *name)
{
	char path[128];
	snprintf(path, sizeof path, "%s/%s", f->path, name);
	assert_int_equal(unlink(path), 0);
}
