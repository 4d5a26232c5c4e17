/* Feeds what it is given to who lets in to the page: a line each for its address, a Host, an
 * Authorization header and what the token's file holds. As it is built, it takes files and folders of them and
 * serves as a test over tests/corpus/guard; tests/fuzz.sh searches for more. */
#include "tests/fuzz.h"

#include <ctype.h>
#include <string.h>
#include <strings.h>
#include <sys/mman.h>
#include <sys/stat.h>
#include <unistd.h>

#include "daemon/guard.h"

/* Made with coreutils' base64 of "bandcensus:correct-horse-battery". */
#define TOKEN "correct-horse-battery"
#define BASIC "YmFuZGNlbnN1czpjb3JyZWN0LWhvcnNlLWJhdHRlcnk="

/* Another's names have a letter beyond those of hexadecimal numbers: they can be no address. */
static bool of_somebody(const char *host)
{
	for (; *host && *host != ':'; host++)
		if (isalpha((unsigned char)*host) && !isxdigit((unsigned char)*host))
			return true;
	return false;
}

/* Not on loopback and without a token there is no page. */
static void try_address(const char *address)
{
	struct fault why = { 0 };
	struct guard g;

	if (guard_set(&g, address, NULL, &why) < 0)
		promise_refusal(&why);
	else
		promise(strncmp(address, "127.", 4) == 0 || address[0] == '[', "it is for this computer alone");
}

/* An empty file stands for a good token. */
static void try_token(const char *authorization, const char *file)
{
	const char *holds = *file ? file : TOKEN "\n";
	size_t n = strlen(holds), least = strcspn(holds, "\r\n");
	struct fault why = { 0 };
	struct guard g;
	char path[64];
	int fd = memfd_create("token", MFD_CLOEXEC);

	promise(fd >= 0 && write(fd, holds, n) == (ssize_t)n && fchmod(fd, 0600) == 0, "room for the token");
	snprintf(path, sizeof path, "/proc/self/fd/%d", fd);
	if (guard_set(&g, "0.0.0.0:0", path, &why) < 0) {
		promise(*file, "a good token is taken");
		promise_refusal(&why);
		close(fd);
		return;
	}
	close(fd);
	promise(g.locked && least >= 16, "it is locked, and not by a short token");
	if (guard_unlocks(&g, authorization) && !*file)
		promise(strstr(authorization, TOKEN) || strstr(authorization, BASIC), "only the token unlocks it");
	if (guard_unlocks(&g, authorization) && strncmp(authorization, "Bearer ", 7) == 0)
		promise(strncmp(authorization + 7, holds, least) == 0, "only the token unlocks it");
}

int LLVMFuzzerTestOneInput(const uint8_t *bytes, size_t n)
{
	char text[1024], *rest = text, *line[4] = { "", "", "", "" };

	n = n < sizeof text ? n : sizeof text - 1;
	memcpy(text, bytes, n);
	text[n] = '\0';
	for (int i = 0; i < 4 && rest; i++)
		line[i] = strsep(&rest, "\n");
	try_address(line[0]);
	if (guard_host(line[1]))
		promise(!of_somebody(line[1]) || strncasecmp(line[1], "localhost", 9) == 0 || line[1][0] == '[',
			"a name of somebody's is no host");
	try_token(line[2], line[3]);
	return 0;
}
