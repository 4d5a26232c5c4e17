#include "tests/failing_vfs.h"

#include <errno.h>
#include <stdlib.h>
#include <string.h>

#include <sqlite3.h>

#define NAME "failing"

struct shim {
	sqlite3_file         base;
	struct failing_disk *disk;
	const char          *name;      /* SQLite keeps it as long as the file is open */
	sqlite3_file         real[];    /* the room of the real one */
};

static sqlite3_vfs *real_vfs(sqlite3_vfs *v)
{
	return sqlite3_vfs_find(v->zName + sizeof NAME);
}

static bool fails(struct failing_disk *d)
{
	bool now;

	d->calls++;
	now = d->fail_at && (d->calls == d->fail_at || (d->stay && d->calls > d->fail_at));
	d->failed += now;
	if (now && d->error)
		errno = d->error;
	return now;
}

static sqlite3_file *real_file(sqlite3_file *f)
{
	return ((struct shim *)f)->real;
}

#define DISK(f) (((struct shim *)(f))->disk)
#define TELL(d, what, name, ...) do { \
	const struct disk_watcher *w_ = (d)->watcher; \
	if (w_ && (name)) \
		w_->what(w_->self, (name), ##__VA_ARGS__); \
} while (0)
#define NAME_OF(f) (((struct shim *)(f))->name)
#define REAL(f, call, ...) real_file(f)->pMethods->call(real_file(f), ##__VA_ARGS__)

static int do_close(sqlite3_file *f)
{
	return REAL(f, xClose);
}

static int do_read(sqlite3_file *f, void *to, int n, sqlite3_int64 at)
{
	return fails(DISK(f)) ? SQLITE_IOERR_READ : REAL(f, xRead, to, n, at);
}

static int do_write(sqlite3_file *f, const void *from, int n, sqlite3_int64 at)
{
	if (fails(DISK(f)))
		return DISK(f)->code;
	TELL(DISK(f), wrote, NAME_OF(f), from, (size_t)n, at);
	return REAL(f, xWrite, from, n, at);
}

static int do_truncate(sqlite3_file *f, sqlite3_int64 n)
{
	if (fails(DISK(f)))
		return SQLITE_IOERR_TRUNCATE;
	TELL(DISK(f), truncated, NAME_OF(f), n);
	return REAL(f, xTruncate, n);
}

static int do_sync(sqlite3_file *f, int flags)
{
	if (fails(DISK(f)))
		return SQLITE_IOERR_FSYNC;
	TELL(DISK(f), synced, NAME_OF(f));
	return REAL(f, xSync, flags);
}

static int do_size(sqlite3_file *f, sqlite3_int64 *n)
{
	return REAL(f, xFileSize, n);
}

static int do_lock(sqlite3_file *f, int level)
{
	return REAL(f, xLock, level);
}

static int do_unlock(sqlite3_file *f, int level)
{
	return REAL(f, xUnlock, level);
}

static int do_check_lock(sqlite3_file *f, int *out)
{
	return REAL(f, xCheckReservedLock, out);
}

static int do_control(sqlite3_file *f, int op, void *arg)
{
	return REAL(f, xFileControl, op, arg);
}

static int do_sector(sqlite3_file *f)
{
	return REAL(f, xSectorSize);
}

static int do_traits(sqlite3_file *f)
{
	return REAL(f, xDeviceCharacteristics);
}

static int do_map(sqlite3_file *f, int page, int size, int extend, void volatile **out)
{
	return fails(DISK(f)) ? SQLITE_IOERR_SHMMAP : REAL(f, xShmMap, page, size, extend, out);
}

static int do_map_lock(sqlite3_file *f, int offset, int n, int flags)
{
	return REAL(f, xShmLock, offset, n, flags);
}

static void do_barrier(sqlite3_file *f)
{
	REAL(f, xShmBarrier);
}

static int do_unmap(sqlite3_file *f, int delete)
{
	return REAL(f, xShmUnmap, delete);
}

/* Version 2: no memory-mapped reads, which would pass us by. */
static const sqlite3_io_methods methods = {
	2, do_close, do_read, do_write, do_truncate, do_sync, do_size, do_lock, do_unlock,
	do_check_lock, do_control, do_sector, do_traits, do_map, do_map_lock, do_barrier, do_unmap,
	NULL, NULL
};

static bool ends_so(const char *name, const char *end)
{
	size_t n = strlen(name), m = strlen(end);

	return n >= m && strcmp(name + n - m, end) == 0;
}

static int vfs_open(sqlite3_vfs *v, const char *name, sqlite3_file *f, int flags, int *out)
{
	struct shim *shim = (struct shim *)f;
	struct failing_disk *d = v->pAppData;

	shim->base.pMethods = NULL;
	shim->disk = d;
	shim->name = name;
	if (fails(d) || (name && d->deny && ends_so(name, d->deny)))
		return SQLITE_CANTOPEN;
	int rc = real_vfs(v)->xOpen(real_vfs(v), name, shim->real, flags, out);
	if (shim->real->pMethods)
		shim->base.pMethods = &methods;
	if (rc == SQLITE_OK)
		TELL(d, opened, name);
	return rc;
}

static int vfs_delete(sqlite3_vfs *v, const char *name, int sync)
{
	struct failing_disk *d = v->pAppData;

	if (fails(d))
		return SQLITE_IOERR_DELETE;
	TELL(d, deleted, name, sync != 0);
	return real_vfs(v)->xDelete(real_vfs(v), name, sync);
}

/* A copy of the real layer with ours where it can fail. Its name is followed by
 * that of the real one. */
struct layer {
	sqlite3_vfs vfs;
	char        name[64];
};

int failing_disk_install(struct failing_disk *disk)
{
	sqlite3_vfs *real = sqlite3_vfs_find(NULL);
	struct layer *l = calloc(1, sizeof *l);

	if (!real || !l)
		return -1;
	l->vfs = *real;
	memcpy(l->name, NAME, sizeof NAME);
	strncpy(l->name + sizeof NAME, real->zName, sizeof l->name - sizeof NAME - 1);
	l->vfs.zName = l->name;
	l->vfs.szOsFile = (int)sizeof(struct shim) + real->szOsFile;
	l->vfs.pAppData = disk;
	l->vfs.xOpen = vfs_open;
	l->vfs.xDelete = vfs_delete;
	l->vfs.pNext = NULL;
	disk->layer = l;
	return sqlite3_vfs_register(&l->vfs, 1) == SQLITE_OK ? 0 : -1;
}

void failing_disk_remove(struct failing_disk *disk)
{
	struct layer *l = disk->layer;

	sqlite3_vfs_unregister(&l->vfs);
	free(l);
}
