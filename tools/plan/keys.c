#include "tools/plan/keys.h"

#include <string.h>

#include "tools/plan/words.h"

int keys_entry(const struct keypad *k, const struct memory *m, const struct memory *before)
{
	char typed[FREQ_TEXT];
	int n = (int)strlen(words_typed(m->landing.landed, typed)) + k->enter;

	if (!before || before->mode != m->mode)
		n += k->mode;
	if (!before || before->landing.step.thirds != m->landing.step.thirds)
		n += k->step;
	if (!before || before->delay_us != m->delay_us)
		n += k->delay;
	if (m->locked)
		n += k->lockout;
	if (m->priority)
		n += k->priority;
	return n;
}
