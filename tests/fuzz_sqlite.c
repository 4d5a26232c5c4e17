/* Makes SQLite quicker where a fuzzer drives, which goes through a survey's rows some thousand times: one thread,
 * no statistics, and its memory straight from the C library, for half of all the time went into the sanitizer's
 * records of who asked for it. What our own readers do with the bytes of a value is tried under the sanitizer by
 * fuzz_packed, and by all targets where they run over their corpus. */
#include "tests/fuzz.h"

#include <sqlite3.h>

#define HEAD 16                 /* holds the size, and keeps what is behind it aligned */

/* glibc's own, which a sanitizer does not stand before. */
void *__libc_malloc(size_t n);
void *__libc_realloc(void *at, size_t n);
void __libc_free(void *at);

static void *with_size(void *at, int n)
{
	if (!at)
		return NULL;
	*(int *)at = n;
	return (char *)at + HEAD;
}

static void *quick_malloc(int n)
{
	return with_size(__libc_malloc((size_t)n + HEAD), n);
}

static void *quick_realloc(void *at, int n)
{
	return with_size(__libc_realloc((char *)at - HEAD, (size_t)n + HEAD), n);
}

static void quick_free(void *at)
{
	__libc_free((char *)at - HEAD);
}

static int quick_size(void *at)
{
	return *(int *)((char *)at - HEAD);
}

static int quick_roundup(int n)
{
	return (n + 7) & ~7;
}

static int quick_begin(void *self)
{
	(void)self;
	return SQLITE_OK;
}

static void quick_end(void *self)
{
	(void)self;
}

int LLVMFuzzerInitialize(int *argc, char ***argv)
{
	const struct sqlite3_mem_methods quick = {
		quick_malloc, quick_free, quick_realloc, quick_size, quick_roundup, quick_begin, quick_end, NULL
	};

	(void)argc;
	(void)argv;
	promise(sqlite3_config(SQLITE_CONFIG_SINGLETHREAD) == SQLITE_OK &&
		sqlite3_config(SQLITE_CONFIG_MEMSTATUS, 0) == SQLITE_OK &&
		sqlite3_config(SQLITE_CONFIG_MALLOC, &quick) == SQLITE_OK, "SQLite as it is wanted");
	return 0;
}
