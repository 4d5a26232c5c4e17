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

	int n = snprintf(out, FREQ_TEXT, "%s%" PRIu64 ".%06" PRIu64, sign, hz / 1000000,
			 hz % 1000000);
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

#define DIGITS_MAX 18           /* three times that fits an int64 */

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

/* num / den * 10^(power - places) * 3 as a whole number; a remainder is forgiven when the text had
 * three places or more of hertz and was a rounded third. 64 bits will do: what is whole is set aside
 * first, and not every computer has more. */
static int whole_thirds(int64_t num, int64_t den, int places, int power, int64_t *out)
{
	const uint64_t most = INT64_MAX / 4;
	uint64_t n = 3 * (uint64_t)num, d = (uint64_t)den, whole = 0;

	if (power >= places) {
		whole = (uint64_t)(num / den) * 3;
		n = (uint64_t)(num % den) * 3;
	}
	for (int i = places; i < power; i++, whole *= 10, n *= 10)
		if (whole > most / 10)
			return -1;
	for (int i = power; i < places; i++)
		if (__builtin_mul_overflow(d, UINT64_C(10), &d)) {
			*out = 0;
			return num == 0 ? 0 : -1;
		}
	if (whole + n / d > most)
		return -1;
	uint64_t q = (n + d / 2) / d, off = q * d > n ? q * d - n : n - q * d;
	/* Written to a thousandth of a hertz: a third is off by one thousandth of a third. */
	if (off != 0 && (places - power < 3 || q % 3 == 0 || off > d / 500))
		return -1;
	*out = (int64_t)(whole + q);
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
