#include "daemon/dongle/walls.h"

#include <errno.h>
#include <fcntl.h>
#include <linux/landlock.h>
#include <linux/netlink.h>
#include <sched.h>
#include <seccomp.h>
#include <stddef.h>
#include <stdint.h>
#include <sys/ioctl.h>
#include <sys/mman.h>
#include <sys/prctl.h>
#include <sys/socket.h>
#include <sys/syscall.h>
#include <unistd.h>

#include "daemon/log.h"

#define FOR_GOOD(option, value) prctl(option, value, 0, 0, 0)

/* ---- files ---- */

/* landlock(7). Of later kernels: what the headers that we are built with need not know. */
#define REFER    (UINT64_C(1) << 13)    /* since its second version: to link or move elsewhere */
#define TRUNCATE (UINT64_C(1) << 14)    /* since its third                                     */

#define READING  LANDLOCK_ACCESS_FS_READ_FILE
#define WRITING  LANDLOCK_ACCESS_FS_WRITE_FILE
/* Listing a folder is left: it tells names alone, and the USB library looks around. */
#define HANDLED \
	(READING | WRITING | LANDLOCK_ACCESS_FS_EXECUTE | LANDLOCK_ACCESS_FS_REMOVE_DIR | \
	 LANDLOCK_ACCESS_FS_REMOVE_FILE | LANDLOCK_ACCESS_FS_MAKE_CHAR | LANDLOCK_ACCESS_FS_MAKE_DIR | \
	 LANDLOCK_ACCESS_FS_MAKE_REG | LANDLOCK_ACCESS_FS_MAKE_SOCK | LANDLOCK_ACCESS_FS_MAKE_FIFO | \
	 LANDLOCK_ACCESS_FS_MAKE_BLOCK | LANDLOCK_ACCESS_FS_MAKE_SYM)

/* Of what is not there nothing is needed. */
static const struct {
	const char *path;
	uint64_t    may;
} places[] = {
	{ "/dev/bus/usb", READING | WRITING },
	{ "/dev/null", READING | WRITING },
	{ "/dev/urandom", READING },
	{ "/sys", READING },
	{ "/run/udev", READING },
	{ "/proc", READING },
	{ "/etc", READING },
	{ "/usr", READING },
	{ "/lib", READING },
};

static int allow_place(int rules, const char *path, uint64_t may)
{
	struct landlock_path_beneath_attr a = { .allowed_access = may };
	int r;

	a.parent_fd = open(path, O_PATH | O_CLOEXEC);
	if (a.parent_fd < 0)
		return 0;
	r = (int)syscall(SYS_landlock_add_rule, rules, LANDLOCK_RULE_PATH_BENEATH, &a, 0);
	close(a.parent_fd);
	return r;
}

static int wall_off_files(void)
{
	long version = syscall(SYS_landlock_create_ruleset, NULL, 0, LANDLOCK_CREATE_RULESET_VERSION);
	struct landlock_ruleset_attr attr = {
		.handled_access_fs = HANDLED | (version >= 2 ? REFER : 0) | (version >= 3 ? TRUNCATE : 0) };

	if (version < 1)
		return -1;
	/* Of the fields that this knows; those of later versions are none to it. */
	int rules = (int)syscall(SYS_landlock_create_ruleset, &attr, sizeof attr.handled_access_fs, 0);
	if (rules < 0)
		return -1;
	int r = 0;
	for (size_t i = 0; i < sizeof places / sizeof places[0] && r == 0; i++)
		r = allow_place(rules, places[i].path, places[i].may);
	if (r == 0)
		r = (int)syscall(SYS_landlock_restrict_self, rules, 0);
	close(rules);
	return r;
}

/* ---- calls ---- */

/* Whatever their arguments. What the C library, librtlsdr, libusb and libudev were seen to call
 * (strace) or call by their sources, as it is named on any processor; who lacks one skips it. */
static const char *const calls[] = {
	/* memory and threads */
	"brk", "mremap", "munmap", "madvise", "futex", "futex_time64", "futex_waitv", "set_robust_list",
	"get_robust_list", "rseq", "membarrier", "sched_yield", "sched_getaffinity", "getcpu", "gettid",
	"set_tid_address", "exit", "exit_group", "getpid", "getppid", "getuid", "geteuid", "getgid", "getegid",
	"getuid32", "geteuid32", "getgid32", "getegid32", "uname", "sysinfo", "getrandom",
	/* files, as far as they may be opened */
	"read", "readv", "pread64", "write", "writev", "close", "lseek", "_llseek", "dup", "dup2", "dup3", "fcntl",
	"fcntl64", "fstat", "fstat64", "stat", "stat64", "lstat", "lstat64", "newfstatat", "fstatat64", "statx",
	"statfs", "statfs64", "fstatfs", "fstatfs64", "access", "faccessat", "faccessat2", "readlink", "readlinkat",
	"getdents", "getdents64", "getcwd",
	/* waiting, and what is waited on */
	"poll", "ppoll", "ppoll_time64", "select", "_newselect", "pselect6", "pselect6_time64", "epoll_create1",
	"epoll_ctl", "epoll_wait", "epoll_pwait", "epoll_pwait2", "eventfd2", "pipe", "pipe2", "timerfd_create",
	"timerfd_settime", "timerfd_settime64", "timerfd_gettime", "timerfd_gettime64", "restart_syscall",
	/* clocks */
	"clock_gettime", "clock_gettime64", "clock_getres", "clock_getres_time64", "clock_nanosleep",
	"clock_nanosleep_time64", "nanosleep", "gettimeofday", "time", "alarm", "setitimer",
	/* signals of its own */
	"rt_sigaction", "rt_sigprocmask", "rt_sigreturn", "sigreturn", "rt_sigtimedwait", "sigaltstack",
	/* sockets that are there: the daemon's, and the kernel's that tells of hot plugging */
	"bind", "getsockname", "getsockopt", "setsockopt", "send", "sendto", "sendmsg", "recv", "recvfrom",
	"recvmsg", "recvmmsg", "recvmmsg_time64",
};

/* Only where arguments, counted from 0, have these bits so. */
struct only {
	const char         *call;
	unsigned            n;
	struct scmp_arg_cmp where[2];
};

#define BITS(argument, bits, are) { argument, SCMP_CMP_MASKED_EQ, bits, are }

#ifdef __s390__
#define CLONE_FLAGS 1
#else
#define CLONE_FLAGS 0
#endif

#define REFUSE     SCMP_ACT_ERRNO(ENOSYS)
#define ALL32      UINT64_C(0xffffffff)
#define MAKES_FILE ((uint64_t)(O_CREAT | O_TRUNC | (O_TMPFILE & ~O_DIRECTORY)))

static const struct only onlys[] = {
	{ "clone", 1, { BITS(CLONE_FLAGS, CLONE_THREAD, CLONE_THREAD) } },
	{ "mmap", 1, { BITS(2, PROT_EXEC, 0) } },
	{ "mmap2", 1, { BITS(2, PROT_EXEC, 0) } },
	{ "mprotect", 1, { BITS(2, PROT_EXEC, 0) } },
	{ "open", 1, { BITS(1, MAKES_FILE, 0) } },
	{ "openat", 1, { BITS(2, MAKES_FILE, 0) } },
	{ "ioctl", 1, { BITS(1, 0xff00, 'U' << 8) } },       /* linux/usbdevice_fs.h: all of usbfs's are 'U' */
	{ "socket", 2, { BITS(0, ALL32, AF_NETLINK), BITS(2, ALL32, NETLINK_KOBJECT_UEVENT) } },
	{ "prctl", 1, { BITS(0, ALL32, PR_SET_NAME) } },
	{ "prlimit64", 1, { BITS(2, ~UINT64_C(0), 0) } },    /* asking, not setting         */
	{ "kill", 1, { BITS(1, ALL32, 0) } },                /* whether somebody is there   */
};

/* What is called each time and can be done without is no news: refused, and the kernel does not log it. clone3
 * keeps its flags where they can't be looked at, and the C library falls back on clone; isatty(3) takes no for an
 * answer. */
static const struct only quiet[] = {
	{ .call = "clone3" },
	{ "ioctl", 1, { BITS(1, ALL32, TCGETS) } },
};

/* What is meant for itself alone: abort(3) and raise(3). */
static const char *const to_itself[] = { "tgkill", "kill" };

/* A call that this library or processor does not know needs no rule. */
static int rule(scmp_filter_ctx filter, uint32_t what, const char *call, unsigned n,
		const struct scmp_arg_cmp *where)
{
	int number = seccomp_syscall_resolve_name(call);

	if (number == __NR_SCMP_ERROR)
		return 0;
	return seccomp_rule_add_array(filter, what, number, n, where);
}

static int rules_of(scmp_filter_ctx filter, uint32_t what, const struct only *o, size_t n)
{
	int r = 0;

	for (; n > 0; o++, n--)
		r |= rule(filter, what, o->call, o->n, o->where);
	return r;
}

static int list_allowed(scmp_filter_ctx filter)
{
	const struct scmp_arg_cmp me = { 0, SCMP_CMP_EQ, (scmp_datum_t)getpid(), 0 };
	/* What is refused quietly is left to the filter that does. */
	int r = rules_of(filter, SCMP_ACT_ALLOW, onlys, sizeof onlys / sizeof onlys[0]) |
		rules_of(filter, SCMP_ACT_ALLOW, quiet, sizeof quiet / sizeof quiet[0]);

	for (size_t i = 0; i < sizeof calls / sizeof calls[0]; i++)
		r |= rule(filter, SCMP_ACT_ALLOW, calls[i], 0, NULL);
	for (size_t i = 0; i < sizeof to_itself / sizeof to_itself[0]; i++)
		r |= rule(filter, SCMP_ACT_ALLOW, to_itself[i], 1, &me);
	/* A library or kernel that tells nothing is no worse. */
	seccomp_attr_set(filter, SCMP_FLTATR_CTL_LOG, 1);
	return r;
}

static int list_quiet(scmp_filter_ctx filter)
{
	return rules_of(filter, REFUSE, quiet, sizeof quiet / sizeof quiet[0]);
}

static int wall_off(uint32_t others, int (*list)(scmp_filter_ctx))
{
	scmp_filter_ctx filter = seccomp_init(others);
	int r = -1;

	if (!filter)
		return -1;
	if (list(filter) == 0 && seccomp_load(filter) == 0)
		r = 0;
	seccomp_release(filter);
	return r;
}

/* The stricter answer of the two holds. The second leaves no way to add a third. */
static int wall_off_calls(void)
{
	return wall_off(SCMP_ACT_ALLOW, list_quiet) < 0 ? -1 : wall_off(REFUSE, list_allowed);
}

/* Files first: calls leave no way to it. */
unsigned walls_raise(void)
{
	unsigned missing = 0;

	if (!WALLS_BUILT)
		return 0;
	FOR_GOOD(PR_SET_DUMPABLE, 0);
	FOR_GOOD(PR_SET_NO_NEW_PRIVS, 1);
	if (wall_off_files() < 0)
		missing |= WALLS_NO_FILES;
	if (wall_off_calls() < 0)
		missing |= WALLS_NO_CALLS;
	return missing;
}

void walls_tell(unsigned missing, const char *who)
{
	static const struct { unsigned wall; const char *lacks; } walls[] = {
		{ WALLS_NO_FILES, "Landlock: it may open whatever its user may" },
		{ WALLS_NO_CALLS, "seccomp: it may call whatever its user may" },
	};

	for (size_t i = 0; i < sizeof walls / sizeof walls[0]; i++)
		if (missing & walls[i].wall)
			log_line(LOG_NOTICE, "%s: the process that reads it has to do without %s", who, walls[i].lacks);
}
