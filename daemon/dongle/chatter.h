#ifndef BANDCENSUS_DAEMON_DONGLE_CHATTER_H
#define BANDCENSUS_DAEMON_DONGLE_CHATTER_H

/* What libraries say on stderr of a process that has no use for it otherwise:
 * some of it is told nowhere else. */
struct chatter;

/* From now on stderr leads here, and what does not fit is lost; NULL with errno. */
struct chatter *chatter_create(void);
void chatter_destroy(struct chatter *c);        /* NULL is fine; stderr leads nowhere then */

/* Which of n words (32 at the most) were among what was said since the last time: bit i for
 * words[i]. It is forgotten. */
unsigned chatter_said(struct chatter *c, const char *const *words, int n);

#endif
