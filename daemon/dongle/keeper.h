#ifndef BANDCENSUS_DAEMON_DONGLE_KEEPER_H
#define BANDCENSUS_DAEMON_DONGLE_KEEPER_H

#include "daemon/source.h"
#include "daemon/dongle/source_dongle.h"

/* Keeps one dongle going. A process of its own reads it: nothing that the library
 * does, or fails to do, comes further. Whatever is wrong, that process is killed,
 * and the next tune starts another, which finds the dongle by its serial and sets
 * it up from nothing. Only create, meet and destroy wait. */
struct keeper;

struct keeper *keeper_create(const char *arg, bool bias_tee);   /* NULL: no memory */
void keeper_destroy(struct keeper *k);          /* NULL is fine; up to 4 s */

/* Begins to open it and waits for that, but no longer than 2 s: an ordinary one
 * answers in half a second, and one that takes longer is waited for by whoever
 * reads. 0, or -1 with why. */
int keeper_meet(struct keeper *k, struct fault *why);

/* As the seam wants them: daemon/source.h. */
int keeper_tune(struct keeper *k, const struct tuning *to, struct fault *why);
int keeper_read(struct keeper *k, size_t n, struct block *out, struct fault *why);
int keeper_descriptor(const struct keeper *k);
void keeper_rest(struct keeper *k);
void keeper_renew(struct keeper *k);

/* Label, "dongle 00000001, R820T", and gains, once it was met. */
void keeper_about(const struct keeper *k, struct source_about *out);
struct dongle_counts keeper_counts(const struct keeper *k);

#endif
