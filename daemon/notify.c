#include "daemon/notify.h"

#include <errno.h>
#include <inttypes.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/socket.h>
#include <sys/un.h>
#include <time.h>
#include <unistd.h>

#include "store/text.h"

#define FEEDS 4                 /* within the watchdog's patience */

static int64_t steady_us(void)
{
	struct timespec t;

	clock_gettime(CLOCK_MONOTONIC, &t);
	return (int64_t)t.tv_sec * 1000000 + t.tv_nsec / 1000;
}

/* A path, or a name in the abstract namespace, written with @. */
static int open_socket(const char *name)
{
	struct sockaddr_un to = { .sun_family = AF_UNIX };
	size_t n = strlen(name);

	if ((name[0] != '/' && name[0] != '@') || n < 2 || n >= sizeof to.sun_path)
		return -1;
	memcpy(to.sun_path, name, n);
	if (name[0] == '@')
		to.sun_path[0] = '\0';
	int fd = socket(AF_UNIX, SOCK_DGRAM | SOCK_CLOEXEC, 0);
	if (fd >= 0 && connect(fd, (struct sockaddr *)&to,
			       (socklen_t)(offsetof(struct sockaddr_un, sun_path) + n)) < 0) {
		close(fd);
		return -1;
	}
	return fd;
}

static int64_t patience(void)
{
	const char *us = getenv("WATCHDOG_USEC"), *pid = getenv("WATCHDOG_PID");
	char *end;
	long long v;

	/* It may be meant for another process. */
	if (!us || (pid && strtol(pid, NULL, 10) != getpid()))
		return 0;
	errno = 0;
	v = strtoll(us, &end, 10);
	return errno || *end || v <= 0 ? 0 : v;
}

void notify_open(struct notify *n)
{
	const char *name = getenv("NOTIFY_SOCKET");

	*n = (struct notify){ .socket = name ? open_socket(name) : -1, .usual_us = patience() };
	n->patience_us = n->usual_us;
	/* The process that reads a dongle is not to speak for us. */
	unsetenv("NOTIFY_SOCKET");
	unsetenv("WATCHDOG_USEC");
	unsetenv("WATCHDOG_PID");
}

void notify_close(struct notify *n)
{
	if (n->socket >= 0)
		close(n->socket);
	n->socket = -1;
}

__attribute__((format(printf, 2, 3)))
static void say(struct notify *n, const char *format, ...)
{
	char text[400];
	va_list args;

	if (n->socket < 0)
		return;
	va_start(args, format);
	vsnprintf(text, sizeof text, format, args);
	va_end(args);
	/* Nobody there any more: nothing to be done about it. */
	if (send(n->socket, text, strlen(text), MSG_NOSIGNAL | MSG_DONTWAIT) < 0)
		return;
}

void notify_ready(struct notify *n, const char *status)
{
	char line[200];

	/* A line to come within it would be an order. */
	snprintf(line, sizeof line, "%s", status);
	say(n, "%sSTATUS=%s", n->ready ? "" : "READY=1\n", text_tame(line));
	n->ready = true;
}

static void feed(struct notify *n, int64_t patience_us)
{
	n->fed_us = steady_us();
	if (patience_us == n->patience_us) {
		say(n, "WATCHDOG=1");
		return;
	}
	n->patience_us = patience_us;
	say(n, "WATCHDOG_USEC=%" PRId64 "\nWATCHDOG=1", patience_us);
}

void notify_quiet(struct notify *n, int64_t us, const char *status)
{
	notify_ready(n, status);
	if (n->usual_us > 0)
		feed(n, n->usual_us + us);
}

void notify_stopping(struct notify *n)
{
	say(n, "STOPPING=1");
}

static void see(void *self, const struct sight *s)
{
	struct notify *n = self;
	(void)s;

	if (n->usual_us > 0 &&
	    (n->patience_us != n->usual_us || steady_us() - n->fed_us > n->usual_us / FEEDS))
		feed(n, n->usual_us);
}

struct onlooker notify_onlooker(struct notify *n)
{
	return (struct onlooker){ .self = n, .see = see };
}
