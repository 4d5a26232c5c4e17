#include "store/pages.h"

#include <string.h>

#include "store/pages_file.h"

/* Whole numbers of 1 to 9 bytes, seven bits each, the last one eight. Bytes used; 0: cut off. */
static size_t varint(const uint8_t *from, const uint8_t *end, uint64_t *out)
{
	*out = 0;
	for (size_t i = 0; i < 9 && from + i < end; i++) {
		if (i == 8) {
			*out = *out << 8 | from[i];
			return 9;
		}
		*out = *out << 7 | (from[i] & 0x7f);
		if (!(from[i] & 0x80))
			return i + 1;
	}
	return 0;
}

/* ---- a page ---- */

/* What a cell says before its payload. */
struct head {
	struct cell cell;
	uint64_t    payload;
	uint32_t    local;              /* payload bytes on this page               */
	uint32_t    bytes;              /* before them                              */
	uint32_t    all;                /* bytes of the whole cell on this page     */
};

static bool is_branch(enum page_kind k)
{
	return k == PAGE_BRANCH || k == PAGE_KEY_BRANCH;
}

/* How much of a payload lies in the cell itself; the rest in a chain of pages. */
static uint32_t local_bytes(const struct pages *p, uint64_t payload)
{
	uint32_t most = p->kind == PAGE_LEAF ? p->usable - 35 : (p->usable - 12) * 64 / 255 - 23;
	uint32_t least = (p->usable - 12) * 32 / 255 - 23;

	if (payload <= most)
		return (uint32_t)payload;
	uint32_t k = least + (uint32_t)((payload - least) % (p->usable - 4));
	return k <= most ? k : least;
}

static bool cell_head(const struct pages *p, uint32_t at, struct head *h)
{
	const uint8_t *b = p->bytes + at, *end = p->bytes + p->usable;
	uint64_t id = 0;
	size_t n;

	*h = (struct head){ 0 };
	if (is_branch(p->kind)) {
		if (at + 4 > p->usable)
			return false;
		h->cell.below = big4(b);
		b += 4;
	}
	if (p->kind != PAGE_BRANCH) {
		if ((n = varint(b, end, &h->payload)) == 0 || h->payload > PAYLOAD_MOST)
			return false;
		b += n;
		h->local = local_bytes(p, h->payload);
	}
	if (p->kind == PAGE_LEAF || p->kind == PAGE_BRANCH) {
		if ((n = varint(b, end, &id)) == 0)
			return false;
		b += n;
		h->cell.id = (int64_t)id;
	}
	h->bytes = (uint32_t)(b - p->bytes) - at;
	h->all = h->bytes + h->local + (h->local < h->payload ? 4 : 0);
	h->all = h->all < 4 ? 4 : h->all;
	return at + h->all <= p->usable;
}

static uint32_t start_of(const struct pages *p)
{
	return p->page == 1 ? 100 : 0;
}

static uint32_t cells_at(const struct pages *p)
{
	return start_of(p) + (is_branch(p->kind) ? 12 : 8);
}

/* Each byte belongs to one thing. */
static bool claim(struct pages *p, uint32_t at, uint32_t n)
{
	if (at + n > p->usable)
		return false;
	for (uint32_t i = at; i < at + n; i++)
		if (p->used[i]++)
			return false;
	return true;
}

/* Cells, holes between them, and the few bytes too small for a hole make up all from where the
 * page says that its content begins. */
static bool all_accounted(struct pages *p)
{
	const uint8_t *h = p->bytes + start_of(p);
	uint32_t content = big2(h + 5) ? big2(h + 5) : PAGE_MOST, loose = 0, last = 0;
	struct head head;
	int64_t id = INT64_MIN;

	memset(p->used, 0, p->usable);
	if (content > p->usable || !claim(p, 0, cells_at(p) + 2 * (uint32_t)p->cells) ||
	    content < cells_at(p) + 2 * (uint32_t)p->cells)
		return false;
	for (int i = 0; i < p->cells; i++) {
		uint32_t at = big2(p->bytes + cells_at(p) + 2 * (uint32_t)i);
		if (at < content || !cell_head(p, at, &head) || !claim(p, at, head.all))
			return false;
		if ((p->kind == PAGE_LEAF || p->kind == PAGE_BRANCH) && i > 0 && head.cell.id <= id)
			return false;
		id = head.cell.id;
	}
	for (uint32_t hole = big2(h + 1); hole; hole = big2(p->bytes + hole)) {
		if (hole < content || hole <= last || hole + 4 > p->usable ||
		    !claim(p, hole, big2(p->bytes + hole + 2)))
			return false;
		last = hole;
	}
	for (uint32_t i = content; i < p->usable; i++)
		loose += !p->used[i];
	return loose == h[7];
}

enum page_kind pages_take(struct pages *p, uint32_t page, int *cells)
{
	*cells = 0;
	p->page = 0;
	if (!pages_fetch(p, page, p->bytes) || (page == 1 && !pages_is_header(p->bytes)))
		return PAGE_BAD;
	p->page = page;
	const uint8_t *h = p->bytes + start_of(p);
	p->kind = (enum page_kind)h[0];
	p->cells = (int)big2(h + 3);
	if ((p->kind != PAGE_LEAF && p->kind != PAGE_KEY_LEAF && !is_branch(p->kind)) ||
	    cells_at(p) + 2 * (uint32_t)p->cells > p->usable || !all_accounted(p))
		return PAGE_BAD;
	*cells = p->cells;
	return p->cells > 0 ? p->kind : PAGE_EMPTY;
}

uint32_t pages_last_below(const struct pages *p)
{
	return is_branch(p->kind) ? big4(p->bytes + start_of(p) + 8) : 0;
}

/* ---- a row ---- */

/* A page of a chain belongs to one cell, and to no list. */
static bool own(struct pages *p, uint32_t page, uint32_t at)
{
	uint64_t me = (uint64_t)p->page << 16 | at;

	if (page == 0 || page > p->count || p->free[page] ||
	    (p->owner[page] && p->owner[page] != me))
		return false;
	p->owner[page] = me;
	return pages_fetch(p, page, p->other);
}

/* The payload in one piece: here, or gathered from the chain. */
static const uint8_t *gather(struct pages *p, uint32_t at, const struct head *h)
{
	const uint8_t *here = p->bytes + at + h->bytes;
	size_t all = (size_t)h->payload, done = h->local;       /* at most PAYLOAD_MOST */
	uint32_t next;

	if (h->local == h->payload)
		return here;
	memcpy(p->payload, here, h->local);
	for (next = big4(here + h->local); done < all; next = big4(p->other)) {
		size_t n = all - done < p->usable - 4 ? all - done : p->usable - 4;
		if (!own(p, next, at))
			return NULL;
		memcpy(p->payload + done, p->other + 4, n);
		done += n;
	}
	return next == 0 ? p->payload : NULL;
}

static int64_t signed_number(const uint8_t *b, size_t n)
{
	uint64_t v = n && b[0] & 0x80 ? UINT64_MAX : 0;

	for (size_t i = 0; i < n; i++)
		v = v << 8 | b[i];
	return (int64_t)v;
}

/* One part by its type's number; how many bytes it has. */
static size_t part_shape(uint64_t type, struct part *out)
{
	static const uint8_t bytes[] = { 0, 1, 2, 3, 4, 6, 8, 8, 0, 0 };

	*out = (struct part){ .type = PART_OTHER };
	if (type >= 12) {
		out->type = type & 1 ? PART_TEXT : PART_BLOB;
		return (size_t)(type - 12) / 2;
	}
	if (type == 0)
		out->type = PART_NONE;
	else if (type != 7 && type < 10)
		out->type = PART_INT;
	if (type == 9)
		out->number = 1;
	return type < 10 ? bytes[type] : 0;
}

static int read_parts(const uint8_t *b, size_t n, struct part *parts, int room)
{
	const uint8_t *end = b + n, *at = b, *body;
	uint64_t head, type;
	size_t used = varint(at, end, &head);
	int count = 0;

	if (used == 0 || head < used || head > n)
		return -1;
	body = b + head;
	for (at += used; at < b + head; at += used) {
		if ((used = varint(at, b + head, &type)) == 0 || count == room)
			return -1;
		struct part *p = &parts[count++];
		p->n = part_shape(type, p);
		if (p->n > (size_t)(end - body))
			return -1;
		p->bytes = body;
		if (p->type == PART_INT && p->n)
			p->number = signed_number(body, p->n);
		body += p->n;
	}
	return body == end ? count : -1;
}

int pages_cell(struct pages *p, int at, struct cell *c, struct part *parts, int room)
{
	uint32_t where = big2(p->bytes + cells_at(p) + 2 * (uint32_t)at);
	struct head h;

	if (!cell_head(p, where, &h))
		return -1;
	*c = h.cell;
	if (p->kind == PAGE_BRANCH)
		return 0;
	const uint8_t *payload = gather(p, where, &h);
	return payload ? read_parts(payload, (size_t)h.payload, parts, room) : -1;
}
