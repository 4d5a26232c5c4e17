#ifndef BANDCENSUS_TESTS_RHYTHM_H
#define BANDCENSUS_TESTS_RHYTHM_H

#include <stdbool.h>

#include "daemon/town/night.h"

/* Whom a survey of the town's night meets, by the truth: three sweeps, then a rest of
 * 90 s, as config/harlow-ferry-night.conf has it. When it begins is chance; so many
 * watches of the same rhythm, begun at other moments, tell what depends on that. */
struct truth {
	const struct night *night;
	int64_t             from_us, to_us;     /* looked between, in the town's time */
};

/* What those watches meet of somebody. */
struct met {
	int    least;           /* spells between rests in which each of them met him, at the least */
	double missed;          /* share that met him never                                 */
};

struct met truth_met(const struct truth *t, const struct emitter *e);

/* Any of them has it: met in two spells or more, or it is a birdie. */
bool truth_requires(const struct truth *t, const struct emitter *e);

/* Where a dongle shows it: birdies count by its crystal, which is corrected for. */
double truth_hz(const struct truth *t, const struct emitter *e);

/* Who may be behind what is seen there: the nearest; NULL: nobody. */
const struct emitter *truth_sender(const struct truth *t, double hz);

/* Somebody strong is near: who keys is seen beside his channel now and then. */
bool truth_strong(const struct truth *t, double hz);

/* Half a step of the widest raster that a birdie stands on. */
#define TRUTH_BIRDIE_HZ 13e3

#endif
