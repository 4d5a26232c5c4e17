#include "tests/test.h"

#include <arpa/inet.h>
#include <dirent.h>
#include <netinet/in.h>
#include <signal.h>
#include <stdlib.h>
#include <string.h>
#include <sys/socket.h>
#include <sys/stat.h>
#include <unistd.h>

#include <jansson.h>

#include "daemon/page.h"
#include "store/survey.h"
#include "tests/folder.h"

/* The page that the daemon serves: what a browser, curl and worse get from it. */

#define TOKEN "correct-horse-battery"
#define ROOM  65536

static int connected(int port)
{
	struct sockaddr_in at = { .sin_family = AF_INET, .sin_port = htons((uint16_t)port) };
	const struct timeval patience = { 20, 0 };
	int fd = socket(AF_INET, SOCK_STREAM | SOCK_CLOEXEC, 0);

	at.sin_addr.s_addr = htonl(INADDR_LOOPBACK);
	assert_true(fd >= 0);
	assert_int_equal(setsockopt(fd, SOL_SOCKET, SO_RCVTIMEO, &patience, sizeof patience), 0);
	assert_int_equal(connect(fd, (struct sockaddr *)&at, sizeof at), 0);
	return fd;
}

/* Says it and reads to the end; the code of the answer, 0: it was hung up on. */
static int ask_raw(int port, const char *request, size_t n, char out[ROOM])
{
	int fd = connected(port), code = 0;
	size_t got = 0;
	ssize_t k;

	if (send(fd, request, n, MSG_NOSIGNAL) >= 0)
		shutdown(fd, SHUT_WR);
	while ((k = recv(fd, out + got, ROOM - 1 - got, 0)) > 0)
		got += (size_t)k;
	out[got] = '\0';
	close(fd);
	sscanf(out, "HTTP/1.1 %d", &code);
	return code;
}

static int request(int port, const char *line, const char *headers, char out[ROOM])
{
	char text[1000];
	int n = snprintf(text, sizeof text, "%s HTTP/1.1\r\nConnection: close\r\n%s\r\n", line,
			 headers);

	return ask_raw(port, text, (size_t)n, out);
}

#define HERE "Host: 127.0.0.1\r\n"

static const struct band band = {.id = "a<b>&\"c",
				 .name = "<script>",
				 .service = "fire",
				 .mode = MODE_NFM,
				 .width_hz = 11000,
				 .raster = {FREQ_KHZ(154000), {37500}, 4}};

struct world {
	struct page   *page;
	struct survey *survey;
	char           path[120], text[ROOM];
	int            port;
};

static struct world *begin(void **state, const char *token)
{
	struct run_row run = {.start_us = 1,
			      .station = "<script>alert(1)</script>",
			      .source = "town",
			      .version = "0",
			      .rate_hz = 2400000,
			      .dwell_us = 20000,
			      .pfa = 1e-6,
			      .margin_db = 3};
	struct world *w = calloc(1, sizeof *w);
	struct fault why;

	assert_non_null(w);
	snprintf(w->path, sizeof w->path, "%s/%s.survey", ((const struct folder *)*state)->path,
		 token ? "b" : "a");
	w->survey = survey_write(w->path, &run, &band, 1, &why);
	assert_non_null(w->survey);
	w->page = page_open("127.0.0.1:0", token, &why);
	if (!w->page)
		fail_msg("%s", why.text);
	w->port = page_port(w->page);
	return w;
}

static void end(struct world *w)
{
	page_close(w->page);
	survey_close(w->survey);
	unlink(w->path);
	free(w);
}

static void requests(void **state)
{
	static const struct {
		const char *why, *line, *headers;
		int         code;
	} cases[] = {
		{ "the page", "GET /", HERE, 200 },
		{ "its head", "HEAD /", HERE, 200 },
		{ "for a program", "GET /status.json", HERE, 200 },
		{ "a question behind it", "GET /?a=b", HERE, 200 },
		{ "another path", "GET /night.survey", HERE, 404 },
		{ "up and away", "GET /../../etc/passwd", HERE, 404 },
		{ "the same, hidden", "GET /%2e%2e/%2e%2e/etc/passwd", HERE, 404 },
		{ "twice the root", "GET //", HERE, 404 },
		{ "something to take in", "POST /", HERE "Content-Length: 3\r\n", 405 },
		{ "a put", "PUT /status.json", HERE, 405 },
		{ "a delete", "DELETE /", HERE, 405 },
		{ "what is allowed", "OPTIONS /", HERE, 405 },
		{ "an invented method", "BREW /", HERE, 405 },
		{ "somebody's name for us", "GET /", "Host: evil.example\r\n", 403 },
	};
	struct world *w = begin(state, NULL);

	assert_int_equal(request(w->port, "GET /", HERE, w->text), 503); /* nothing to show yet */
	assert_non_null(strstr(w->text, "no survey yet"));
	page_show(w->page, w->path, NULL);
	for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
		int code = request(w->port, cases[i].line, cases[i].headers, w->text);
		if (code != cases[i].code)
			fail_msg("%s: %d, not %d", cases[i].why, code, cases[i].code);
		assert_non_null(strstr(w->text, "Content-Security-Policy: default-src 'none'"));
		assert_non_null(strstr(w->text, "X-Content-Type-Options: nosniff"));
		assert_non_null(strstr(w->text, "Cache-Control: no-store"));
		assert_true(code != 405 || strstr(w->text, "Allow: GET, HEAD"));
	}
	/* Without a name at all the library may say so first: RFC 9112, 3.2 wants 400. */
	int code = request(w->port, "GET /", "", w->text);
	assert_true(code == 400 || code == 403);
	request(w->port, "HEAD /", HERE, w->text);
	assert_string_equal(strstr(w->text, "\r\n\r\n"), "\r\n\r\n");
	end(w);
}

/* What a survey says of itself is text and nothing else. */
static void what_it_shows(void **state)
{
	struct world *w = begin(state, NULL);

	page_show(w->page, w->path, NULL);
	assert_int_equal(request(w->port, "GET /", HERE, w->text), 200);
	assert_non_null(strstr(w->text, "&lt;script&gt;alert(1)&lt;/script&gt;"));
	assert_non_null(strstr(w->text, "a&lt;b&gt;&amp;&quot;c"));
	assert_null(strstr(w->text, "<script"));
	assert_non_null(strstr(w->text, "http-equiv=\"refresh\""));
	assert_int_equal(request(w->port, "GET /status.json", HERE, w->text), 200);
	json_t *j = json_loads(strstr(w->text, "\r\n\r\n"), 0, NULL);
	assert_non_null(j);
	assert_string_equal(json_string_value(json_object_get(j, "station")),
			    "<script>alert(1)</script>");
	json_decref(j);
	/* Off duty nothing is read, and the file is one again. */
	page_show(w->page, NULL, "off duty until 20:00");
	assert_int_equal(request(w->port, "GET /status.json", HERE, w->text), 503);
	j = json_loads(strstr(w->text, "\r\n\r\n"), 0, NULL);
	assert_string_equal(json_string_value(json_object_get(j, "status")),
			    "off duty until 20:00");
	json_decref(j);
	survey_close(w->survey);
	w->survey = NULL;
	char log[130];
	snprintf(log, sizeof log, "%s-wal", w->path);
	assert_int_equal(access(log, F_OK), -1);
	end(w);
}

/* A survey that can't be read is told of as such, and what is nobody's address is refused. */
static void what_is_not_there(void **state)
{
	struct world *w = begin(state, NULL);
	struct fault why = { 0 };
	char address[32], path[140];

	snprintf(path, sizeof path, "%s.gone", w->path);
	page_show(w->page, path, NULL);
	assert_int_equal(request(w->port, "GET /status.json", HERE, w->text), 503);
	assert_non_null(strstr(w->text, "{\"status\":\"the survey can't be read just now\"}"));
	assert_int_equal(request(w->port, "GET /", HERE, w->text), 503);
	assert_non_null(strstr(w->text, "<pre>the survey can't be read just now</pre>"));
	page_show(w->page, w->path, NULL);
	assert_int_equal(request(w->port, "GET /", HERE, w->text), 200);
	snprintf(address, sizeof address, "127.0.0.1:%d", w->port);
	assert_null(page_open(address, NULL, &why));
	assert_int_equal(why.kind, FAULT_RETRY);
	assert_non_null(strstr(why.text, "nothing can be served there: Address already in use"));
	assert_null(page_open("here", NULL, &why));
	assert_int_equal(why.kind, FAULT_INPUT);
	end(w);
}

static void a_token_is_asked_for(void **state)
{
	char path[100], command[300];
	struct world *w;

	write_file(*state, "token", TOKEN "\n", sizeof TOKEN);
	snprintf(path, sizeof path, "%s/token", ((const struct folder *)*state)->path);
	assert_int_equal(chmod(path, 0600), 0);
	w = begin(state, path);
	page_show(w->page, w->path, NULL);
	assert_int_equal(request(w->port, "GET /", HERE, w->text), 401);
	assert_non_null(strstr(w->text, "WWW-Authenticate: Basic"));
	assert_int_equal(request(w->port, "GET /status.json",
				 HERE "Authorization: Bearer " TOKEN "x\r\n", w->text),
			 401);
	assert_int_equal(request(w->port, "POST /", HERE, w->text),
			 401); /* nothing is told before */
	assert_int_equal(
	    request(w->port, "GET /", HERE "Authorization: Bearer " TOKEN "\r\n", w->text), 200);
	/* The host counts with a token too. */
	assert_int_equal(request(w->port, "GET /",
				 "Host: evil.example\r\nAuthorization: Bearer " TOKEN "\r\n",
				 w->text),
			 403);
	if (system("command -v curl >/dev/null") == 0) {
		snprintf(command, sizeof command,
			 "curl -sf -u bandcensus:" TOKEN " http://127.0.0.1:%d/ >/dev/null",
			 w->port);
		assert_int_equal(system(command), 0);
		snprintf(command, sizeof command,
			 "curl -sf -u bandcensus:wrong http://127.0.0.1:%d/ >/dev/null", w->port);
		assert_int_equal(WEXITSTATUS(system(command)), 22);     /* curl(1): an HTTP error */
	}
	end(w);
}

/* Whoever says nothing, or too much, or nonsense, costs a bounded place, and the next one is
 * served. */
static void rude_guests(void **state)
{
	struct world *w = begin(state, NULL);
	char *long_one = malloc(100000);
	int idle[40];

	assert_non_null(long_one);
	page_show(w->page, w->path, NULL);
	memset(long_one, 'a', 100000);
	memcpy(long_one, "GET /", 5);
	assert_true(ask_raw(w->port, long_one, 100000, w->text) != 200);
	memset(long_one, '\n', 100000);
	ask_raw(w->port, long_one, 100000, w->text);
	for (int i = 0; i < 100000; i++)
		long_one[i] = (char)(i * 7919 >> 3);
	assert_true(ask_raw(w->port, long_one, 100000, w->text) != 200);
	free(long_one);
	for (int i = 0; i < 8; i++) {
		idle[i] = connected(w->port);
		assert_true(send(idle[i], "GET / HT", 8, MSG_NOSIGNAL) == 8);
	}
	assert_int_equal(request(w->port, "GET /", HERE, w->text), 200);
	/* When all places are taken, it is over as soon as one goes. */
	for (int i = 8; i < 40; i++)
		idle[i] = connected(w->port);
	for (int i = 0; i < 40; i++)
		close(idle[i]);
	int code = 0;
	for (int i = 0; i < 100 && code != 200; i++) {
		code = request(w->port, "GET /", HERE, w->text);
		if (code != 200)
			usleep(20000);
	}
	assert_int_equal(code, 200);
	end(w);
}

/* Threads besides this one that leave signals alone; -1: not to be known. */
static int threads_without_signals(void)
{
	DIR *tasks = opendir("/proc/self/task");
	char path[64], line[200];
	int n = 0;

	if (!tasks)
		return -1;
	for (struct dirent *d; (d = readdir(tasks));) {
		unsigned long long blocked = 0;
		if (d->d_name[0] == '.' || atoi(d->d_name) == getpid())
			continue;
		snprintf(path, sizeof path, "/proc/self/task/%.20s/status", d->d_name);
		FILE *f = fopen(path, "r");
		assert_non_null(f);
		while (fgets(line, sizeof line, f))
			sscanf(line, "SigBlk: %llx", &blocked);
		fclose(f);
		n += (blocked >> (SIGINT - 1) & 1) && (blocked >> (SIGTERM - 1) & 1) && (blocked >> (SIGALRM - 1) & 1);
	}
	closedir(tasks);
	return n;
}

/* A signal that another thread took would not wake the watch. */
static void signals_are_left_to_the_watch(void **state)
{
	int before = threads_without_signals();         /* a sanitizer may have such */
	struct world *w = begin(state, NULL);
	int now = threads_without_signals();
	sigset_t mine;

	if (before < 0) {
		end(w);
		skip();
	}
	assert_int_equal(now, before + 1);
	assert_int_equal(sigprocmask(SIG_BLOCK, NULL, &mine), 0);
	assert_false(sigismember(&mine, SIGINT));
	end(w);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(requests),
		cmocka_unit_test(what_it_shows), cmocka_unit_test(what_is_not_there),
		cmocka_unit_test(a_token_is_asked_for),
		cmocka_unit_test(rude_guests),
		cmocka_unit_test(signals_are_left_to_the_watch),
	};

	return cmocka_run_group_tests(tests, make_folder, drop_folder);
}
