#include "tests/test.h"

#include <math.h>

#include "dsp/emission.h"
#include "dsp/sketch.h"

#define NARROW 16000.0
#define WIDE   180000.0

/* What holds in every row but for what it says. */
static const struct features bases[] = {
	{ 0 },
#define A_LINE 1
	{ .frames = 98, .seconds = 10, .visits = 20, .snr = 100, .lined = 1, .line = 0.99,
	  .depth_sd = 0.01 },
#define MODULATED 2
	{ .frames = 98, .seconds = 2, .visits = 1, .snr = 100, .fill = 0.5, .kurtosis = 2.3,
	  .flatness = 0.75,
	  .wander = 0.13, .swing_hz = 2000, .envelope_sd = 0.01, .envelope = 0.05 },
};

static const struct {
	const char     *why;
	double          pass_hz;
	int             base;
	struct features f;
	enum kind       is;
	double          confidence;
} rows[] = {
	{ "nothing strong enough", NARROW, 0, { .frames = 0 }, KIND_UNKNOWN, 0 },
	/* Laplace's rule of succession: (n + 1) / (n + 2). */
	{ "broadcast", WIDE, 0, { .frames = 8, .width_hz = 120e3, .envelope = 0.1 }, KIND_WFM,
	  0.9 },
	{ "broadcast, one frame", WIDE, 0, { .frames = 1, .width_hz = 120e3, .envelope = 0.1 },
	  KIND_WFM, 0.667 },
	{ "no wider than 40 kHz", WIDE, 0, { .frames = 8, .width_hz = 39e3, .envelope = 0.1 },
	  KIND_UNKNOWN, 0 },
	{ "its power comes and goes", WIDE, 0, { .frames = 8, .width_hz = 120e3, .envelope = 0.5 },
	  KIND_UNKNOWN, 0.9 },
	{ "as noise does", WIDE, 0, { .frames = 8, .width_hz = 120e3, .envelope = 0.7 },
	  KIND_NOISE, 0.9 },
	{ "but for a line", WIDE, 0, { .frames = 8, .width_hz = 120e3, .envelope = 0.7,
	  .lined = 0.2 }, KIND_UNKNOWN, 0.9 },
	{ "more broken off than whole", NARROW, 0, { .frames = 11, .broken = 0.6 }, KIND_DATA,
	  0.8 },
	{ "little of that", NARROW, 0, { .frames = 10, .broken = 0.6 }, KIND_UNKNOWN, 0 },

	{ "AM", NARROW, A_LINE, { .depth = 0.1 }, KIND_AM, 0.99 },
	{ "AM, with edges", NARROW, A_LINE, { .depth = 0.1, .broken = 0.06 }, KIND_AM, 0.85 },
	{ "AM, deeper than speech", NARROW, A_LINE, { .depth = 0.1, .line = 0.7 }, KIND_AM, 0.85 },
	{ "two deviations of depth and a bit", NARROW, A_LINE, { .depth = 0.0323, .line = 0.95 },
	  KIND_AM, 0.969 },
	{ "one of few frames", NARROW, A_LINE, { .frames = 4, .depth = 0.022, .line = 0.9 },
	  KIND_UNKNOWN, 0 },
	{ "a carrier keyed on and off", NARROW, A_LINE, { .depth = 0.7 }, KIND_DATA, 0.685 },
	{ "never surer of that than 0.85", NARROW, A_LINE, { .depth = 0.95 }, KIND_DATA, 0.85 },
	{ "a line that breaks off", NARROW, A_LINE, { .broken = 0.15, .depth = 0.1 }, KIND_UNKNOWN,
	  0 },
	/* normal(1.2) less what 20 pauses of half a second have for a chance. */
	{ "a bare line", NARROW, A_LINE, { 0 }, KIND_CARRIER, 0.884 },
	{ "a short one may be a pause", NARROW, A_LINE, { .visits = 1, .seconds = 0.1 },
	  KIND_CARRIER, 0.6 },
	{ "not if it is long", NARROW, A_LINE, { .visits = 1, .seconds = 1 }, KIND_CARRIER, 0.812 },
	{ "nor if it was often so", NARROW, A_LINE, { .visits = 5, .seconds = 1 }, KIND_CARRIER,
	  0.715 },
	{ "one that moves about", NARROW, A_LINE, { .hopping_hz = 61 }, KIND_UNKNOWN, 0 },
	{ "not by so much", NARROW, A_LINE, { .hopping_hz = 59 }, KIND_CARRIER, 0.884 },
	{ "not all of it in the line", NARROW, A_LINE, { .line = 0.96 }, KIND_NFM, 0.65 },
	{ "with noise that is all", NARROW, A_LINE, { .line = 0.95, .snr = 20 }, KIND_CARRIER,
	  0.884 },
	{ "with more noise nobody knows", NARROW, A_LINE, { .line = 0.85, .snr = 7 }, KIND_UNKNOWN,
	  0 },
	{ "a single frame neither", NARROW, A_LINE, { .frames = 1, .line = 0.9 }, KIND_UNKNOWN,
	  0.65 },

	{ "noise", NARROW, MODULATED, { .envelope = 0.7, .fill = 0.8 }, KIND_NOISE, 0.99 },
	{ "a few frames of it", NARROW, MODULATED, { .envelope = 0.7, .fill = 0.8, .frames = 8 },
	  KIND_NOISE, 0.807 },
	{ "that does not fill the channel", NARROW, MODULATED, { .envelope = 0.7, .fill = 0.7 },
	  KIND_UNKNOWN, 0 },
	{ "phase keying", NARROW, MODULATED, { .envelope = 0.12, .wander = 0.1, .flatness = 0.6 },
	  KIND_DATA, 0.99 },
	{ "its swing comes and goes", NARROW, MODULATED, { .envelope = 0.16, .wander = 0.14,
	  .flatness = 0.6 },
	  KIND_UNKNOWN, 0 },
	{ "one sideband does not fill it", NARROW,
	  MODULATED, { .envelope = 0.16, .wander = 0.1, .flatness = 0.6, .fill = 0.2 }, KIND_UNKNOWN, 0 },
	{ "two levels", NARROW, MODULATED, { .kurtosis = 1.3, .flatness = 1, .wander = 0.05 },
	  KIND_DATA, 1 },
	{ "voice", NARROW, MODULATED, { .kurtosis = 3.5, .flatness = 0.4, .wander = 0.4 },
	  KIND_NFM, 1 },
	{ "voice by its pauses alone", NARROW, MODULATED, { .wander = 0.3 }, KIND_NFM, 0.995 },
	{ "keyed, in much noise", NARROW, MODULATED, { .kurtosis = 1.8, .snr = 2 }, KIND_DATA,
	  0.6225 },
	{ "a tail with a tone", NARROW, MODULATED, { .kurtosis = 1.3, .swing_hz = 550 },
	  KIND_UNKNOWN, 0.65 },
	{ "a short one", NARROW, MODULATED, { .kurtosis = 1.3, .swing_hz = 550, .frames = 20 },
	  KIND_NFM, 0.65 },
	/* -0.28 - (2.27 + ln(10) / 2) (kurtosis - 2.3): -0.2 and -0.1; +0.2; then bounds of 0.6 + 1.6 n / 40. */
	{ "ten frames that lean to voice", NARROW, MODULATED, { .frames = 10, .kurtosis = 2.2766 }, KIND_NFM, 0.6 },
	{ "that hardly lean", NARROW, MODULATED, { .frames = 10, .kurtosis = 2.2474 }, KIND_UNKNOWN, 0.525 },
	{ "that lean to keying", NARROW, MODULATED, { .frames = 10, .kurtosis = 2.1597 }, KIND_DATA, 0.6 },
	{ "one frame, however plain", NARROW, MODULATED, { .frames = 1, .kurtosis = 4.5 }, KIND_NFM, 0.655 },
	{ "twenty of them", NARROW, MODULATED, { .frames = 20, .kurtosis = 4.5 }, KIND_NFM, 0.802 },
	{ "bare at most visits, not at all", NARROW,
	  MODULATED, { .frames = 20, .visits = 20, .lined = 0.95, .line = 0.99, .depth_sd = 0.01, .wander = 0.4 },
	  KIND_NFM, 0.655 },
};

static struct features features_of(size_t row)
{
	const struct features *f = &rows[row].f;
	struct features out = bases[rows[row].base];

#define SAID(field) out.field = f->field > 0 ? f->field : out.field
	SAID(frames);
	SAID(seconds);
	SAID(visits);
	SAID(snr);
	SAID(lined);
	SAID(broken);
	SAID(line);
	SAID(hopping_hz);
	SAID(depth);
	SAID(depth_sd);
	SAID(envelope);
	SAID(envelope_sd);
	SAID(kurtosis);
	SAID(swing_hz);
	SAID(wander);
	SAID(flatness);
	SAID(fill);
	SAID(width_hz);
	return out;
}

static void what_features_say(void **state)
{
	(void)state;
	for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
		double confidence;
		struct features f = features_of(i);
		enum kind is = features_kind(&f, rows[i].pass_hz, &confidence);
		if (is != rows[i].is || !(fabs(confidence - rows[i].confidence) < 0.003))
			fail_msg("%s: %s, %.4f sure, want %s", rows[i].why, kind_name(is), confidence,
				 kind_name(rows[i].is));
	}
}

/* Laplace's rule again, among all when nearly all are bare, else among those that are not. */
static void what_votes_agree_on(void **state)
{
	static const struct {
		const char  *why;
		struct votes votes;
		enum kind    is;
		double       confidence;
	} words[] = {
		{ "none", { { 0 } }, KIND_UNKNOWN, 0 },
		{ "unknown is no word", { { [KIND_UNKNOWN] = 9 } }, KIND_UNKNOWN, 0 },
		{ "one", { { [KIND_DATA] = 1 } }, KIND_DATA, 2 / 3.0 },
		{ "three alike", { { [KIND_NFM] = 3 } }, KIND_NFM, 0.8 },
		{ "two against one", { { [KIND_NFM] = 2, [KIND_DATA] = 1 } }, KIND_NFM, 0.6 },
		{ "the last of them", { { [KIND_NFM] = 1, [KIND_NOISE] = 2 } }, KIND_NOISE, 0.6 },
		{ "bare", { { [KIND_CARRIER] = 8 } }, KIND_CARRIER, 0.9 },
		{ "3 of 20 are not", { { [KIND_CARRIER] = 17, [KIND_AM] = 3 } }, KIND_CARRIER, 18 / 22.0 },
		{ "4 of 20 are not: the others were pauses", { { [KIND_CARRIER] = 16, [KIND_AM] = 4 } }, KIND_AM, 5 / 6.0 },
	};
	(void)state;

	for (size_t i = 0; i < sizeof words / sizeof words[0]; i++) {
		double confidence;
		enum kind is = votes_kind(&words[i].votes, &confidence);
		if (is != words[i].is || !(fabs(confidence - words[i].confidence) < 1e-6))
			fail_msg("%s: %s, %.4f", words[i].why, kind_name(is), confidence);
	}
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(what_features_say),
		cmocka_unit_test(what_votes_agree_on),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
