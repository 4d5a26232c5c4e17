#include "daemon/absence.h"

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
		log_line(LOG_WARNING, "source %s lost: %s, trying again", a->told ? "is still" : "is",
			 why->text);
		snprintf(a->reason, sizeof a->reason, "%s", why->text);
		a->told++;
	}
	a->tries++;
	return wait_s * 1000000;
}

void absence_back(struct absence *a, const struct block *b)
{
	double away_s = (double)(b->start_us - a->lost_us) * 1e-6;

	if (a->tries == 0)
		return;
	progress_clear(a->n->progress);
	log_line(LOG_NOTICE, "source is back: away=%.0fs tries=%d source=\"%s\"", away_s, a->tries,
		 a->source->about.label);
	ledger_incident(a->ledger, "lost", a->lost_us, b->start_us, "%s was away for %.0f s", name(a),
			away_s);
	a->tries = 0;
}

void absence_deaf(struct absence *a, int hop, int64_t now_us, const struct fault *why)
{
	int64_t hour = now_us / HOUR_US * HOUR_US;

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
		ledger_incident(a->ledger, "lost", a->lost_us, now_us, "%s was lost and did not come back",
				name(a));
	a->tries = 0;
}
