#ifndef BANDCENSUS_TESTS_LOSSY_DISK_H
#define BANDCENSUS_TESTS_LOSSY_DISK_H

#include "tests/failing_vfs.h"

/* What is left of a folder's files when the power goes: all that was synced, and of what was
 * written since any part of it, in any order. By sectors of 512 bytes each piece of a write is
 * kept, lost, torn (its first bytes only) or turned to noise. A file that was made or deleted is so
 * for sure only once its folder was synced. Bytes that were not written keep what they were: what
 * SQLite calls "powersafe overwrite" and takes for granted unless told otherwise. */
struct lossy_disk {
	struct lossy_file *files;
	int                n;
	long               calls;       /* of all that reaches the disk                    */
	void             (*at_call)(void *self);        /* before each; may ask for a cut  */
	void              *self;
	struct disk_watcher watcher;    /* to be given to a failing_disk                   */
};

void lossy_disk_begin(struct lossy_disk *d);
void lossy_disk_end(struct lossy_disk *d);

/* Writes to folder what a cut now would leave, chosen by seed, which goes on. */
void lossy_disk_cut(const struct lossy_disk *d, const char *folder, unsigned *seed);

#endif
