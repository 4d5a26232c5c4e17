#include "tests/test.h"

#include "tests/dongle/scene.h"

#include <dirent.h>
#include <fcntl.h>
#include <spawn.h>
#include <stdlib.h>
#include <string.h>
#include <sys/syscall.h>
#include <sys/wait.h>
#include <time.h>
#include <unistd.h>

#define LOOK_NS 5000000

/* Really: the module may be in this process as well. */
static void nap(void)
{
	const struct timespec t = { .tv_nsec = LOOK_NS };
	syscall(SYS_clock_nanosleep, CLOCK_MONOTONIC, 0, &t, NULL);
}

void scene_begin(struct scene *s, const struct scenario *what)
{
	struct fault why = { 0 };
	char state[128];
	FILE *f;

	*s = (struct scene){ .folder = "/tmp/dongle-XXXXXX" };
	assert_non_null(mkdtemp(s->folder));
	snprintf(s->path, sizeof s->path, "%s/scenario", s->folder);
	snprintf(state, sizeof state, "%s.state", s->path);
	f = fopen(s->path, "w");
	assert_non_null(f);
	scenario_write(f, what);
	assert_int_equal(fclose(f), 0);
	s->state = state_create(state, what, &why);
	if (!s->state)
		fail_msg("%s", why.text);
	setenv("DONGLE_SCENARIO", s->path, 1);
}

void scene_end(struct scene *s)
{
	DIR *d = opendir(s->folder);
	char path[400];

	state_unmap(s->state);
	s->state = NULL;
	unsetenv("DONGLE_SCENARIO");
	for (struct dirent *e; d && (e = readdir(d));) {
		snprintf(path, sizeof path, "%s/%s", s->folder, e->d_name);
		unlink(path);
	}
	if (d)
		closedir(d);
	rmdir(s->folder);
}

/* The environment with the module in it; a sanitizer must bear not being first. */
static char **environment(char *preload, size_t size, char *options, size_t options_size)
{
	static const char *const ours[] = { "LD_PRELOAD=", "ASAN_OPTIONS=" };
	const char *before = getenv("ASAN_OPTIONS");
	size_t n = 0, k = 0;

	while (environ[n])
		n++;
	char **all = calloc(n + 3, sizeof *all);
	assert_non_null(all);
	for (size_t i = 0; i < n; i++)
		if (strncmp(environ[i], ours[0], strlen(ours[0])) != 0 &&
		    strncmp(environ[i], ours[1], strlen(ours[1])) != 0)
			all[k++] = environ[i];
	snprintf(preload, size, "LD_PRELOAD=%s", DONGLE_LIBRARY);
	snprintf(options, options_size, "ASAN_OPTIONS=%s%sverify_asan_link_order=0",
		 before ? before : "", before ? ":" : "");
	all[k++] = preload;
	all[k++] = options;
	return all;
}

static void send_to(posix_spawn_file_actions_t *files, const struct scene *s, int fd,
		    const char *name)
{
	char path[400];

	if (!name)
		return;
	snprintf(path, sizeof path, "%s/%s", s->folder, name);
	assert_int_equal(posix_spawn_file_actions_addopen(files, fd, path,
							  O_WRONLY | O_CREAT | O_TRUNC, 0600), 0);
}

pid_t scene_start(struct scene *s, const char *const *argv, const char *out, const char *err)
{
	posix_spawn_file_actions_t files;
	char preload[4096], options[1024];
	char **all = environment(preload, sizeof preload, options, sizeof options);
	pid_t pid;

	assert_int_equal(posix_spawn_file_actions_init(&files), 0);
	send_to(&files, s, 1, out);
	send_to(&files, s, 2, err);
	int r = posix_spawnp(&pid, argv[0], &files, NULL, (char *const *)argv, all);
	posix_spawn_file_actions_destroy(&files);
	free(all);
	if (r != 0)
		fail_msg("%s: %s", argv[0], strerror(r));
	return pid;
}

int scene_wait(pid_t pid, double real_s)
{
	int64_t until = state_real_us() + (int64_t)(real_s * 1e6);
	int status;

	while (state_real_us() < until) {
		if (waitpid(pid, &status, WNOHANG) == pid)
			return status;
		nap();
	}
	return -1;
}

bool scene_reaches(const _Atomic int64_t *counter, int64_t least, double real_s)
{
	int64_t until = state_real_us() + (int64_t)(real_s * 1e6);

	while (*counter < least && state_real_us() < until)
		nap();
	return *counter >= least;
}

void scene_mischief(struct scene *s, struct mischief m)
{
	int n = s->state->scenario.n_mischief;

	assert_in_range(n, 0, MISCHIEF_MOST - 1);
	m.when = WHEN_TIME;
	m.at = state_elapsed_s(s->state);
	s->state->scenario.mischief[n] = m;
	s->state->scenario.n_mischief = n + 1;
}
