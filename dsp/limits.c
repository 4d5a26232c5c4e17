#include "dsp/limits.h"

#include <math.h>

#include "dsp/law.h"

#define CLOSE_PFA     1e-2      /* an open channel stays open at this, or ...             */
#define CLOSE_LESS_DB 1.5       /* ... this far below where it opened, if that is more    */
#define GLANCE_PFA    5e-2      /* slices are worth a look when the whole is this unusual */

/* Of the false alarms asked for, what slices may raise. To what is on all the look a
 * tenth costs 0.03 dB and a half 0.17; bursts of 2 ms need 0.2 dB more with a tenth than
 * with a half, those of 10 ms 0.1 dB less. Without slices 2 ms would need 1.6 dB more. */
#define SLICES_PART   0.1

bool limits_set(struct limits *t, const struct sense *sense, const struct look *like,
		const float *window, int hop_samples, double from, double wide_hz)
{
	double bins = wide_hz / like->bin_hz, margin = pow(10, sense->margin_db / 10);
	struct law whole, slice;

	if (!law_of_noise(&whole, window, like->bins, hop_samples, like->transforms, from, bins) ||
	    !law_of_noise(&slice, window, like->bins, hop_samples, like->slice_transforms, from,
			  bins))
		return false;
	double part = like->slices > 1 ? SLICES_PART : 0;
	t->opens = fmax(law_threshold(&whole, (1 - part) * sense->pfa), margin);
	t->holds = fmax(law_threshold(&whole, CLOSE_PFA), t->opens * pow(10, -CLOSE_LESS_DB / 10));
	t->holds = fmin(t->holds, t->opens);
	/* Where the margin keeps noise out of the whole, slices have it all. */
	double left = fmax(sense->pfa - law_above(&whole, t->opens), part * sense->pfa);
	t->slice_opens =
		part > 0 ? fmax(law_threshold(&slice, left / like->slices), margin) : t->opens;
	t->slice_holds = law_threshold(&slice, CLOSE_PFA);
	t->glance = fmin(law_threshold(&whole, GLANCE_PFA), t->opens);
	return true;
}
