#include "daemon/town/wave.h"

/* Vectorised twice, the better one chosen when the program starts; the two
 * give the same bits. Sanitizers can't bear the choosing. */
#if defined(__x86_64__) && defined(__GNUC__) && !defined(__clang__) && \
	!defined(__SANITIZE_ADDRESS__) && !defined(__SANITIZE_THREAD__)
#define HOT __attribute__((target_clones("default", "avx2"), optimize("O3")))
#else
#define HOT
#endif

HOT void wave_noise(float *restrict re, float *restrict im, const float *restrict a,
		    const float *restrict b, const float *restrict wa,
		    const float *restrict wb, float c, float s, int n)
{
	for (int i = 0; i < n; i++) {
		re[i] = wa[i] + c * a[i] - s * b[i];
		im[i] = wb[i] + s * a[i] + c * b[i];
	}
}

/* Sine and cosine by their series up to a quarter turn, then of the double
 * angle: errors below 4e-7. x in turns. */
static inline __attribute__((always_inline)) void turn(float x, float *sine, float *cosine)
{
	/* Adding and taking off 1.5 * 2^23 rounds to a whole number. */
	float y = x - ((x + 12582912.0f) - 12582912.0f);
	float h = 3.14159265f * y, z = h * h;
	float s = h * (1 + z * (-1.6666667e-1f + z * (8.3333333e-3f + z * (-1.9841270e-4f +
		  z * (2.7557319e-6f - z * 2.5052108e-8f)))));
	float c = 1 + z * (-0.5f + z * (4.1666667e-2f + z * (-1.3888889e-3f + z * (2.4801587e-5f -
		  z * 2.7557319e-7f))));

	*sine = 2 * s * c;
	*cosine = 1 - 2 * s * s;
}

static inline __attribute__((always_inline)) void add_arc(float *restrict re, float *restrict im,
							  const struct arc *p, int n)
{
	const float turns = p->turns, step = p->step, level = p->level, slope = p->slope;

	for (int i = 0; i < n; i++) {
		float s, c, at = (float)i, a = level + slope * at;
		turn(turns + step * at, &s, &c);
		re[i] += a * c;
		im[i] += a * s;
	}
}

HOT void wave_add(float *restrict re, float *restrict im, const struct arc *arcs, int each, int n)
{
	int i = 0;

	/* The usual length first: known to the compiler, with no rest. */
	for (; each == 40 && i + 40 <= n; i += 40)
		add_arc(re + i, im + i, arcs++, 40);
	for (; each == 8 && i + 8 <= n; i += 8)
		add_arc(re + i, im + i, arcs++, 8);
	for (; i < n; i += each)
		add_arc(re + i, im + i, arcs++, n - i < each ? n - i : each);
}

static inline __attribute__((always_inline)) int byte_of(float x)
{
	x = x < 0 ? 0 : x > 255 ? 255 : x;
	return (int)(x + 0.5f);
}

/* I is the low byte of a pair: first in memory where the low byte is. */
_Static_assert(__BYTE_ORDER__ == __ORDER_LITTLE_ENDIAN__, "pairs are written low byte first");

HOT void wave_bytes(uint16_t *restrict out, const float *restrict re, const float *restrict im,
		    struct converter c, int n)
{
	for (int i = 0; i < n; i++) {
		int x = byte_of(re[i] + c.zero_i);
		int y = byte_of(im[i] + c.gain * im[i] + c.skew * re[i] + c.zero_q);
		out[i] = (uint16_t)(x | y << 8);
	}
}
