#include "store/draft.h"

#include <errno.h>
#include <fcntl.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

int draft_open(struct draft *d, const char *out, struct fault *why)
{
	struct stat st;
	const char *name = strrchr(out, '/');
	int folder = name ? (int)(name - out) + 1 : 0;

	if (lstat(out, &st) == 0)
		return fault_set(why, FAULT_INPUT, "%s: is there already, name a new file", out);
	if (snprintf(d->path, sizeof d->path, "%.*s.%s.XXXXXX", folder, out, out + folder) >=
	    (int)sizeof d->path - 16) {
		d->path[0] = '\0';
		return fault_set(why, FAULT_INPUT, "%.200s...: the path is too long", out);
	}
	int fd = mkostemp(d->path, O_CLOEXEC);          /* mode 0600 */
	if (fd < 0) {
		d->path[0] = '\0';
		return fault_set(why, FAULT_INPUT, "%s: can't be made: %s", out, strerror(errno));
	}
	close(fd);
	d->survey = survey_create(d->path, why);
	if (!d->survey)
		return -1;
	d->survey->db = database_open(d->path, DATABASE_WRITE, why);
	return d->survey->db ? 0 : -1;
}

/* Never over a file that came to be meanwhile. Where the file system can't promise that,
 * a second name is given and the first taken. */
static int put_in_place(struct draft *d, const char *out, struct fault *why)
{
	int done = renameat2(AT_FDCWD, d->path, AT_FDCWD, out, RENAME_NOREPLACE);

	if (done < 0 && (errno == EINVAL || errno == ENOSYS) && link(d->path, out) == 0)
		done = unlink(d->path);
	if (done == 0) {
		d->path[0] = '\0';
		return 0;
	}
	return fault_set(why, errno == EEXIST ? FAULT_INPUT : FAULT_FATAL,
			 "%s: can't be put there: %s", out, strerror(errno));
}

static void sync_folder(const char *path)
{
	char folder[PATH_MAX];
	const char *name = strrchr(path, '/');

	snprintf(folder, sizeof folder, "%.*s", name ? (int)(name - path) + 1 : 1,
		 name ? path : ".");
	int fd = open(folder, O_RDONLY | O_DIRECTORY | O_CLOEXEC);
	if (fd >= 0) {
		fsync(fd);
		close(fd);
	}
}

int draft_finish(struct draft *d, const char *out, struct fault *why)
{
	survey_close(d->survey);
	d->survey = NULL;
	if (put_in_place(d, out, why) < 0)
		return -1;
	sync_folder(out);
	return 0;
}

void draft_drop(struct draft *d)
{
	static const char *const side[] = { "", "-journal", "-wal", "-shm" };
	char path[PATH_MAX + 16];

	survey_close(d->survey);
	d->survey = NULL;
	for (size_t i = 0; d->path[0] && i < sizeof side / sizeof side[0]; i++) {
		snprintf(path, sizeof path, "%s%s", d->path, side[i]);
		unlink(path);
	}
	d->path[0] = '\0';
}
