#include "tests/test.h"

#include <errno.h>
#include <fcntl.h>
#include <linux/netlink.h>
#include <linux/usbdevice_fs.h>
#include <pthread.h>
#include <rtl-sdr.h>
#include <signal.h>
#include <stdbool.h>
#include <stdio.h>
#include <string.h>
#include <sys/eventfd.h>
#include <sys/ioctl.h>
#include <sys/mman.h>
#include <sys/prctl.h>
#include <sys/ptrace.h>
#include <sys/socket.h>
#include <sys/syscall.h>
#include <sys/wait.h>
#include <unistd.h>

#include "daemon/dongle/walls.h"
#include "tests/folder.h"

/* What is left to a process within the walls. Each row is tried by a process of its own, once without
 * them, where it must go well, so that a row that can't is noticed. */

#define NOTHING_LEFT 250                /* of exit codes: errno values are below */

/* errno, or 0. */
static int result(long r)
{
	return r < 0 ? errno : 0;
}

static int opened(const char *path, int flags)
{
	int fd = open(path, flags, 0600);

	if (fd < 0)
		return errno;
	close(fd);
	return 0;
}

/* ---- what a dongle's library does ---- */

static int reads_the_system(void)
{
	return opened("/etc/passwd", O_RDONLY) | opened("/proc/self/mountinfo", O_RDONLY) |
	       opened("/sys/kernel/uevent_seqnum", O_RDONLY);
}

static int hears_of_hot_plugging(void)
{
	struct sockaddr_nl all = { .nl_family = AF_NETLINK, .nl_groups = 2 };
	int fd = socket(AF_NETLINK, SOCK_RAW | SOCK_CLOEXEC | SOCK_NONBLOCK, NETLINK_KOBJECT_UEVENT);

	return fd < 0 ? errno : result(bind(fd, (struct sockaddr *)&all, sizeof all));
}

/* No usbfs's file: it says so. */
static int asks_usbfs(void)
{
	uint32_t can;
	int r = result(ioctl(eventfd(0, 0), USBDEVFS_GET_CAPABILITIES, &can));

	return r == ENOTTY || r == EINVAL ? 0 : r ? r : NOTHING_LEFT;
}

static void *raise_it(void *at)
{
	*(int *)at = 1;
	return NULL;
}

static int begins_a_thread(void)
{
	int ran = 0;
	pthread_t t;
	int r = pthread_create(&t, NULL, raise_it, &ran);

	if (r == 0)
		r = pthread_join(t, NULL);
	return r ? r : ran ? 0 : NOTHING_LEFT;
}

static int is_told_that_the_daemon_lives(void)
{
	return result(kill(getppid(), 0));
}

/* With the real USB library: as many as there are, which is as many as without walls. */
static int looks_for_dongles(void)
{
	return rtlsdr_get_device_count() < NOTHING_LEFT ? 0 : NOTHING_LEFT;
}

/* ---- what one who took it over would ---- */

static int reads_a_survey(void)
{
	return opened("night.survey", O_RDONLY);
}

static int spoils_a_survey(void)
{
	return opened("night.survey", O_WRONLY);
}

static int empties_a_survey(void)
{
	return result(truncate("night.survey", 0));
}

static int makes_a_file(void)
{
	return opened("new", O_WRONLY | O_CREAT);
}

static int makes_a_file_without_a_name(void)
{
	return opened(".", O_RDWR | O_TMPFILE);
}

static int removes_a_survey(void)
{
	return result(unlink("night.survey"));
}

static int renames_a_survey(void)
{
	return result(rename("night.survey", "other"));
}

static int runs_a_program(void)
{
	char *none[] = { NULL };

	execve("/bin/true", none, none);
	return errno;
}

static int begins_a_process(void)
{
	pid_t pid = fork();

	if (pid == 0)
		_exit(0);
	return result(pid);
}

static int calls_a_network(void)
{
	return result(socket(AF_INET, SOCK_STREAM, 0));
}

static int calls_a_neighbour(void)
{
	return result(socket(AF_UNIX, SOCK_STREAM, 0));
}

static int routes(void)
{
	return result(socket(AF_NETLINK, SOCK_RAW, NETLINK_ROUTE));
}

static int signals_the_daemon(void)
{
	return result(kill(getppid(), SIGURG));
}

static int looks_into_the_daemon(void)
{
	char path[40];

	snprintf(path, sizeof path, "/proc/%d/mem", getppid());
	return opened(path, O_RDONLY);
}

static int traces_the_daemon(void)
{
	return result(ptrace(PTRACE_SEIZE, getppid(), NULL, NULL));
}

static int makes_code(void)
{
	return mmap(NULL, 4096, PROT_READ | PROT_EXEC, MAP_PRIVATE | MAP_ANONYMOUS, -1, 0) == MAP_FAILED ? errno : 0;
}

static int makes_memory_code(void)
{
	void *page = mmap(NULL, 4096, PROT_READ | PROT_WRITE, MAP_PRIVATE | MAP_ANONYMOUS, -1, 0);

	return page == MAP_FAILED ? NOTHING_LEFT : result(mprotect(page, 4096, PROT_READ | PROT_EXEC));
}

static int shows_itself_again(void)
{
	return result(prctl(PR_SET_DUMPABLE, 1, 0, 0, 0));
}

/* Is of no use, but takes a name that is none of usbfs's. */
static int asks_a_device(void)
{
	int fd = eventfd(0, 0), on = 1;

	return result(ioctl(fd, FIONBIO, &on));
}

/* errno within the walls. Where only one of them stands in the way it is named. */
static const struct {
	const char *why;
	int       (*act)(void);
	int         within;
	unsigned    wall;
} rows[] = {
	{ "reads /etc, /proc, /sys", reads_the_system, 0, 0 },
	{ "hears of hot plugging", hears_of_hot_plugging, 0, 0 },
	{ "asks usbfs", asks_usbfs, 0, 0 },
	{ "begins a thread", begins_a_thread, 0, 0 },
	{ "is told that the daemon lives", is_told_that_the_daemon_lives, 0, 0 },
	{ "looks for dongles", looks_for_dongles, 0, 0 },

	{ "reads a survey", reads_a_survey, EACCES, WALLS_NO_FILES },
	{ "spoils a survey", spoils_a_survey, EACCES, WALLS_NO_FILES },
	{ "empties a survey", empties_a_survey, ENOSYS, WALLS_NO_CALLS },
	{ "makes a file", makes_a_file, ENOSYS, WALLS_NO_CALLS },
	{ "makes a file without a name", makes_a_file_without_a_name, ENOSYS, WALLS_NO_CALLS },
	{ "removes a survey", removes_a_survey, ENOSYS, WALLS_NO_CALLS },
	{ "renames a survey", renames_a_survey, ENOSYS, WALLS_NO_CALLS },
	{ "begins a process", begins_a_process, ENOSYS, WALLS_NO_CALLS },
	{ "calls a network", calls_a_network, ENOSYS, WALLS_NO_CALLS },
	{ "calls a neighbour", calls_a_neighbour, ENOSYS, WALLS_NO_CALLS },
	{ "signals the daemon", signals_the_daemon, ENOSYS, WALLS_NO_CALLS },
	{ "makes code", makes_code, ENOSYS, WALLS_NO_CALLS },
	{ "makes memory code", makes_memory_code, ENOSYS, WALLS_NO_CALLS },
	{ "asks another device", asks_a_device, ENOSYS, WALLS_NO_CALLS },
	{ "shows itself again", shows_itself_again, ENOSYS, WALLS_NO_CALLS },
};

static int tried(const struct folder *f, int (*act)(void), bool within)
{
	int status;
	pid_t pid = fork();

	assert_true(pid >= 0);
	if (pid == 0) {
		if (chdir(f->path) < 0)
			_exit(NOTHING_LEFT);
		if (within)
			walls_raise();
		_exit(act());
	}
	assert_int_equal(waitpid(pid, &status, 0), pid);
	return WIFEXITED(status) ? WEXITSTATUS(status) : 1000 + WTERMSIG(status);
}

/* What this kernel lacks, told by a process that may be lost. */
static unsigned missing(void)
{
	int status;
	pid_t pid = fork();

	if (pid == 0)
		_exit((int)walls_raise());
	assert_int_equal(waitpid(pid, &status, 0), pid);
	assert_true(WIFEXITED(status));
	return (unsigned)WEXITSTATUS(status);
}

static void what_is_left(void **state)
{
	const struct folder *f = *state;
	unsigned lacks = missing();

	for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
		write_file(f, "night.survey", "x", 1);
		int without = tried(f, rows[i].act, false);
		write_file(f, "night.survey", "x", 1);
		int within = tried(f, rows[i].act, true);
		if (without != 0)
			fail_msg("%s: fails without walls: %s", rows[i].why, strerror(without));
		if (lacks & rows[i].wall)
			print_message("%s: not walled off by this kernel\n", rows[i].why);
		else if (within != rows[i].within)
			fail_msg("%s: %d (%s), not %d", rows[i].why, within, strerror(within), rows[i].within);
	}
}

/* These depend on more than the walls, so that without them either may be. */
static void nor_is_this(void **state)
{
	static int (*const acts[])(void) = { runs_a_program, routes, traces_the_daemon, looks_into_the_daemon };
	unsigned lacks = missing();

	for (size_t i = 0; i < sizeof acts / sizeof acts[0] && !lacks; i++)
		assert_int_not_equal(tried(*state, acts[i], true), 0);
}

static void it_says_what_it_is(void **state)
{
	char line[200];
	int found = 0;

	(void)state;
	pid_t pid = fork();
	if (pid == 0) {
		walls_raise();
		FILE *f = fopen("/proc/self/status", "r");
		while (f && fgets(line, sizeof line, f))
			found += strcmp(line, "NoNewPrivs:\t1\n") == 0 || strcmp(line, "Seccomp:\t2\n") == 0;
		_exit(found);
	}
	assert_int_equal(waitpid(pid, &found, 0), pid);
	assert_int_equal(WEXITSTATUS(found), missing() & WALLS_NO_CALLS ? 1 : 2);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(what_is_left),
		cmocka_unit_test(nor_is_this),
		cmocka_unit_test(it_says_what_it_is),
	};

	if (!WALLS_BUILT) {
		puts("this build has no walls");
		return 77;
	}
	return cmocka_run_group_tests(tests, make_folder, drop_folder);
}
