#include "dsp/freq.h"

#include <ctype.h>
#include <inttypes.h>
#include <math.h>
#include <stdbool.h>
#include <stdio.h>
#include <string.h>
#include <strings.h>

struct freq freq_from_hz(double hz)
{
	return (struct freq){ llround(hz * 3.0) };
}

/* Decimals of one and two thirds, cut to n digits; the last two-thirds digit is
 * rounded, as people write it. */
static const char *const third_digits[3] = { "000", "333", "667" };

char *freq_format(char out[FREQ_TEXT], struct freq f)
{
	const char *sign = f.thirds < 0 ? "-" : "";
	uint64_t t = f.thirds < 0 ? (uint64_t)-f.thirds : (uint64_t)f.thirds;

	if (t % 3 == 0)
		snprintf(out, FREQ_TEXT, "%s%" PRIu64, sign, t / 3);
	else
		snprintf(out, FREQ_TEXT, "%s%" PRIu64 ".%s", sign, t / 3, third_digits[t % 3]);
	return out;
}

char *freq_format_mhz(char out[FREQ_TEXT], struct freq f)
{
	const char *sign = f.thirds < 0 ? "-" : "";
	uint64_t t = f.thirds < 0 ? (uint64_t)-f.thirds : (uint64_t)f.thirds;
	uint64_t hz = t / 3 + (t % 3 == 2);     /* to the nearest hertz */

	int n = snprintf(out, FREQ_TEXT, "%s%" PRIu64 ".%06" PRIu64, sign, hz / 1000000, hz % 1000000);
	char *dot = strchr(out, '.');
	while (n - 1 > dot - out + 3 && out[n - 1] == '0')
		out[--n] = '\0';
	return out;
}

static const struct {
	const char *name;
	int         power;      /* of ten */
} units[] = { { "", 0 }, { "Hz", 0 }, { "kHz", 3 }, { "MHz", 6 }, { "GHz", 9 } };

static int unit_power(const char *text)
{
	while (isspace((unsigned char)*text))
		text++;
	for (size_t i = 0; i < sizeof units / sizeof units[0]; i++)
		if (strcasecmp(text, units[i].name) == 0)
			return units[i].power;
	return -1;
}

#define DIGITS_MAX 18           /* fits an int64 with room to multiply in int128 */

/* Digits and at most one point: value = *digits / 10^*places. The end, or NULL. */
static const char *scan_decimal(const char *p, int64_t *digits, int *places)
{
	int seen = 0;
	bool point = false;

	*digits = 0;
	*places = 0;
	for (;; p++) {
		if (*p == '.' && !point) {
			point = true;
			continue;
		}
		if (!isdigit((unsigned char)*p))
			break;
		if (++seen > DIGITS_MAX)
			return NULL;
		*digits = *digits * 10 + (*p - '0');
		*places += point;
	}
	return seen ? p : NULL;
}

/* num / 10^places * 10^power * 3 as a whole number; a remainder is forgiven when the
 * text had three places or more of hertz and was a rounded third. */
static int whole_thirds(int64_t num, int64_t den, int places, int power, int64_t *out)
{
	__int128 n = (__int128)num * 3, d = den;

	for (int i = 0; i < power; i++)
		n *= 10;
	for (int i = 0; i < places; i++)
		d *= 10;
	if (n / d > (__int128)INT64_MAX / 4)
		return -1;
	int64_t q = (int64_t)((n + d / 2) / d);
	__int128 off = n - (__int128)q * d;
	if (off < 0)
		off = -off;
	/* Written to a thousandth of a hertz: a third is off by one thousandth of a third. */
	if (off != 0 && (places - power < 3 || q % 3 == 0 || off * 500 > d))
		return -1;
	*out = q;
	return 0;
}

int freq_parse(const char *text, struct freq *out)
{
	int64_t num, den = 1, thirds;
	int places, den_places = 0;
	bool minus = false;

	while (isspace((unsigned char)*text))
		text++;
	if (*text == '-') {
		minus = true;
		text++;
	}
	const char *p = scan_decimal(text, &num, &places);
	if (!p)
		return -1;
	if (*p == '/') {
		p = scan_decimal(p + 1, &den, &den_places);
		if (!p || den_places || den <= 0 || den > 1000000)
			return -1;
	}
	int power = unit_power(p);
	if (power < 0 || whole_thirds(num, den, places, power, &thirds) < 0)
		return -1;
	out->thirds = minus ? -thirds : thirds;
	return 0;
}
