#include "daemon/page.h"

#include <errno.h>
#include <microhttpd.h>
#include <pthread.h>
#include <signal.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>

#include "daemon/guard.h"
#include "daemon/log.h"
#include "store/pulse.h"

#define AT_ONCE       16u       /* connections                                  */
#define PATIENCE_S    10u       /* with one that says nothing                   */
#define CONNECTION    16384u    /* bytes that one may cost: what it asks for, too */
#define FRESH_US      2000000   /* the survey is not read again before          */
#define REFRESH       "5"       /* s: a browser asks again                      */

struct page {
	struct guard       guard;
	struct MHD_Daemon *server;
	pthread_mutex_t    lock;        /* of all below */
	char               survey[4096], words[200];
	struct pulse       pulse;
	uint64_t           mark;        /* of the file that pulse was read from; 0: it was not */
	int64_t            read_us;
	struct fault       why;
};

static int64_t now_us(clockid_t which)
{
	struct timespec t;

	clock_gettime(which, &t);
	return (int64_t)t.tv_sec * 1000000 + t.tv_nsec / 1000;
}

/* ---- what is shown ---- */

/* Whoever asks often is told the same. */
static bool read_again(struct page *p)
{
	int64_t now = now_us(CLOCK_MONOTONIC);
	uint64_t mark;
	struct pulse fresh;

	if (!p->survey[0])
		return false;
	if (p->read_us && now - p->read_us < FRESH_US)
		return p->mark != 0;
	p->read_us = now;
	mark = pulse_mark(p->survey);
	if (mark && mark == p->mark)
		return true;
	if (pulse_read(p->survey, now_us(CLOCK_REALTIME), &fresh, &p->why) == 0) {
		p->pulse = fresh;
		p->mark = mark;
	} else {
		snprintf(p->words, sizeof p->words, "the survey can't be read just now");
		log_line(LOG_WARNING, "page: %s", p->why.text);
	}
	return p->mark != 0;
}

static void escaped(FILE *to, const char *text)
{
	static const char *const as[256] = {
		['<'] = "&lt;", ['>'] = "&gt;", ['&'] = "&amp;", ['"'] = "&quot;",
	};

	for (; *text; text++)
		if (as[(unsigned char)*text])
			fputs(as[(unsigned char)*text], to);
		else
			fputc(*text, to);
}

static void as_html(FILE *to, const struct page *p, bool known)
{
	char *text = NULL;
	size_t n;
	FILE *lines = open_memstream(&text, &n);

	if (lines && known)
		pulse_text(lines, &p->pulse, now_us(CLOCK_REALTIME));
	if (lines)
		fclose(lines);
	fputs("<!doctype html>\n<html lang=\"en\"><head><meta charset=\"utf-8\">"
	      "<meta name=\"viewport\" content=\"width=device-width\"><meta name=\"color-scheme\" "
	      "content=\"light dark\">"
	      "<meta http-equiv=\"refresh\" content=\"" REFRESH
	      "\"><title>Survey</title></head>\n<body><pre>",
	      to);
	escaped(to, known && text ? text : p->words);
	fputs("</pre></body></html>\n", to);
	free(text);
}

static void as_json(FILE *to, const struct page *p, bool known)
{
	if (known)
		pulse_json(to, &p->pulse, now_us(CLOCK_REALTIME));
	else
		fprintf(to, "{\"status\":\"%s\"}\n", p->words);
}

static const struct {
	const char *path, *type;
	void (*write)(FILE *to, const struct page *p, bool known);
} sheets[] = {
	{ "/", "text/html; charset=utf-8", as_html },
	{ "/status.json", "application/json", as_json },
};

#define SHEETS (sizeof sheets / sizeof sheets[0])

/* ---- how it is served ---- */

static enum MHD_Result reply(struct MHD_Connection *to, unsigned code, const char *type, char *body,
			     size_t n, enum MHD_ResponseMemoryMode whose)
{
	static const char *const headers[][2] = {
	    {"Content-Security-Policy",
	     "default-src 'none'; base-uri 'none'; form-action 'none'; frame-ancestors 'none'"},
	    {"X-Content-Type-Options", "nosniff"},
	    {"X-Frame-Options", "DENY"},
	    {"Cache-Control", "no-store"},
	    {"Referrer-Policy", "no-referrer"},
	    {"Cross-Origin-Resource-Policy", "same-origin"},
	};
	struct MHD_Response *r = MHD_create_response_from_buffer(n, body, whose);

	if (!r)
		return MHD_NO;
	for (size_t i = 0; i < sizeof headers / sizeof headers[0]; i++)
		MHD_add_response_header(r, headers[i][0], headers[i][1]);
	MHD_add_response_header(r, "Content-Type", type);
	if (code == MHD_HTTP_METHOD_NOT_ALLOWED)
		MHD_add_response_header(r, "Allow", "GET, HEAD");
	if (code == MHD_HTTP_UNAUTHORIZED)
		MHD_add_response_header(r, "WWW-Authenticate", "Basic realm=\"bandcensus\"");
	enum MHD_Result result = MHD_queue_response(to, code, r);
	MHD_destroy_response(r);
	return result;
}

static enum MHD_Result refuse(struct MHD_Connection *to, unsigned code, const char *words)
{
	return reply(to, code, "text/plain; charset=utf-8", (char *)words, strlen(words),
		     MHD_RESPMEM_PERSISTENT);
}

static enum MHD_Result serve(struct page *p, struct MHD_Connection *to, size_t sheet)
{
	char *body = NULL;
	size_t n = 0;
	FILE *out = open_memstream(&body, &n);

	if (!out)
		return MHD_NO;
	pthread_mutex_lock(&p->lock);
	bool known = read_again(p);
	sheets[sheet].write(out, p, known);
	pthread_mutex_unlock(&p->lock);
	if (fclose(out) != 0) {
		free(body);
		return MHD_NO;
	}
	return reply(to, known ? MHD_HTTP_OK : MHD_HTTP_SERVICE_UNAVAILABLE, sheets[sheet].type,
		     body, n, MHD_RESPMEM_MUST_FREE);
}

/* Called first with the head of what is asked, then again once all of it is in. */
static enum MHD_Result answer(void *self, struct MHD_Connection *to, const char *url,
			      const char *method, const char *version, const char *body,
			      size_t *body_n, void **seen)
{
	struct page *p = self;
	(void)version;
	(void)body;

	if (!guard_host(MHD_lookup_connection_value(to, MHD_HEADER_KIND, "Host")))
		return refuse(to, MHD_HTTP_FORBIDDEN,
			      "ask for this page by its address, or as localhost\n");
	if (!guard_unlocks(&p->guard,
			   MHD_lookup_connection_value(to, MHD_HEADER_KIND, "Authorization")))
		return refuse(to, MHD_HTTP_UNAUTHORIZED,
			      "the user is bandcensus, the password the token\n");
	if (strcmp(method, "GET") != 0 && strcmp(method, "HEAD") != 0)
		return refuse(to, MHD_HTTP_METHOD_NOT_ALLOWED, "this page can only be read\n");
	if (*body_n != 0)               /* nothing is taken in */
		return MHD_NO;
	if (!*seen) {
		*seen = p;
		return MHD_YES;
	}
	for (size_t i = 0; i < SHEETS; i++)
		if (strcmp(url, sheets[i].path) == 0)
			return serve(p, to, i);
	return refuse(to, MHD_HTTP_NOT_FOUND, "there is / and /status.json\n");
}

/* Signals are the watch's: one that this thread took would not wake it. */
static struct MHD_Daemon *start(struct page *p)
{
	unsigned flags =
	    MHD_USE_AUTO_INTERNAL_THREAD | (p->guard.at.ss_family == AF_INET6 ? MHD_USE_IPv6 : 0);
	sigset_t all, before;

	sigfillset(&all);
	pthread_sigmask(SIG_BLOCK, &all, &before);
	struct MHD_Daemon *server = MHD_start_daemon(
	    flags, 0, NULL, NULL, answer, p, MHD_OPTION_SOCK_ADDR, (struct sockaddr *)&p->guard.at,
	    MHD_OPTION_CONNECTION_LIMIT, AT_ONCE, MHD_OPTION_CONNECTION_TIMEOUT, PATIENCE_S,
	    MHD_OPTION_CONNECTION_MEMORY_LIMIT, (size_t)CONNECTION, MHD_OPTION_END);
	int error = errno;
	pthread_sigmask(SIG_SETMASK, &before, NULL);
	errno = error;
	return server;
}

struct page *page_open(const char *address, const char *token_path, struct fault *why)
{
	struct page *p = calloc(1, sizeof *p);

	if (!p || pthread_mutex_init(&p->lock, NULL) != 0) {
		free(p);
		fault_set(why, FAULT_FATAL, "no memory for the page");
		return NULL;
	}
	snprintf(p->words, sizeof p->words, "no survey yet");
	if (guard_set(&p->guard, address, token_path, why) < 0)
		goto fail;
	p->server = start(p);
	if (!p->server) {
		fault_set(why, fault_kind_of(errno), "--page %s: nothing can be served there: %s", address,
			  strerror(errno));
		goto fail;
	}
	log_line(LOG_INFO, "page: at=%s port=%d token=%s", address, page_port(p),
		 p->guard.locked ? "yes" : "no");
	return p;
fail:
	page_close(p);
	return NULL;
}

int page_port(const struct page *p)
{
	const union MHD_DaemonInfo *info =
	    MHD_get_daemon_info(p->server, MHD_DAEMON_INFO_BIND_PORT);

	return info ? info->port : 0;
}

void page_show(struct page *p, const char *survey, const char *words)
{
	if (!p)
		return;
	pthread_mutex_lock(&p->lock);
	snprintf(p->survey, sizeof p->survey, "%s", survey ? survey : "");
	snprintf(p->words, sizeof p->words, "%s", words ? words : "not read yet");
	p->mark = 0;
	p->read_us = 0;
	pthread_mutex_unlock(&p->lock);
}

void page_close(struct page *p)
{
	if (!p)
		return;
	if (p->server)
		MHD_stop_daemon(p->server);
	pthread_mutex_destroy(&p->lock);
	explicit_bzero(&p->guard, sizeof p->guard);
	free(p);
}
