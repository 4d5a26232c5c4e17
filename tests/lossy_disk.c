#include "tests/lossy_disk.h"

#include "tests/test.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#define SECTOR 512

/* A write that was not synced; bytes NULL: the file was cut to at. */
struct pending {
	int64_t  at;
	size_t   n;
	uint8_t *bytes;
};

struct lossy_file {
	char            name[256];
	uint8_t        *synced;
	size_t          size, room;
	struct pending *pending;
	int             n_pending;
	bool            there, there_for_sure;
};

static void *must(void *p)
{
	if (!p)
		abort();
	return p;
}

static struct lossy_file *file_of(struct lossy_disk *d, const char *name)
{
	for (int i = 0; i < d->n; i++)
		if (strcmp(d->files[i].name, name) == 0)
			return &d->files[i];
	d->files = must(reallocarray(d->files, (size_t)d->n + 1, sizeof *d->files));
	struct lossy_file *f = &d->files[d->n++];
	memset(f, 0, sizeof *f);
	snprintf(f->name, sizeof f->name, "%s", name);
	return f;
}

/* An image of a file that grows with what is written past its end. */
struct image {
	uint8_t *bytes;
	size_t   size, room;
};

static void grow(struct image *m, size_t size)
{
	if (size > m->room) {
		m->room = size + size / 2 + 65536;
		m->bytes = must(realloc(m->bytes, m->room));
	}
	if (size > m->size)
		memset(m->bytes + m->size, 0, size - m->size);
	m->size = size > m->size ? size : m->size;
}

static void put(struct image *m, int64_t at, const uint8_t *bytes, size_t n)
{
	grow(m, (size_t)at + n);
	memcpy(m->bytes + at, bytes, n);
}

static void add_pending(struct lossy_file *f, int64_t at, const void *bytes, size_t n)
{
	f->pending = must(reallocarray(f->pending, (size_t)f->n_pending + 1, sizeof *f->pending));
	struct pending *p = &f->pending[f->n_pending++];
	*p = (struct pending){ at, n, NULL };
	if (bytes)
		p->bytes = memcpy(must(malloc(n + 1)), bytes, n);
}

static void forget_pending(struct lossy_file *f)
{
	for (int i = 0; i < f->n_pending; i++)
		free(f->pending[i].bytes);
	f->n_pending = 0;
}

static void call(struct lossy_disk *d)
{
	d->calls++;
	if (d->at_call)
		d->at_call(d->self);
}

/* ---- what is told ---- */

static void opened(void *self, const char *name)
{
	struct lossy_file *f = file_of(self, name);

	if (!f->there) {                /* made anew */
		forget_pending(f);
		f->size = 0;
		f->there_for_sure = false;
	}
	f->there = true;
}

static void wrote(void *self, const char *name, const void *bytes, size_t n, int64_t at)
{
	add_pending(file_of(self, name), at, bytes, n);
	call(self);
}

static void truncated(void *self, const char *name, int64_t n)
{
	add_pending(file_of(self, name), n, NULL, 0);
	call(self);
}

static void folder_synced(struct lossy_disk *d)
{
	for (int i = 0; i < d->n; i++)
		d->files[i].there_for_sure = d->files[i].there;
}

/* A new file's first sync takes its folder along: os_unix.c does so for logs and journals. */
static void synced(void *self, const char *name)
{
	struct lossy_file *f = file_of(self, name);
	struct image m = { f->synced, f->size, f->room };

	call(self);
	for (int i = 0; i < f->n_pending; i++)
		if (f->pending[i].bytes)
			put(&m, f->pending[i].at, f->pending[i].bytes, f->pending[i].n);
		else if ((size_t)f->pending[i].at < m.size)
			m.size = (size_t)f->pending[i].at;
	f->synced = m.bytes;
	f->size = m.size;
	f->room = m.room;
	forget_pending(f);
	if (!f->there_for_sure)
		folder_synced(self);
	call(self);
}

static void deleted(void *self, const char *name, bool with_folder)
{
	struct lossy_file *f = file_of(self, name);

	call(self);
	f->there = false;
	if (!with_folder)
		return;
	folder_synced(self);
	forget_pending(f);
	f->size = 0;
	call(self);
}

void lossy_disk_begin(struct lossy_disk *d)
{
	d->watcher = (struct disk_watcher){ d, opened, wrote, truncated, synced, deleted };
}

void lossy_disk_end(struct lossy_disk *d)
{
	for (int i = 0; i < d->n; i++) {
		forget_pending(&d->files[i]);
		free(d->files[i].pending);
		free(d->files[i].synced);
	}
	free(d->files);
	d->files = NULL;
	d->n = 0;
}

/* ---- the cut ---- */

enum fate { KEPT, LOST, TORN, NOISE, FATES };

static void put_piece(struct image *m, int64_t at, const uint8_t *bytes, size_t n, unsigned *seed)
{
	uint8_t noise[SECTOR];

	switch ((enum fate)(rand_r(seed) % FATES)) {
	case KEPT:
		put(m, at, bytes, n);
		break;
	case TORN:
		put(m, at, bytes, (size_t)rand_r(seed) % n);
		break;
	case NOISE:
		for (size_t i = 0; i < n; i++)
			noise[i] = (uint8_t)rand_r(seed);
		put(m, at, noise, n);
		break;
	default:
		break;
	}
}

/* mood: sometimes the disk keeps or loses all, which is as likely as anything in between. */
static void leave_write(struct image *m, const struct pending *p, int mood, unsigned *seed)
{
	if (mood == 0) {
		put(m, p->at, p->bytes, p->n);
		return;
	}
	for (size_t done = 0; mood != 1 && done < p->n; ) {
		size_t n = SECTOR - (size_t)(p->at + (int64_t)done) % SECTOR;
		n = n < p->n - done ? n : p->n - done;
		put_piece(m, p->at + (int64_t)done, p->bytes + done, n, seed);
		done += n;
	}
}

static void leave_file(const struct lossy_file *f, const char *folder, unsigned *seed)
{
	struct image m = { 0 };
	char path[512];
	int mood = rand_r(seed) % 6;

	if (f->there_for_sure != f->there ? rand_r(seed) % 2 : !f->there)
		return;
	grow(&m, f->size);
	if (f->size)
		memcpy(m.bytes, f->synced, f->size);
	for (int i = 0; i < f->n_pending; i++)
		if (f->pending[i].bytes)
			leave_write(&m, &f->pending[i], mood, seed);
		else if ((size_t)f->pending[i].at < m.size && rand_r(seed) % 2)
			m.size = (size_t)f->pending[i].at;
	snprintf(path, sizeof path, "%s%s", folder, strrchr(f->name, '/'));
	FILE *out = fopen(path, "w");
	assert_non_null(out);
	if (m.size > 0)
		assert_int_equal(fwrite(m.bytes, 1, m.size, out), m.size);
	assert_int_equal(fclose(out), 0);
	free(m.bytes);
}

void lossy_disk_cut(const struct lossy_disk *d, const char *folder, unsigned *seed)
{
	for (int i = 0; i < d->n; i++)
		leave_file(&d->files[i], folder, seed);
}
