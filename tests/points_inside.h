#ifndef BANDCENSUS_TESTS_POINTS_INSIDE_H
#define BANDCENSUS_TESTS_POINTS_INSIDE_H

#include <math.h>
#include <stdbool.h>
#include <stdio.h>
#include <string.h>

#include "tests/points.h"

/* For the files that judge: reading a plan. */

#define RULE(name)  bool point_##name(const struct evidence *e, char words[POINTS_WORDS])
#define HARM(name)  void harm_##name(struct evidence *e)
#define SAY(...)    (snprintf(words, POINTS_WORDS, __VA_ARGS__), false)
#define MEMORIES(plan, i, m) json_array_foreach(json_object_get(plan, "memories"), i, m)

RULE(lands); RULE(no_birdie); RULE(nothing_false); RULE(nothing_endless); RULE(no_data);
RULE(fire_first); RULE(priority); RULE(pairs); RULE(thirds); RULE(modes);
RULE(no_doubles); RULE(room); RULE(promises); RULE(no_chatter); RULE(delays);
RULE(marked); RULE(unknown); RULE(pins); RULE(ranges); RULE(explained);
RULE(one_list); RULE(stable); RULE(sheet); RULE(gaps); RULE(threshold);

HARM(lands); HARM(no_birdie); HARM(nothing_false); HARM(nothing_endless); HARM(no_data);
HARM(fire_first); HARM(priority); HARM(pairs); HARM(thirds); HARM(modes);
HARM(no_doubles); HARM(room); HARM(promises); HARM(no_chatter); HARM(delays);
HARM(marked); HARM(unknown); HARM(pins); HARM(ranges); HARM(explained);
HARM(one_list); HARM(stable); HARM(sheet); HARM(gaps); HARM(threshold);

const char *text_of(const json_t *o, const char *key);          /* "": there is none    */
double number_of(const json_t *o, const char *key);             /* NAN: none            */
double hz_of(const json_t *o, const char *key);                 /* "a" or "a/b"         */
bool is(const json_t *o, const char *key);
bool scanned(const json_t *memory);                             /* not locked           */
bool second_seat(const json_t *memory);
bool urgent(const json_t *memory);                              /* fire and ambulance   */
const char *where(const json_t *memory);        /* "bank 1 slot 2, 154.270000 MHz"      */

/* That lands on that frequency, the first; NULL: none. */
json_t *memory_at(const json_t *plan, double landed_hz);
/* Of the census; NULL: not in it. */
json_t *channel_at(const struct evidence *e, double hz);
/* Why it is left out; "": it is not. */
const char *left_for(const struct evidence *e, double hz);
const struct truth *truth_of(const struct evidence *e);
const struct receiver *receiver_of(const struct evidence *e);

#endif
