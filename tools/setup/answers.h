#ifndef BANDCENSUS_TOOLS_SETUP_ANSWERS_H
#define BANDCENSUS_TOOLS_SETUP_ANSWERS_H

#include "store/bandplan.h"
#include "tools/plan/interests.h"
#include "tools/plan/receiver.h"
#include "tools/setup/ask.h"

/* What a newcomer says of place, taste, antenna and receiver. */

#define ANTENNA_MOST 16

struct answers {
	const char       *shipped;      /* folder of the files that come along         */
	char              station[64];
	char              plan_path[4096];
	struct bandplan   plan;
	struct interests  interests;    /* presets, with what was said                 */
	struct { double low_mhz, high_mhz; } antenna[ANTENNA_MOST];
	int               antennas;     /* stretches that it is good for; 0: everything */
	char              receiver_path[4096];  /* "": described, see below             */
	char             *receiver_text;        /* the profile, owned                   */
};

/* Each takes one answer, for ask; self is struct answers. In this order: a name; "europe" or a
 * file; "fire 10, rail 8" or "as they are"; "118-470 MHz" or "all"; "400", "mine" or a file. */
int answers_station(void *self, const char *answer, struct fault *why);
int answers_region(void *self, const char *answer, struct fault *why);
int answers_interests(void *self, const char *answer, struct fault *why);
int answers_antenna(void *self, const char *answer, struct fault *why);
int answers_receiver(void *self, const char *answer, struct fault *why);

/* What answers_interests is asked about: services of the plan with their weights, one a line. */
void answers_show_services(FILE *to, const struct answers *a);

/* Whether it would be surveyed: its middle is in the antenna's reach, and its service matters. */
bool answers_wants(const struct answers *a, const struct band *b);

/* Of the two shipped plans the likelier one by this computer's time zone. */
const char *answers_region_preset(void);

void answers_free(struct answers *a);

/* Asks for a receiver field by field of its settings' table, and makes receiver_text of it. */
int describe_receiver(const struct asker *k, struct answers *a, struct fault *why);

/* "118-137 MHz": -1 when it is no stretch. Goes past it and a comma behind it. */
int answers_stretch(const char **text, double *low_mhz, double *high_mhz);

#endif
