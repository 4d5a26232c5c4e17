#include "store/pages_file.h"

#include <errno.h>
#include <fcntl.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/file.h>
#include <sys/stat.h>
#include <unistd.h>

#define PAGE_DEFAULT 4096               /* where the header doesn't say */
#define LOG_HEADER   32
#define LOG_FRAME    24

static bool read_at(int fd, void *to, size_t n, int64_t at)
{
	return pread(fd, to, n, at) == (ssize_t)n;
}

bool pages_fetch(const struct pages *p, uint32_t page, uint8_t *to)
{
	if (page == 0 || page > p->count)
		return false;
	if (p->in_log[page])
		return read_at(p->log, to, p->size, p->in_log[page]);
	return read_at(p->fd, to, p->size, (int64_t)(page - 1) * p->size);
}

static bool is_page_size(uint32_t n)
{
	return n >= 512 && n <= PAGE_MOST && (n & (n - 1)) == 0;
}

bool pages_is_header(const uint8_t *b)
{
	return memcmp(b, "SQLite format 3", 16) == 0;
}

/* A file that was cut off says itself how many pages it had, if its head is in order; no more are
 * believed than eight times what is there. */
static void read_count(struct pages *p, const uint8_t *head)
{
	uint32_t says = big4(head + 28);

	if (memcmp(head + 24, head + 92, 4) == 0 && says / 8 <= p->count && says > p->count)
		p->count = says;
}

static void read_header(struct pages *p, int64_t bytes)
{
	uint8_t head[100];
	bool good = read_at(p->fd, head, sizeof head, 0) && pages_is_header(head);

	p->size = p->usable = PAGE_DEFAULT;
	uint32_t size = !good ? 0 : big2(head + 16) == 1 ? PAGE_MOST : big2(head + 16);
	if (is_page_size(size)) {
		p->size = size;
		p->usable = size - (head[20] <= 32 ? head[20] : 0u);
	}
	p->count = (uint32_t)(bytes / p->size < UINT32_MAX / 16 ? bytes / p->size : 0);
	if (is_page_size(size))
		read_count(p, head);
}

/* The log's own sum, over whole pairs of words. */
static void add_sum(uint32_t sum[2], const uint8_t *b, size_t n, bool big)
{
	for (size_t i = 0; i + 8 <= n; i += 8) {
		uint32_t x = big ? big4(b + i) : __builtin_bswap32(big4(b + i));
		uint32_t y = big ? big4(b + i + 4) : __builtin_bswap32(big4(b + i + 4));
		sum[0] += x + sum[1];
		sum[1] += y + sum[0];
	}
}

struct log_walk {
	uint32_t sum[2];
	uint8_t  head[LOG_HEADER], frame[LOG_FRAME];
	bool     big;
	int64_t  at;
};

static bool begin_log(struct pages *p, struct log_walk *w)
{
	if (p->log < 0 || !read_at(p->log, w->head, LOG_HEADER, 0) ||
	    (big4(w->head) & ~1u) != 0x377f0682 || big4(w->head + 8) != p->size)
		return false;
	w->big = big4(w->head) & 1;
	add_sum(w->sum, w->head, 24, w->big);
	w->at = LOG_HEADER;
	return w->sum[0] == big4(w->head + 24) && w->sum[1] == big4(w->head + 28);
}

/* The next frame that is whole and follows on those before. */
static bool next_frame(struct pages *p, struct log_walk *w)
{
	if (!read_at(p->log, w->frame, LOG_FRAME, w->at) ||
	    !read_at(p->log, p->bytes, p->size, w->at + LOG_FRAME) ||
	    memcmp(w->frame + 8, w->head + 16, 8) != 0)
		return false;
	add_sum(w->sum, w->frame, 8, w->big);
	add_sum(w->sum, p->bytes, p->size, w->big);
	w->at += LOG_FRAME + p->size;
	return w->sum[0] == big4(w->frame + 16) && w->sum[1] == big4(w->frame + 20);
}

/* Two walks: up to which commit the log is whole, then where its pages are. */
static void read_log(struct pages *p)
{
	struct log_walk w = { 0 };
	int64_t whole = 0;
	uint32_t count = p->count;

	if (!begin_log(p, &w))
		return;
	while (next_frame(p, &w))
		if (big4(w.frame + 4)) {
			whole = w.at;
			count = big4(w.frame + 4);
		}
	if (whole == 0 || count > p->count + (uint64_t)whole / p->size)
		return;
	int64_t *more = reallocarray(p->in_log, (size_t)count + 1, sizeof *more);
	if (!more)
		return;
	for (uint32_t i = p->count + 1; i <= count; i++)
		more[i] = 0;
	p->in_log = more;
	p->count = count;
	w = (struct log_walk){ 0 };
	if (!begin_log(p, &w))
		return;
	while (w.at < whole && next_frame(p, &w))
		if (big4(w.frame) >= 1 && big4(w.frame) <= count)
			p->in_log[big4(w.frame)] = w.at - p->size;
}

/* Trunks of page numbers, one after the other. */
static void read_free_list(struct pages *p)
{
	uint32_t trunk, left = p->count;

	if (!pages_fetch(p, 1, p->bytes) || !pages_is_header(p->bytes))
		return;
	for (trunk = big4(p->bytes + 32); trunk && left && pages_fetch(p, trunk, p->other);
	     left--) {
		uint32_t n = big4(p->other + 4);
		if (p->free[trunk] || n > p->usable / 4 - 2)
			return;
		p->free[trunk] = true;
		for (uint32_t i = 0; i < n; i++) {
			uint32_t leaf = big4(p->other + 8 + 4 * i);
			if (leaf >= 1 && leaf <= p->count)
				p->free[leaf] = true;
		}
		trunk = big4(p->other);
	}
}

struct pages *pages_open(const char *path, struct fault *why)
{
	struct pages *p = calloc(1, sizeof *p);
	char log[4200];
	struct stat st;

	if (!p) {
		fault_set(why, FAULT_RETRY, "%s: out of memory", path);
		return NULL;
	}
	p->fd = p->log = -1;
	p->fd = open(path, O_RDONLY | O_CLOEXEC);
	if (p->fd < 0 || fstat(p->fd, &st) < 0) {
		fault_set(why, FAULT_INPUT, "%s: %s", path, strerror(errno));
		goto fail;
	}
	snprintf(log, sizeof log, "%s-wal", path);
	p->log = open(log, O_RDONLY | O_CLOEXEC);
	/* The writer's lock is on its log. */
	if (p->log >= 0 && flock(p->log, LOCK_SH | LOCK_NB) < 0) {
		fault_set(why, FAULT_INPUT,
			  "%s: another program is writing it, stop that one first", path);
		goto fail;
	}
	read_header(p, st.st_size);
	p->in_log = calloc((size_t)p->count + 1, sizeof *p->in_log);
	if (p->in_log)
		read_log(p);
	p->free = calloc((size_t)p->count + 1, sizeof *p->free);
	p->owner = calloc((size_t)p->count + 1, sizeof *p->owner);
	p->payload = malloc(PAYLOAD_MOST);
	if (!p->in_log || !p->free || !p->owner || !p->payload) {
		fault_set(why, FAULT_RETRY, "%s: out of memory", path);
		goto fail;
	}
	read_free_list(p);
	return p;
fail:
	pages_close(p);
	return NULL;
}

void pages_close(struct pages *p)
{
	if (!p)
		return;
	if (p->fd >= 0)
		close(p->fd);
	if (p->log >= 0)
		close(p->log);
	free(p->in_log);
	free(p->free);
	free(p->owner);
	free(p->payload);
	free(p);
}

uint32_t pages_count(const struct pages *p)
{
	return p->count;
}

int pages_version(const struct pages *p)
{
	uint8_t first[PAGE_MOST];

	return pages_fetch(p, 1, first) && pages_is_header(first) ? (int)big4(first + 60) : 0;
}

bool pages_free(const struct pages *p, uint32_t page)
{
	return p->free[page];
}

bool pages_chained(const struct pages *p, uint32_t page)
{
	return p->owner[page] != 0;
}
