#ifndef BANDCENSUS_TESTS_FAILING_VFS_H
#define BANDCENSUS_TESTS_FAILING_VFS_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

/* Who is told of everything that reaches the disk, before it does. name: the file's whole path. */
struct disk_watcher {
	void *self;
	void (*opened)(void *self, const char *name);   /* may have been made by it */
	void (*wrote)(void *self, const char *name, const void *bytes, size_t n, int64_t at);
	void (*truncated)(void *self, const char *name, int64_t n);
	void (*synced)(void *self, const char *name);
	void (*deleted)(void *self, const char *name, bool folder_synced);
};

/* A disk that fails when told to: SQLite's own file layer with a count of what
 * is asked of it (open, read, write, sync, truncate, delete, shared map). */
struct failing_disk {
	int         calls;      /* so far                                            */
	int         fail_at;    /* the call that fails, from 1; 0: none              */
	bool        stay;       /* and all after it, until fail_at is 0 again        */
	int         failed;     /* how many did                                      */
	int         code;       /* what writing then says, SQLITE_FULL for one       */
	int         error;      /* and errno, whatever fails; 0: stays as it is      */
	const struct disk_watcher *watcher;     /* or NULL; is not told of temporary files */
	const char *deny;       /* files whose names end so can't be opened; or NULL */
	void       *layer;      /* its own */
};

/* Makes it the layer that new connections use, or puts the old one back. */
int failing_disk_install(struct failing_disk *disk);
void failing_disk_remove(struct failing_disk *disk);

#endif
