#include "dsp/emission.h"

const char *kind_name(enum kind k)
{
	static const char *const names[KIND_COUNT] = {
		"unknown", "carrier", "am", "nfm", "wfm", "data", "noise",
	};
	return (unsigned)k < KIND_COUNT ? names[k] : names[KIND_UNKNOWN];
}

enum kind traits_kind(const struct traits *t)
{
	if (t->snr < 6.3)
		return KIND_UNKNOWN;
	if (t->line > 0.5 && t->envelope > 0.04)
		return KIND_AM;
	if (t->line > 0.8)
		return KIND_CARRIER;
	/* A few levels, a filled spectrum, and more swing than a lone tone: nearly every
	 * look at keying says so, and hardly one in twenty at a voice. */
	if (t->kurtosis < 2.25 && t->flatness > 0.3 && t->swing_hz > 550)
		return KIND_DATA;
	return KIND_NFM;
}

#define MODULATED_SHARE 0.15    /* of the votes: then the bare looks were pauses */

enum kind votes_kind(const struct votes *v, double *confidence)
{
	int all = 0, modulated = 0;
	enum kind best = KIND_AM;

	for (int k = KIND_CARRIER; k < KIND_COUNT; k++) {
		all += v->n[k];
		if (k == KIND_CARRIER)
			continue;
		modulated += v->n[k];
		if (v->n[k] > v->n[best])
			best = (enum kind)k;
	}
	*confidence = 0;
	if (all == 0)
		return KIND_UNKNOWN;
	bool bare = modulated <= MODULATED_SHARE * all;
	int of = bare ? all : modulated, ayes = bare ? v->n[KIND_CARRIER] : v->n[best];
	/* Laplace's rule of succession: three looks that agree are not yet certainty. */
	*confidence = (ayes + 1.0) / (of + 2.0);
	return bare ? KIND_CARRIER : best;
}
