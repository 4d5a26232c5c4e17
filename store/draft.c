#include "store/draft.h"

#include <errno.h>
#include <fcntl.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/file.h>
#include <sys/stat.h>
#include <unistd.h>

#define TRIES 10                /* to have a name that others have too */

static void drop_beside(const char *path)
{
	static const char *const side[] = { "-journal", "-wal", "-shm" };
	char beside[PATH_MAX + 16];

	for (size_t i = 0; i < sizeof side / sizeof side[0]; i++) {
		snprintf(beside, sizeof beside, "%s%s", path, side[i]);
		unlink(beside);
	}
}

/* The lock goes with the process that holds it, however that ends. Held only when the name still
 * is this file's: another may have taken it for a dead one before it was locked. */
static bool held(int fd, const char *path)
{
	struct stat mine, named;

	return flock(fd, LOCK_EX | LOCK_NB) == 0 && fstat(fd, &mine) == 0 &&
	       lstat(path, &named) == 0 && mine.st_dev == named.st_dev &&
	       mine.st_ino == named.st_ino;
}

static int taken(const char *out, struct fault *why)
{
	return fault_set(why, FAULT_INPUT, "%s: another program is making it, wait for that one or "
			 "name another file", out);
}

static int in_the_way(const char *path, const char *out, struct fault *why)
{
	return fault_set(why, FAULT_INPUT, "%s: can't be made: %s is in the way: %s", out, path,
			 strerror(errno));
}

/* What a killed one left. First what lies beside it, for a journal without its file would be
 * played into the next of that name. */
static int drop_dead(const char *path, const char *out, struct fault *why)
{
	int fd = open(path, O_RDONLY | O_NOFOLLOW | O_NONBLOCK | O_CLOEXEC), result = 0;

	if (fd < 0)                     /* gone meanwhile, or none of ours */
		return errno == ENOENT ? 0 : in_the_way(path, out, why);
	if (held(fd, path)) {
		drop_beside(path);
		if (unlink(path) < 0)
			result = in_the_way(path, out, why);
	} else {
		result = taken(out, why);
	}
	close(fd);
	return result;
}

static int make(struct draft *d, const char *out, struct fault *why)
{
	for (int tries = 0; tries < TRIES; tries++) {
		int fd = open(d->path, O_RDWR | O_CREAT | O_EXCL | O_CLOEXEC, 0600);
		if (fd >= 0 && held(fd, d->path)) {
			d->lock = fd;
			drop_beside(d->path);
			return 0;
		}
		if (fd >= 0)
			close(fd);
		else if (errno != EEXIST)
			return fault_set(why, FAULT_INPUT, "%s: can't be made: %s", out,
					 strerror(errno));
		else if (drop_dead(d->path, out, why) < 0)
			return -1;
	}
	return taken(out, why);
}

int draft_open(struct draft *d, const char *out, struct fault *why)
{
	struct stat st;
	const char *name = strrchr(out, '/');
	int folder = name ? (int)(name - out) + 1 : 0;

	if (lstat(out, &st) == 0)
		return fault_set(why, FAULT_INPUT, "%s: is there already, name a new file", out);
	if (snprintf(d->path, sizeof d->path, "%.*s.%s.draft", folder, out, out + folder) >=
	    (int)sizeof d->path - 16) {
		d->path[0] = '\0';
		return fault_set(why, FAULT_INPUT, "%.200s...: the path is too long", out);
	}
	if (make(d, out, why) < 0) {
		d->path[0] = '\0';      /* it is none of ours */
		return -1;
	}
	d->survey = survey_create(d->path, why);
	if (!d->survey)
		return -1;
	d->survey->db = database_open(d->path, DATABASE_WRITE, why);
	return d->survey->db ? 0 : -1;
}

/* The name is given up, or was. */
static void let_go(struct draft *d)
{
	if (d->path[0])
		close(d->lock);
	d->path[0] = '\0';
}

/* Never over a file that came to be meanwhile. Where the file system can't promise that,
 * a second name is given and the first taken. */
static int put_in_place(struct draft *d, const char *out, struct fault *why)
{
	int done = renameat2(AT_FDCWD, d->path, AT_FDCWD, out, RENAME_NOREPLACE);

	if (done < 0 && (errno == EINVAL || errno == ENOSYS) && link(d->path, out) == 0)
		done = unlink(d->path);
	if (done == 0) {
		let_go(d);
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
	survey_close(d->survey);
	d->survey = NULL;
	if (d->path[0]) {
		drop_beside(d->path);
		unlink(d->path);
	}
	let_go(d);
}
