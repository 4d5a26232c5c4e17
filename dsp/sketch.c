#include "dsp/sketch.h"

#include <complex.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "dsp/density.h"
#include "dsp/spectrum.h"

#define FRAME    SKETCH_FRAME
#define SPAN     2              /* Hann's main lobe: bins on either side of a line        */
#define SMOOTH   4              /* samples over which a frequency is measured             */
#define FAINT    1.5            /* frames below this SNR tell nothing                     */
#define BROKEN   2.5            /* halves of a frame that differ so much in power         */
#define LINED    0.5            /* share of the power in one line                         */
#define STEPS    160            /* of the histogram of frequencies, over the whole rate   */
#define SHADES   120            /* of the histogram of amplitudes                         */
#define BRIGHT   3.0            /* its top, in carrier amplitudes                         */
#define FLOOR_OFF 0.05          /* how far the noise told may be off, relative            */

/* Sums over frames of one sort. */
struct pile {
	int    frames;
	double line, envelope, swing, swing2;
	double offset;
	double last, steps;     /* lined: where it last was; squares of the steps from there */
};

enum { MIDDLE = FRAME / 2, STEPS_BELOW = STEPS / 2 };   /* the bin at zero; steps below it */

struct sketch {
	struct spectrum *spectrum;
	bool             borrowed;      /* the spectrum                                  */
	double           rate_hz, pass_hz, noise_hz;
	double           noise_swing;   /* variance of the frequency at an SNR of 1      */
	int              edge;          /* bins from the middle to the channel's edge    */
	float complex    frame[FRAME];
	int              held;
	int              faint, broken, visits;
	bool             visited;       /* the present stretch is one of the visits      */
	double           power, noise;  /* sums over frames; noise of the filtered       */
	struct pile      lined, other;
	double           all_psd[FRAME], other_psd[FRAME];
	double           other_noise, other_power;
	uint32_t         step[STEPS], shade[SHADES];
};

struct sketch *sketch_create(const struct sketch *like)
{
	struct sketch *s = calloc(1, sizeof *s);
	if (!s)
		return NULL;
	s->borrowed = like != NULL;
	s->spectrum = like ? like->spectrum : spectrum_create(FRAME, FRAME, WINDOW_HANN, 0);
	if (s->spectrum) {
		sketch_reset(s, 25000, 10000, 10000);
		return s;
	}
	sketch_destroy(s);
	return NULL;
}

void sketch_destroy(struct sketch *s)
{
	if (s && !s->borrowed)
		spectrum_destroy(s->spectrum);
	free(s);
}

/* Noise n beside a carrier of amplitude a turns its phase by Im(n)/a, so the spectrum of
 * the frequency's noise rises with f squared up to the filter's edge and is then smoothed
 * (Rice 1948, from memory). */
static double noise_swing(double rate_hz, double noise_hz)
{
	double sum = 0, steps = 200;

	for (int i = 0; i < steps; i++) {
		double f = noise_hz * ((i + 0.5) / steps - 0.5), x = M_PI * f / rate_hz;
		double smooth = sin(SMOOTH * x) / (SMOOTH * sin(x));
		sum += f * f * smooth * smooth / steps;
	}
	return sum / 2;
}

void sketch_reset(struct sketch *s, double rate_hz, double pass_hz, double noise_hz)
{
	*s = (struct sketch){ .spectrum = s->spectrum, .borrowed = s->borrowed, .rate_hz = rate_hz,
			      .pass_hz = pass_hz, .noise_hz = noise_hz };
	s->noise_swing = noise_swing(rate_hz, noise_hz);
	s->edge = (int)fmin(0.5 * pass_hz / rate_hz * FRAME, MIDDLE - SPAN - 1);
}

/* Frequency by frequency, where there was power enough to tell. Returns their number. */
static int frequencies(const struct sketch *s, double mean, double *hz)
{
	const float complex *x = s->frame;
	int n = 0;

	for (int i = 0; i + SMOOTH < FRAME; i++) {
		float complex sum = 0;
		for (int k = i; k < i + SMOOTH; k++)
			sum += x[k + 1] * conjf(x[k]);
		if (cabsf(sum) > 0.3 * SMOOTH * mean)
			hz[n++] = cargf(sum) * s->rate_hz / (2 * M_PI);
	}
	return n;
}

static void count_frequencies(struct sketch *s, double mean, double noise_part)
{
	double hz[FRAME], sum = 0, square = 0;
	int n = frequencies(s, mean, hz);

	for (int i = 0; i < n; i++) {
		int at = (int)((hz[i] / s->rate_hz + 0.5) * STEPS);
		s->step[at < 0 ? 0 : at >= STEPS ? STEPS - 1 : at]++;
		sum += hz[i] / n;
		square += hz[i] * hz[i] / n;
	}
	double var = fmax(square - sum * sum - s->noise_swing * noise_part, 0);
	s->other.offset += sum;
	s->other.swing += sqrt(var);
	s->other.swing2 += var;
}

static void count_amplitudes(struct sketch *s, double carrier)
{
	for (int i = 0; i < FRAME; i++) {
		int at = (int)(cabsf(s->frame[i]) / carrier * (SHADES / BRIGHT));
		s->shade[at >= SHADES ? SHADES - 1 : at]++;
	}
}

/* Power of the strongest line within the channel, less the noise beneath it. */
static double strongest(const struct sketch *s, const float *psd, double noise, int *best)
{
	double power = -(2 * SPAN + 1) * noise;

	*best = MIDDLE;
	for (int k = MIDDLE - s->edge; k <= MIDDLE + s->edge; k++)
		if (psd[k] > psd[*best])
			*best = k;
	for (int k = *best - SPAN; k <= *best + SPAN; k++)
		power += psd[k];
	return power;
}

/* Where in the bins the line is, by the two strongest of them: Hann's own ratio. */
static double line_hz(const struct sketch *s, const float *psd, int best)
{
	double left = sqrt(psd[best - 1]), mid = sqrt(psd[best]), right = sqrt(psd[best + 1]);
	double ratio = fmax(left, right) / fmax(mid, 1e-30);
	double off = (2 * ratio - 1) / (1 + ratio) * (right > left ? 1 : -1);

	return (best - MIDDLE + off) * s->rate_hz / FRAME;
}

static void add_frame(struct sketch *s, double power, double envelope, double noise)
{
	struct block b = { .iq = s->frame, .format = SAMPLE_CF32, .n = FRAME };
	float psd[FRAME] = { 0 };
	double bin_noise = noise * s->rate_hz / FRAME, n0 = noise * s->noise_hz;
	int best;

	spectrum_add(s->spectrum, &b, 0, 1, 0, psd);
	double line = strongest(s, psd, bin_noise, &best);
	bool lined = line > LINED * power;
	struct pile *p = lined ? &s->lined : &s->other;
	p->frames++;
	p->line += line / power;
	p->envelope += envelope;
	if (lined) {
		double hz = line_hz(s, psd, best), step = p->frames > 1 ? hz - p->last : 0;
		p->offset += hz;
		p->steps += step * step;
		p->last = hz;
		count_amplitudes(s, sqrt(line));
	} else {
		count_frequencies(s, power + n0, n0 / power);
		s->other_noise += bin_noise;
		s->other_power += power;
	}
	for (int k = 0; k < FRAME; k++) {
		s->all_psd[k] += psd[k];
		if (!lined)
			s->other_psd[k] += psd[k];
	}
	s->power += power;
	s->noise += n0;
	s->visits += !s->visited;
	s->visited = true;
}

static void frame(struct sketch *s, double noise)
{
	double half[2] = { 0 }, square = 0, n0 = noise * s->noise_hz;

	for (int i = 0; i < FRAME; i++) {
		double re = crealf(s->frame[i]), im = cimagf(s->frame[i]), q = re * re + im * im;
		half[i >= FRAME / 2] += q / MIDDLE;
		square += q * q / FRAME;
	}
	double mean = (half[0] + half[1]) / 2, power = mean - n0;
	double high = fmax(half[0], half[1]) - n0, low = fmin(half[0], half[1]) - n0;
	if (power < FAINT * n0 || power <= 0)
		s->faint++;
	else if (high > BROKEN * low)
		s->broken++;
	else
		add_frame(s, power, (square - mean * mean - n0 * n0 - 2 * n0 * power) /
			  (power * power), noise);
}

void sketch_feed(struct sketch *s, const float complex *x, size_t n, double noise)
{
	for (size_t i = 0; i < n; i++) {
		s->frame[s->held++] = x[i];
		if (s->held < FRAME)
			continue;
		frame(s, noise);
		s->held = 0;
	}
}

void sketch_cut(struct sketch *s)
{
	s->held = 0;
}

void sketch_apart(struct sketch *s)
{
	s->held = 0;
	s->visited = false;
}

static void take_spectrum(const struct sketch *s, struct features *f)
{
	double bin = s->rate_hz / FRAME, noise = s->noise / s->noise_hz * bin;
	int from = MIDDLE - s->edge, to = MIDDLE + s->edge;

	double low = density_quantile(s->all_psd, from, to, noise, 0.005);
	double high = density_quantile(s->all_psd, from, to, noise, 0.995);
	f->width_hz = (high - low) * bin;
	f->width_26db_hz = density_width_26db(s->all_psd, from, to, noise) * bin;
	f->offset_hz = (density_quantile(s->all_psd, from, to, noise, 0.5) - MIDDLE) * bin;
	f->fill = density_flatness(s->all_psd, from, to, noise, f->frames);
	if (s->other.frames == 0)
		return;
	/* Of those that are modulated, their own middle: half of 99 % of their power. */
	low = density_quantile(s->other_psd, from, to, s->other_noise, 0.005);
	high = density_quantile(s->other_psd, from, to, s->other_noise, 0.995);
	double centre = (low + high) / 2, reach = fmax((high - low) / 4, 8);
	low = fmax(centre - reach, from);
	high = fmin(centre + reach, to);
	f->flatness = density_flatness(s->other_psd, (int)ceil(low), (int)high, s->other_noise,
			       s->other.frames);
}

static void take_frequency(const struct sketch *s, struct features *f)
{
	double all = 0, mean = 0, var = 0, fourth = 0, step = s->rate_hz / STEPS;
	double v =
		s->noise_swing * s->other_noise / s->other_power * s->noise_hz * FRAME / s->rate_hz;

	for (int i = 0; i < STEPS; i++) {
		all += s->step[i];
		mean += s->step[i] * (i + 0.5 - STEPS_BELOW);
	}
	if (all == 0)
		return;
	mean /= all;
	for (int i = 0; i < STEPS; i++) {
		double d = i + 0.5 - STEPS_BELOW - mean;
		var += s->step[i] * d * d / all;
		fourth += s->step[i] * d * d * d * d / all;
	}
	/* Noise adds its own moments: that of a normal variable's fourth is 3 v^2. */
	v = fmin(v / (step * step), 0.8 * var);
	fourth -= 6 * v * (var - v) + 3 * v * v;
	var -= v;
	f->kurtosis = fmax(fourth, 0) / (var * var);
	f->swing_hz = sqrt(var) * step;
	double swing = s->other.swing / s->other.frames;
	f->wander = sqrt(fmax(s->other.swing2 / s->other.frames / (swing * swing + 1e-30) - 1, 0));
	f->offset_hz = s->other.offset / s->other.frames;
	double high = density_count_quantile(s->step, STEPS, 0.9975) -
		      density_count_quantile(s->step, STEPS, 0.0025);
	f->deviation_hz = step * sqrt(fmax(high * high / 4 - 2.8 * 2.8 * v, 0));
}

/* Spread of the power's variance, of noise beside a line and of noise by itself: of a
 * frame so many samples are independent; and what a floor told wrong adds. */
static double envelope_sd(const struct sketch *s, int frames, double snr)
{
	double own = 1 / (snr * snr) + 2 / snr;

	own *= sqrt(3 * s->rate_hz / ((double)FRAME * frames * s->noise_hz));
	return hypot(own, 2 * FLOOR_OFF / snr);
}

static void take_line(const struct sketch *s, struct features *f)
{
	double n = s->lined.frames;

	f->line = s->lined.line / n;
	f->depth = s->lined.envelope / n;
	f->hopping_hz = n > 1 ? sqrt(s->lined.steps / (2 * (n - 1))) : 0;
	f->depth_sd = envelope_sd(s, s->lined.frames, f->snr);
	double high = density_count_quantile(s->shade, SHADES, 0.995),
	       low = density_count_quantile(s->shade, SHADES, 0.005);
	f->am_depth = fmin((high - low) / (high + low), 1);
	if (s->lined.frames > s->other.frames)
		f->offset_hz = s->lined.offset / n;
}

void sketch_take(const struct sketch *s, struct features *out)
{
	int seen = s->lined.frames + s->other.frames;

	*out = (struct features){ .frames = seen, .seconds = seen * FRAME / s->rate_hz,
				  .visits = s->visits };
	out->broken = (double)s->broken / fmax(seen + s->broken, 1);
	if (seen == 0)
		return;
	out->snr = s->power / fmax(s->noise, 1e-30);
	out->lined = (double)s->lined.frames / seen;
	take_spectrum(s, out);
	if (s->other.frames) {
		out->envelope = s->other.envelope / s->other.frames;
		out->envelope_sd = envelope_sd(s, s->other.frames, out->snr);
		take_frequency(s, out);
	}
	if (s->lined.frames)
		take_line(s, out);
}
