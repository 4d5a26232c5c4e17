#include "daemon/guard.h"

#include <arpa/inet.h>
#include <ctype.h>
#include <errno.h>
#include <fcntl.h>
#include <netinet/in.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <strings.h>
#include <sys/stat.h>
#include <unistd.h>

#define TOKEN_LEAST 16
#define TOKEN_MOST  100
#define USER        "bandcensus:"

/* ---- the address ---- */

/* "1.2.3.4:80", "[::1]:80", "[::1]", "name": host without brackets, and what follows its colon or
 * "". false: it is none of these. */
static bool split(const char *text, char host[64], const char **port)
{
	const char *from = text + (*text == '['), *end = strchr(text, *text == '[' ? ']' : ':');
	size_t n = end ? (size_t)(end - from) : strlen(from);

	if (n == 0 || n >= 64 || (*text == '[' && !end))
		return false;
	memcpy(host, from, n);
	host[n] = '\0';
	*port = from + n + (*text == '[');
	if (**port == '\0')
		return true;
	return *(*port)++ == ':' && strspn(*port, "0123456789") == strlen(*port) &&
	       strlen(*port) <= 5 && **port;
}

static bool is_number(const char *host, bool six, struct sockaddr_storage *out)
{
	struct sockaddr_in *v4 = (struct sockaddr_in *)out;
	struct sockaddr_in6 *v6 = (struct sockaddr_in6 *)out;

	memset(out, 0, sizeof *out);
	out->ss_family = six ? AF_INET6 : AF_INET;
	return inet_pton(out->ss_family, host,
			 six ? (void *)&v6->sin6_addr : (void *)&v4->sin_addr) == 1;
}

static bool is_loopback(const struct sockaddr_storage *at)
{
	if (at->ss_family == AF_INET6)
		return IN6_IS_ADDR_LOOPBACK(&((const struct sockaddr_in6 *)at)->sin6_addr);
	return ntohl(((const struct sockaddr_in *)at)->sin_addr.s_addr) >> 24 == 127;
}

static int set_address(struct guard *g, const char *address, struct fault *why)
{
	char host[64];
	const char *port;

	if (!split(address, host, &port) || !*port || atoi(port) > 65535 ||
	    !is_number(host, *address == '[', &g->at))
		return fault_set(why, FAULT_INPUT,
				 "--page is \"%.60s\", must be an address and a port, such as "
				 "127.0.0.1:8080 or [::1]:8080",
				 address);
	in_port_t at = htons((uint16_t)atoi(port));
	if (g->at.ss_family == AF_INET6)
		((struct sockaddr_in6 *)&g->at)->sin6_port = at;
	else
		((struct sockaddr_in *)&g->at)->sin_port = at;
	return 0;
}

bool guard_host(const char *host)
{
	struct sockaddr_storage any;
	char name[64];
	const char *port;

	if (!host || !split(host, name, &port))
		return false;
	return (*host != '[' && strcasecmp(name, "localhost") == 0) ||
	       is_number(name, *host == '[', &any);
}

/* ---- the token ---- */

/* RFC 4648. out has room for 4 letters for each 3 bytes begun, and the end. */
static void base64(const char *bytes, char *out)
{
	static const char digits[] =
	    "ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789+/";
	size_t n = strlen(bytes);

	for (size_t i = 0; i < n; i += 3) {
		uint32_t three = 0;
		for (size_t k = 0; k < 3; k++)
			three = three << 8 | (i + k < n ? (unsigned char)bytes[i + k] : 0);
		for (size_t k = 0; k < 4; k++)
			*out++ = i + k > n ? '=' : digits[three >> (18 - 6 * k) & 63];
	}
	*out = '\0';
}

static int read_token(const char *path, char token[TOKEN_MOST + 2], struct fault *why)
{
	struct stat st;
	int fd = open(path, O_RDONLY | O_CLOEXEC | O_NONBLOCK);
	ssize_t n = fd < 0 || fstat(fd, &st) < 0 ? -1 : read(fd, token, TOKEN_MOST + 1);

	if (n < 0)
		fault_set(why, fault_kind_of(errno), "--page-token %s: %s", path, strerror(errno));
	if (fd >= 0)
		close(fd);
	if (n < 0)
		return -1;
	if (st.st_mode & 077)
		return fault_set(why, FAULT_INPUT,
				 "--page-token %s: others may use this file, make it yours alone: "
				 "chmod 600",
				 path);
	token[n] = '\0';
	token[strcspn(token, "\r\n")] = '\0';
	bool plain = true;
	for (const char *c = token; *c; c++)
		plain &= isgraph((unsigned char)*c) != 0;
	n = (ssize_t)strlen(token);
	if (plain && n >= TOKEN_LEAST && n <= TOKEN_MOST)
		return 0;
	return fault_set(why, FAULT_INPUT,
			 "--page-token %s: must hold one line of %d to %d letters, "
			 "without blanks",
			 path, TOKEN_LEAST, TOKEN_MOST);
}

int guard_set(struct guard *g, const char *address, const char *token_path, struct fault *why)
{
	char token[TOKEN_MOST + 2], both[sizeof USER + TOKEN_MOST + 2];

	*g = (struct guard){ .locked = token_path };
	if (set_address(g, address, why) < 0 ||
	    (token_path && read_token(token_path, token, why) < 0))
		return -1;
	if (!token_path && !is_loopback(&g->at))
		return fault_set(why, FAULT_INPUT,
				 "--page %s can be reached from other computers: take "
				 "127.0.0.1 or [::1], or lock it with --page-token FILE",
				 address);
	if (!token_path)
		return 0;
	snprintf(g->bearer, sizeof g->bearer, "Bearer %s", token);
	snprintf(both, sizeof both, USER "%s", token);
	strcpy(g->basic, "Basic ");
	base64(both, g->basic + strlen(g->basic));
	explicit_bzero(token, sizeof token);
	explicit_bzero(both, sizeof both);
	return 0;
}

/* Looks at all letters, whichever differ. */
static unsigned differ(const char a[GUARD_LETTERS], const char b[GUARD_LETTERS])
{
	unsigned any = 0;

	for (int i = 0; i < GUARD_LETTERS; i++)
		any |= (unsigned char)a[i] ^ (unsigned char)b[i];
	return any;
}

bool guard_unlocks(const struct guard *g, const char *authorization)
{
	char said[GUARD_LETTERS] = "";

	if (!g->locked)
		return true;
	if (authorization)
		strncpy(said, authorization, sizeof said - 1);
	unsigned basic = differ(said, g->basic), bearer = differ(said, g->bearer);
	return (basic == 0) | (bearer == 0);
}
