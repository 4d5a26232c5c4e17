#ifndef BANDCENSUS_DAEMON_DONGLE_CAPTURE_CHILD_H
#define BANDCENSUS_DAEMON_DONGLE_CAPTURE_CHILD_H

/* What a program does instead when its first argument is CAPTURE_OPTION: opens the
 * dongle library, which nobody else does, and follows orders until it is told to
 * stop or the daemon is gone. Returns the exit code; may be killed at any time. */
int capture_child(void);

#endif
