#include "dsp/tone.h"

#include <assert.h>
#include <math.h>

/* 83 codes in general use, read in a published table, and 21 of longer lists, from memory;
 * together they are closed under inversion, which a wrong one among them would break. */
static const int16_t codes[CODES] = {
	023, 025, 026, 031, 032, 036, 043, 047, 051, 053, 054, 065, 071, 072, 073, 074, 0114,
	0115, 0116, 0122, 0125, 0131, 0132, 0134, 0143, 0145, 0152, 0155, 0156, 0162, 0165,
	0172, 0174, 0205, 0212, 0223, 0225, 0226, 0243, 0244, 0245, 0246, 0251, 0252, 0255,
	0261, 0263, 0265, 0266, 0271, 0274, 0306, 0311, 0315, 0325, 0331, 0332, 0343, 0346,
	0351, 0356, 0364, 0365, 0371, 0411, 0412, 0413, 0423, 0431, 0432, 0445, 0446, 0452,
	0454, 0455, 0462, 0464, 0465, 0466, 0503, 0506, 0516, 0523, 0526, 0532, 0546, 0565,
	0606, 0612, 0624, 0627, 0631, 0632, 0654, 0662, 0664, 0703, 0712, 0723, 0731, 0732,
	0734, 0743, 0754,
};

#define BITS     23
#define BIT_RATE 134.4          /* a second */
#define CELLS    8              /* of a bit */
#define WORD     (BITS * CELLS)

int code_bits(int i)
{
	assert(i >= 0 && i < CODES);
	return codes[i];
}

/* Golay (23,12): the remainder of data x^11 by x^11 + x^10 + x^6 + x^5 + x^4 + x^2 + 1. */
uint32_t code_word(int bits)
{
	uint32_t data = 0x800 | (uint32_t)bits, rest = data << 11;

	for (int bit = BITS - 1; bit >= 11; bit--)
		if (rest >> bit & 1)
			rest ^= UINT32_C(0xc75) << (bit - 11);
	return rest << 12 | data;
}

static uint32_t turned(uint32_t word, int by)
{
	return (word >> by | word << (BITS - by)) & ((UINT32_C(1) << BITS) - 1);
}

int code_inverse(int bits)
{
	uint32_t want = ~code_word(bits) & ((UINT32_C(1) << BITS) - 1);

	for (int i = 0; i < CODES; i++)
		for (int by = 0; by < BITS; by++)
			if (turned(code_word(codes[i]), by) == want)
				return codes[i];
	return 0;
}

/* Sums of what lies in each cell of the word, however often it came round. */
static double fold(const float *x, int n, double rate_hz, double cell[WORD])
{
	double mean = 0, power = 0;

	for (int i = 0; i < WORD; i++)
		cell[i] = 0;
	for (int i = 0; i < n; i++)
		mean += x[i] / (double)n;
	for (int i = 0; i < n; i++) {
		double at = i * (CELLS * BIT_RATE) / rate_hz;
		cell[(int)fmod(at, WORD)] += x[i] - mean;
		power += (x[i] - mean) * (x[i] - mean) / n;
	}
	return power;
}

/* How well each code's word fits bits that begin at one cell, in any rotation: the sum of
 * the ones less that of the noughts is what it holds. */
static void try_codes(const double bit[BITS], double most[CODES])
{
	for (int k = 0; k < CODES; k++) {
		uint32_t word = code_word(codes[k]);
		double weight = 1 - pow((2.0 * __builtin_popcount(word) - BITS) / BITS, 2);
		for (int by = 0; by < BITS; by++) {
			double sum = 0;
			for (int b = 0; b < BITS; b++)
				sum += word >> (b + by < BITS ? b + by : b + by - BITS) & 1 ?
					       bit[b] :
					       -bit[b];
			/* Ones and noughts are not quite as many: the mean was taken off. */
			most[k] = fmax(most[k], sum / sqrt(weight));
		}
	}
}

struct tone_fit code_fit(const float *x, int n, double rate_hz, double explained[CODES])
{
	double cell[WORD], most[CODES] = { 0 }, all = fmax(fold(x, n, rate_hz, cell), 1e-9);
	struct tone_fit f = { 0 };

	for (int from = 0; from < CELLS; from++) {
		double bit[BITS] = { 0 };
		for (int i = 0; i < WORD; i++)
			bit[i / CELLS] += cell[(i + from) % WORD];
		try_codes(bit, most);
	}
	for (int k = 0; k < CODES; k++) {
		explained[k] = most[k] * most[k] / n / n;
		if (explained[k] > explained[f.best])
			f.best = k;
	}
	f.share = explained[f.best] / all;
	f.peak_hz = sqrt(explained[f.best]);
	return f;
}
