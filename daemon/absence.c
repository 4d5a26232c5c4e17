#include "daemon/absence.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "daemon/log.h"

/* Waits before asking a lost source again, in seconds; the last for ever after. */
static const int back_off_s[] = { 1, 2, 5, 10, 30 };

#define TOLD 4                  /* reasons of one absence, at the most: two may take turns */
#define LAST ((int)(sizeof back_off_s / sizeof back_off_s[0]) - 1)

int absence_create(struct absence *a, const struct watch *n, int number, struct ledger *l)
{
	*a = (struct absence){ .n = n, .source = &n->sources[number], .ledger = l };
	a->deaf_hour = calloc((size_t)n->hops->n + 1, sizeof *a->deaf_hour);
	return a->deaf_hour ? 0 : -1;
}

void absence_free(struct absence *a)
{
	free(a->deaf_hour);
}

/* By name only where there are several. */
static const char *name(const struct absence *a)
{
	return a->n->n_sources > 1 ? a->source->about.label : "the source";
}

int64_t absence_lost(struct absence *a, const struct post_time *t, const struct fault *why)
{
	int64_t wait_s = back_off_s[a->tries < LAST ? a->tries : LAST];

	if (a->tries == 0) {
		a->told = 0;
		a->lost_us = t->now_us;
		a->lost_mono = t->now_mono;
	}
	/* Back on its cable it may be in use or forbidden: that needs another remedy. */
	if (a->told == 0 || (a->told < TOLD && strcmp(why->text, a->reason) != 0)) {
		progress_clear(a->n->progress);
		log_line(LOG_WARNING, "source %s lost: %s, trying again",
			 a->told ? "is still" : "is", why->text);
		snprintf(a->reason, sizeof a->reason, "%s", why->text);
		a->told++;
	}
	a->tries++;
	a->asked_us = 0;
	return wait_s * 1000000;
}

void absence_later(struct absence *a, int64_t now_mono)
{
	if (a->asked_us == 0)
		a->asked_us = now_mono;
}

bool absence_is(const struct absence *a, int64_t now_mono, int64_t *away_us)
{
	bool hangs = a->asked_us > 0 && now_mono - a->asked_us > ABSENCE_LATER_US;

	*away_us = a->tries > 0 ? now_mono - a->lost_mono : hangs ? now_mono - a->asked_us : 0;
	return a->tries > 0 || hangs;
}

/* A gain that it does not have is rounded: said once. */
static void tell_gain(struct absence *a, int64_t now_us)
{
	const struct source_about *is = &a->source->about;
	int wanted = (int)lround(a->n->station->gain_db * 10);
	int takes = gain_steps_nearest(&is->gains, wanted);
	char text[120];

	if (takes == a->gain_told || !gain_steps_tell(&is->gains, wanted, text, sizeof text))
		return;
	a->gain_told = takes;
	progress_clear(a->n->progress);
	log_line(LOG_NOTICE, "%s: source=\"%s\"", text, is->label);
	ledger_incident(a->ledger, "gain", now_us, 0, "%s: %s", is->label, text);
}

/* One that was not there had no name, or may be another by now: true. */
static bool ask_name(struct absence *a)
{
	struct source_about now;
	bool other;

	if (!a->source->ops->about)
		return false;
	a->source->ops->about(a->source->source, &now);
	other = strcmp(a->source->about.label, now.label) != 0;
	memcpy(a->source->about.label, now.label, sizeof now.label);
	a->source->about.gains = now.gains;
	return other;
}

bool absence_back(struct absence *a, const struct block *b)
{
	double away_s = (double)(b->start_us - a->lost_us) * 1e-6;
	bool other = a->tries > 0 && ask_name(a);

	if (a->tries > 0 || !a->met)
		tell_gain(a, b->start_us);
	a->met = true;
	a->asked_us = 0;
	if (a->tries == 0)
		return false;
	progress_clear(a->n->progress);
	log_line(LOG_NOTICE, "source is back: away=%.0fs tries=%d source=\"%s\"", away_s, a->tries,
		 a->source->about.label);
	ledger_incident(a->ledger, "lost", a->lost_us, b->start_us, "%s was away for %.0f s",
			name(a), away_s);
	a->tries = 0;
	return other;
}

void absence_deaf(struct absence *a, int hop, int64_t now_us, const struct fault *why)
{
	int64_t hour = now_us / HOUR_US * HOUR_US;

	a->asked_us = 0;
	if (a->deaf_hour[hop] == hour)
		return;
	a->deaf_hour[hop] = hour;
	progress_clear(a->n->progress);
	log_line(LOG_WARNING, "hop is not looked at: %s", why->text);
	ledger_incident(a->ledger, "deaf", now_us, 0, "%s", why->text);
}

void absence_end(struct absence *a, int64_t now_us)
{
	if (a->tries > 0)
		ledger_incident(a->ledger, "lost", a->lost_us, now_us, "%s %s", name(a),
				a->met ? "was lost and did not come back" : "never came");
	a->tries = 0;
}
