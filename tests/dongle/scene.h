#ifndef BANDCENSUS_TESTS_DONGLE_SCENE_H
#define BANDCENSUS_TESTS_DONGLE_SCENE_H

#include <sys/types.h>

#include "tests/dongle/state.h"

/* A scenario being played: its file and state in a folder of their own, and the
 * programs that run in it. What they do is read off state. */
struct scene {
	char          folder[64];       /* deleted with all in it at the end          */
	char          path[96];         /* the scenario's file                        */
	struct state *state;
};

/* Also lets this process take part from its next libusb_init on, if the module is
 * linked to it. The test fails when it can't be had. */
void scene_begin(struct scene *s, const struct scenario *what);
void scene_end(struct scene *s);

/* Starts a program (argv, NULL last) with the module loaded; stdout and stderr go to
 * files of those names in the folder, or stay as they are when NULL. */
pid_t scene_start(struct scene *s, const char *const *argv, const char *out, const char *err);

/* Its wait status once it ended within real_s, which is real time; -1: it did not. */
int scene_wait(pid_t pid, double real_s);

/* Until *counter reached least, or real_s passed: false. */
bool scene_reaches(const _Atomic int64_t *counter, int64_t least, double real_s);

/* Adds mischief that begins at once. */
void scene_mischief(struct scene *s, struct mischief m);

#endif
