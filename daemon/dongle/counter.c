#include "daemon/dongle/counter.h"

void counter_begin(struct counter *c, int64_t skip, int64_t bytes)
{
	c->skip = skip;
	c->breaks = 0;
	c->running = false;
	atomic_store_explicit(&c->left, skip + bytes, memory_order_release);
}

void counter_feed(struct counter *c, const uint8_t *bytes, size_t n)
{
	int64_t left = atomic_load_explicit(&c->left, memory_order_acquire);

	if (left == 0)
		return;
	for (size_t i = 0; i < n && left > 0; i++, left--) {
		if (c->skip > 0) {
			c->skip--;
			continue;
		}
		c->breaks += c->running && bytes[i] != c->next;
		c->next = (uint8_t)(bytes[i] + 1);
		c->running = true;
	}
	atomic_store_explicit(&c->left, left, memory_order_release);
}

int64_t counter_left(const struct counter *c)
{
	return atomic_load_explicit(&c->left, memory_order_acquire);
}

int counter_breaks(const struct counter *c)
{
	return c->breaks;
}
