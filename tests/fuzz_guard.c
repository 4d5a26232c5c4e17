/* Feeds what it is given to who lets in to the page: a line each for its address, a Host and an
 * Authorization header. As it is built, it takes files and folders of them and serves as a test over
 * tests/corpus/guard; tests/fuzz.sh searches for more. */
#include "tests/fuzz.h"

#include <ctype.h>
#include <string.h>
#include <strings.h>
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

static void try_token(const char *authorization)
{
	char path[] = "/tmp/fuzz-guard-XXXXXX";
	struct fault why = { 0 };
	struct guard g;
	int fd = mkstemp(path);

	promise(fd >= 0 && write(fd, TOKEN "\n", sizeof TOKEN) == (ssize_t)sizeof TOKEN, "room for the token");
	close(fd);
	promise(guard_set(&g, "0.0.0.0:0", path, &why) == 0 && g.locked, "it is locked");
	unlink(path);
	if (guard_unlocks(&g, authorization))
		promise(strstr(authorization, TOKEN) || strstr(authorization, BASIC), "only the token unlocks it");
}

int LLVMFuzzerTestOneInput(const uint8_t *bytes, size_t n)
{
	char text[1024], *rest = text, *line[3] = { "", "", "" };

	n = n < sizeof text ? n : sizeof text - 1;
	memcpy(text, bytes, n);
	text[n] = '\0';
	for (int i = 0; i < 3 && rest; i++)
		line[i] = strsep(&rest, "\n");
	try_address(line[0]);
	if (guard_host(line[1]))
		promise(!of_somebody(line[1]) || strncasecmp(line[1], "localhost", 9) == 0 || line[1][0] == '[',
			"a name of somebody's is no host");
	try_token(line[2]);
	return 0;
}
