#include "tests/test.h"

#include <fcntl.h>
#include <glob.h>
#include <netinet/in.h>
#include <poll.h>
#include <signal.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/resource.h>
#include <sys/socket.h>
#include <sys/stat.h>
#include <sys/un.h>
#include <sys/wait.h>
#include <time.h>
#include <unistd.h>

#include "tests/folder.h"

/* The daemon as a service manager has it: what it says on the socket that it is given
 * (sd_notify(3)), its hours, and a survey a week. BANDCENSUSD names the program. */

#define CONFIG SOURCE_ROOT "/config/"
#define TOWN   "town:" CONFIG "harlow-ferry.conf"
#define NIGHT  CONFIG "harlow-ferry-night.conf"
#define ROOM   100000
#define PATIENCE_S  600         /* for a test's end; nothing is judged by it */
#ifdef __SANITIZE_THREAD__      /* twenty times slower */
#define NIGHT_FOR   "1 min"
#else
#define NIGHT_FOR   "10 min"
#endif

struct service {
	const char *folder;
	char  socket[80], config[80], log[80];
	int   fd;
	pid_t pid;
	rlim_t room;            /* for each of its files; 0: as much as there is */
	char  said[ROOM];       /* datagrams, each between bars */
};

static void begin(struct service *s, void **state)
{
	struct sockaddr_un at = { .sun_family = AF_UNIX };

	*s = (struct service){ .folder = ((const struct folder *)*state)->path };
	snprintf(s->socket, sizeof s->socket, "%s/notify", s->folder);
	snprintf(s->config, sizeof s->config, "%s/a.conf", s->folder);
	snprintf(s->log, sizeof s->log, "%s/log", s->folder);
	strcpy(at.sun_path, s->socket);
	s->fd = socket(AF_UNIX, SOCK_DGRAM | SOCK_CLOEXEC, 0);
	assert_int_equal(bind(s->fd, (struct sockaddr *)&at, sizeof at), 0);
	strcpy(s->said, "|");
}

/* Settings that begin with the town's own, and these lines. */
static void write_settings(const struct service *s, const char *lines)
{
	FILE *f = fopen(s->config, "w");

	assert_non_null(f);
	fprintf(f, "kind = \"daemon\";\nband_plan = \"" CONFIG "bands-harlow-ferry.conf\";\nsurvey = ( \"fire\" );\n"
		"warm_up = \"0 s\";\n%s\n", lines);
	assert_int_equal(fclose(f), 0);
}

static void start(struct service *s, const char *watchdog, char *const *argv)
{
	const struct rlimit tight = { s->room, RLIM_INFINITY };

	s->pid = fork();
	assert_true(s->pid >= 0);
	if (s->pid)
		return;
	int log = open(s->log, O_CREAT | O_WRONLY | O_TRUNC, 0600);
	char stream[60];
	struct stat is;
	fstat(log, &is);
	snprintf(stream, sizeof stream, "%ju:%ju", (uintmax_t)is.st_dev, (uintmax_t)is.st_ino);
	setenv("JOURNAL_STREAM", stream, 1);
	dup2(log, STDERR_FILENO);
	dup2(log, STDOUT_FILENO);
	setenv("NOTIFY_SOCKET", s->socket, 1);
	setenv("TZ", "UTC", 1);
	signal(SIGXFSZ, SIG_IGN);
	signal(SIGHUP, SIG_DFL);
	if (s->room)
		setrlimit(RLIMIT_FSIZE, &tight);
	if (watchdog)
		setenv("WATCHDOG_USEC", watchdog, 1);
	execv(getenv("BANDCENSUSD"), argv);
	_exit(99);
}

/* Listens until it has said that, or has ended. */
static void hear(struct service *s, const char *until)
{
	for (time_t end = time(NULL) + PATIENCE_S; time(NULL) < end && !(until && strstr(s->said, until));) {
		struct pollfd fd = { .fd = s->fd, .events = POLLIN };
		siginfo_t ended = { 0 };
		size_t n = strlen(s->said);
		if (poll(&fd, 1, 20) == 0) {
			if (waitid(P_PID, (id_t)s->pid, &ended, WEXITED | WNOHANG | WNOWAIT) < 0 || ended.si_pid)
				break;
			continue;
		}
		assert_true(n + 200 < ROOM);
		ssize_t got = recv(s->fd, s->said + n, ROOM - n - 2, 0);
		assert_true(got >= 0);
		strcpy(s->said + n + got, "|");
	}
	if (until && !strstr(s->said, until))
		fail_msg("never said %s, but %.1500s", until, s->said);
}

static int ended(struct service *s)
{
	int status;

	assert_int_equal(waitpid(s->pid, &status, 0), s->pid);
	return WIFEXITED(status) ? WEXITSTATUS(status) : -WTERMSIG(status);
}

static void end(struct service *s)
{
	close(s->fd);
}

static int surveys(const struct service *s)
{
	char pattern[100];
	glob_t found = { 0 };

	snprintf(pattern, sizeof pattern, "%s/*.survey", s->folder);
	int n = glob(pattern, 0, NULL, &found) == 0 ? (int)found.gl_pathc : 0;
	globfree(&found);
	return n;
}

static int times(const char *text, const char *what)
{
	int n = 0;

	for (; (text = strstr(text, what)); text += strlen(what))
		n++;
	return n;
}

/* What its page says, by the port that the log tells. */
static void ask_page(const struct service *s, char *out, size_t size)
{
	static const char request[] = "GET /status.json HTTP/1.1\r\nHost: localhost\r\nConnection: close\r\n\r\n";
	struct sockaddr_in at = { .sin_family = AF_INET };
	const struct timeval patience = { 20, 0 };
	char log[2000] = "";
	size_t n = 0;
	ssize_t k;

	FILE *f = fopen(s->log, "r");
	assert_non_null(f);
	log[fread(log, 1, sizeof log - 1, f)] = '\0';
	fclose(f);
	const char *port = strstr(log, "page: at=127.0.0.1:0 port=");
	assert_non_null(port);
	at.sin_port = htons((uint16_t)atoi(strstr(port, "port=") + 5));
	at.sin_addr.s_addr = htonl(INADDR_LOOPBACK);
	int fd = socket(AF_INET, SOCK_STREAM | SOCK_CLOEXEC, 0);
	assert_int_equal(setsockopt(fd, SOL_SOCKET, SO_RCVTIMEO, &patience, sizeof patience), 0);
	assert_int_equal(connect(fd, (struct sockaddr *)&at, sizeof at), 0);
	assert_int_equal(send(fd, request, sizeof request - 1, MSG_NOSIGNAL), sizeof request - 1);
	while ((k = recv(fd, out + n, size - 1 - n, 0)) > 0)
		n += (size_t)k;
	out[n] = '\0';
	close(fd);
}

/* A town has its own clock, so its night goes by at once, and in the week that it says. */
static void a_night_is_told_of(void **state)
{
	struct service s;
	char path[100];

	begin(&s, state);
	start(&s, "400000", (char *[]){ "bandcensusd", "--config", NIGHT, "--source", TOWN, "--folder",
		(char *)s.folder, "--for",
		NIGHT_FOR, NULL });
	hear(&s, NULL);
	assert_int_equal(ended(&s), 0);
	hear(&s, "STOPPING=1");
	assert_int_equal(times(s.said, "READY=1"), 1);
	assert_non_null(strstr(s.said, "|READY=1\nSTATUS=surveying|"));
	/* Patient while it warms up; as usual from the first look on, and fed by looks. */
	assert_true(strstr(s.said, "WATCHDOG_USEC=1200400000\nWATCHDOG=1|") < strstr(s.said, "WATCHDOG_USEC=400000\nWATCHDOG=1|"));
	assert_non_null(strstr(s.said, "WATCHDOG_USEC=1200400000\nWATCHDOG=1|"));
	assert_in_range(times(s.said, "|WATCHDOG=1|"), 1, 100000);
	/* 2026-02-17 is in the eighth week. */
	snprintf(path, sizeof path, "%s/2026-W08.survey", s.folder);
	assert_int_equal(access(path, R_OK), 0);
	end(&s);
}

/* Nobody is fed where nothing is looked at: there is no such dongle. */
static void without_looks_the_watchdog_starves(void **state)
{
	struct service s;

	begin(&s, state);
	write_settings(&s, "");
	start(&s, "200000", (char *[]){ "bandcensusd", "--config", s.config, "--source", "dongle:no-such-one", "--folder",
		(char *)s.folder, "--for", "2 s", NULL });
	hear(&s, NULL);
	assert_int_equal(ended(&s), 1);
	hear(&s, "STOPPING=1");
	/* Once, as it began. */
	assert_int_equal(times(s.said, "WATCHDOG=1"), 1);
	end(&s);
}

static void off_duty_it_waits(void **state)
{
	struct service s;
	char hours[80], until[40], page[2000];
	time_t now = time(NULL);
	struct tm from, to;

	/* From an hour and a half on, for an hour. */
	begin(&s, state);
	gmtime_r(&(time_t){ now + 5400 }, &from);
	gmtime_r(&(time_t){ now + 9000 }, &to);
	snprintf(hours, sizeof hours, "hours = \"%02d:%02d-%02d:%02d\";", from.tm_hour, from.tm_min, to.tm_hour, to.tm_min);
	write_settings(&s, hours);
	start(&s, "200000", (char *[]){ "bandcensusd", "--config", s.config, "--source", "dongle:no-such-one", "--folder",
		(char *)s.folder, "--page", "127.0.0.1:0", NULL });
	strftime(until, sizeof until, "STATUS=off duty until %Y-%m-%d %H:%M", &from);
	hear(&s, until);
	hear(&s, "WATCHDOG_USEC=5");    /* some 5400 s */
	ask_page(&s, page, sizeof page);
	assert_non_null(strstr(page, "HTTP/1.1 503"));
	assert_non_null(strstr(page, until + strlen("STATUS=")));
	kill(s.pid, SIGHUP);    /* its terminal was closed */
	assert_int_equal(ended(&s), 0);
	hear(&s, "STOPPING=1");
	/* Nothing is open, and no file was made. */
	assert_int_equal(times(s.said, "surveying"), 0);
	assert_int_equal(surveys(&s), 0);
	end(&s);
}

static void a_shift_ends_by_the_clock(void **state)
{
	struct service s;
	char hours[80], until[60];
	time_t now = time(NULL);
	struct tm from, to;

	/* On since the last minute. */
	begin(&s, state);
	gmtime_r(&(time_t){ now - 60 }, &from);
	gmtime_r(&(time_t){ now + 7200 }, &to);
	snprintf(hours, sizeof hours, "hours = \"%02d:%02d-%02d:%02d\";", from.tm_hour, from.tm_min, to.tm_hour, to.tm_min);
	write_settings(&s, hours);
	start(&s, NULL, (char *[]){ "bandcensusd", "--config", s.config, "--source", "dongle:no-such-one", "--folder",
		(char *)s.folder, NULL });
	strftime(until, sizeof until, "STATUS=surveying until %Y-%m-%d %H:%M", &to);
	hear(&s, until);
	kill(s.pid, SIGTERM);
	assert_int_equal(ended(&s), 0);
	assert_int_equal(times(s.said, "WATCHDOG"), 0);         /* nobody asked for it */
	assert_int_equal(surveys(&s), 1);
	end(&s);
}

/* What can't be written to when the shift begins is tried again while it lasts: the first rest is of two seconds. */
static void a_full_disk_costs_no_shift(void **state)
{
	static const struct rlimit wide = { RLIM_INFINITY, RLIM_INFINITY };
	struct service s;

#ifdef __SANITIZE_THREAD__
	skip();                 /* it maps half a megabyte of a file of its own, and so dies without room */
#endif
	begin(&s, state);
	s.room = 6000;          /* a page of a survey, and the log */
	write_settings(&s, "");
	start(&s, "200000", (char *[]){ "bandcensusd", "--config", s.config, "--source", "dongle:no-such-one", "--folder",
		(char *)s.folder, NULL });
	hear(&s, "STATUS=resting until");
	assert_int_equal(times(s.said, "surveying"), 0);
	assert_int_equal(prlimit(s.pid, RLIMIT_FSIZE, &wide, NULL), 0);
	hear(&s, "STATUS=surveying");
	kill(s.pid, SIGTERM);
	assert_int_equal(ended(&s), 0);
	assert_int_equal(surveys(&s), 1);
	end(&s);
}

/* A second one on the same folder, started by mistake or while the first one ends: its turn comes. */
static void one_that_is_written_is_waited_for(void **state)
{
	struct service s, first;
	void *other;
	char log[4000] = "";

	assert_int_equal(make_folder(&other), 0);
	begin(&first, &other);
	begin(&s, state);
	char *const argv[] = { "bandcensusd", "--config", s.config, "--source", "dongle:no-such-one", "--folder",
			       (char *)s.folder, NULL };
	write_settings(&s, "");
	start(&first, NULL, argv);
	hear(&first, "STATUS=surveying");
	start(&s, NULL, argv);
	hear(&s, "STATUS=resting until");
	kill(first.pid, SIGTERM);
	assert_int_equal(ended(&first), 0);
	hear(&s, "STATUS=surveying");
	kill(s.pid, SIGTERM);
	assert_int_equal(ended(&s), 0);
	assert_int_equal(surveys(&s), 1);
	FILE *f = fopen(s.log, "r");
	assert_non_null(f);
	log[fread(log, 1, sizeof log - 1, f)] = '\0';
	fclose(f);
	assert_int_equal(times(log, "another program is writing it"), times(log, "<3>nothing of this watch"));
	assert_true(times(log, "another program is writing it") > 0);
	end(&first);
	end(&s);
	drop_folder(&other);
}

/* In a journal, which reads levels, why it ended is an error as well; a person needs no level in front. */
static void why_it_ends_is_an_error(void **state)
{
	char *const argv[] = { "bandcensusd", "--config", (char[100]){ 0 }, "--source", "dongle:no-such-one", "--folder",
			       (char *)((const struct folder *)*state)->path, NULL };
	struct service s;
	char log[300] = "";

	begin(&s, state);
	write_settings(&s, "dwell = \"20 dB\";");
	snprintf(argv[2], 100, "%s", s.config);
	start(&s, NULL, argv);
	assert_int_equal(ended(&s), 2);
	FILE *f = fopen(s.log, "r");
	assert_non_null(f);
	assert_non_null(fgets(log, sizeof log, f));
	fclose(f);
	assert_memory_equal(log, "<3>bandcensusd: ", 16);
	assert_non_null(strstr(log, "a.conf:5: dwell"));
	end(&s);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test_setup_teardown(a_night_is_told_of, make_folder, drop_folder),
		cmocka_unit_test_setup_teardown(without_looks_the_watchdog_starves, make_folder, drop_folder),
		cmocka_unit_test_setup_teardown(off_duty_it_waits, make_folder, drop_folder),
		cmocka_unit_test_setup_teardown(a_shift_ends_by_the_clock, make_folder, drop_folder),
		cmocka_unit_test_setup_teardown(a_full_disk_costs_no_shift, make_folder, drop_folder),
		cmocka_unit_test_setup_teardown(one_that_is_written_is_waited_for, make_folder, drop_folder),
		cmocka_unit_test_setup_teardown(why_it_ends_is_an_error, make_folder, drop_folder),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
