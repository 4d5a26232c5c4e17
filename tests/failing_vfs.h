#ifndef BANDCENSUS_TESTS_FAILING_VFS_H
#define BANDCENSUS_TESTS_FAILING_VFS_H

#include <stdbool.h>

/* A disk that fails when told to: SQLite's own file layer with a count of what
 * is asked of it (open, read, write, sync, truncate, delete, shared map). */
struct failing_disk {
	int         calls;      /* so far                                            */
	int         fail_at;    /* the call that fails, from 1; 0: none              */
	bool        stay;       /* and all after it, until fail_at is 0 again        */
	int         failed;     /* how many did                                      */
	int         code;       /* what writing then says, SQLITE_FULL for one       */
	const char *deny;       /* files whose names end so can't be opened; or NULL */
	void       *layer;      /* its own */
};

/* Makes it the layer that new connections use, or puts the old one back. */
int failing_disk_install(struct failing_disk *disk);
void failing_disk_remove(struct failing_disk *disk);

#endif
