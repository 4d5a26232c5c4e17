#include "tests/test.h"

#include "tests/points_inside.h"

#include <stdlib.h>

#include "store/picture.h"
#include "store/survey.h"

const struct point points[POINTS] = {
	{ "every entry lands on its step, inside the coverage, near enough, and says so", point_lands, harm_lands },
	{ "no entry is a line of the receiver's own", point_no_birdie, harm_no_birdie },
	{ "no entry is an image, a ghost or noise: somebody speaks there", point_nothing_false, harm_nothing_false },
	{ "nothing that never ends is scanned", point_nothing_endless, harm_nothing_endless },
	{ "no data is scanned", point_no_data, harm_no_data },
	{ "fire and ambulance dispatch are in bank 1, fire first", point_fire_first, harm_fire_first },
	{ "one priority channel at most: a voice, on less than 5 % of the time", point_priority, harm_priority },
	{ "outputs are scanned, inputs are not, and each names the other", point_pairs, harm_pairs },
	{ "8.33 kHz channels: AM, 5 kHz steps, the designator shown", point_thirds, harm_thirds },
	{ "aircraft AM, broadcast WFM, the rest NFM", point_modes, harm_modes },
	{ "no two scanned entries land on one frequency, but for declared doubles", point_no_doubles, harm_no_doubles },
	{ "no bank scans more than it may, and each has room left", point_room, harm_room },
	{ "cycle and share heard are told of each set, and come true within 5 points", point_promises, harm_promises },
	{ "what talks without end shares no set with fire", point_no_chatter, harm_no_chatter },
	{ "delays fit the gaps there really are; loops have none", point_delays, harm_delays },
	{ "faint and thinly proven lines are marked, and the hours are told", point_marked, harm_marked },
	{ "services of the day are unknown after a night, not silent", point_unknown, harm_unknown },
	{ "pinned old memories are untouched, and the changes are told slot by slot", point_pins, harm_pins },
	{ "search ranges: ten at most, on their steps, timed, nothing endless inside", point_ranges, harm_ranges },
	{ "each line has count, hours, level, reason and certainty", point_explained, harm_explained },
	{ "all that was heard is in exactly one list", point_one_list, harm_one_list },
	{ "the same input gives the same bytes; one more quiet night moves no slot", point_stable, harm_stable },
	{ "the sheet fits its pages, counts its keys, and shows what the display will", point_sheet, harm_sheet },
	{ "where nobody listened is not looked at, nor quiet", point_gaps, harm_gaps },
	{ "6 dB more squelch only removes or marks lines", point_threshold, harm_threshold },
};

/* ---- reading ---- */

const char *text_of(const json_t *o, const char *key)
{
	const char *text = json_string_value(json_object_get(o, key));
	return text ? text : "";
}

double number_of(const json_t *o, const char *key)
{
	const json_t *v = json_object_get(o, key);
	return json_is_number(v) ? json_number_value(v) : NAN;
}

double hz_of(const json_t *o, const char *key)
{
	char *end;
	double hz = strtod(text_of(o, key), &end);

	/* Told to a thousandth, exact to a third. */
	return *end == '/' ? hz / strtod(end + 1, NULL) : round(3 * hz) / 3;
}

bool is(const json_t *o, const char *key)
{
	return json_is_true(json_object_get(o, key));
}

bool scanned(const json_t *memory)
{
	return !is(memory, "locked");
}

bool second_seat(const json_t *memory)
{
	return json_is_object(json_object_get(memory, "same_as"));
}

bool urgent(const json_t *memory)
{
	const char *service = text_of(memory, "service");
	return strcmp(service, "fire") == 0 || strcmp(service, "ems") == 0 || strcmp(service, "rescue") == 0;
}

const char *where(const json_t *memory)
{
	static char text[2][80];
	static int turn;

	turn = !turn;
	snprintf(text[turn], sizeof text[turn], "bank %g slot %g, %.6f MHz", number_of(memory, "bank"),
		 number_of(memory, "slot"), hz_of(memory, "landed_hz") / 1e6);
	return text[turn];
}

json_t *memory_at(const json_t *plan, double landed_hz)
{
	json_t *m;
	size_t i;

	MEMORIES(plan, i, m)
		if (fabs(hz_of(m, "landed_hz") - landed_hz) < 1)
			return m;
	return NULL;
}

json_t *channel_at(const struct evidence *e, double hz)
{
	json_t *ch;
	size_t i;

	json_array_foreach(e->channels, i, ch)
		if (fabs(hz_of(ch, "frequency_hz") - hz) < 1)
			return ch;
	return NULL;
}

const char *left_for(const struct evidence *e, double hz)
{
	json_t *left;
	size_t i;

	json_array_foreach(json_object_get(e->plan, "left_out"), i, left)
		if (fabs(hz_of(left, "frequency_hz") - hz) < 1)
			return text_of(left, "reason");
	return "";
}

const struct truth *truth_of(const struct evidence *e)
{
	return e->of->truth[e->run];
}

const struct receiver *receiver_of(const struct evidence *e)
{
	return &e->of->receiver[e->receiver];
}

/* ---- gathering ---- */

static char *whole(const char *path)
{
	FILE *f = fopen(path, "r");
	char *text = calloc(1, 1 << 20);

	assert_true(f && text);
	text[fread(text, 1, (1 << 20) - 1, f)] = '\0';
	fclose(f);
	return text;
}

/* The first 18 minutes it warmed up, and at night from 02:11 to 02:13 the dongle was away. */
static void dark_minutes(struct evidence *e)
{
	static const int spans[2][2] = { { 0, 18 }, { 371, 373 } };
	const struct band *band;
	char path[300];
	struct fault why;

	snprintf(path, sizeof path, "%s/%s.survey", e->of->folder, proof_runs[e->run].name);
	struct survey *s = survey_read(path, &why);
	assert_non_null(s);
	int n = survey_bands(s, &band);
	bool night = strcmp(proof_runs[e->run].name, "day") != 0;
	for (int b = 0; b < n; b++)
		for (int k = 0; k < (night ? 2 : 1); k++) {
			int minutes = spans[k][1] - spans[k][0];
			int cells = minutes * band[b].raster.count;
			int64_t from = e->of->start_us[e->run] + spans[k][0] * STRIP_MINUTE_US;
			uint8_t *cell = calloc((size_t)cells, 1);
			assert_non_null(cell);
			assert_int_equal(picture_read(s, b, from, from + minutes * STRIP_MINUTE_US, STRIP_MINUTE_US,
						      cell, NULL, &why), 0);
			for (int i = 0; i < cells; i++)
				e->dark_looked += cell[i] != STRIP_NOT_LOOKED;
			e->dark += cells;
			free(cell);
		}
	survey_close(s);
}

struct evidence evidence_gather(const struct proof *p, int run, int receiver)
{
	struct evidence e = { .of = p, .run = run, .receiver = receiver };
	const char *name = proof_runs[run].name, *set = proof_for(receiver);
	char more[600], later[40];

	e.plan = proof_json(p, "plan", name, set);
	e.again = proof_json(p, "plan", name, set);
	snprintf(more, sizeof more, "%s --squelch 12", set);
	e.louder = proof_json(p, "plan", name, more);
	snprintf(more, sizeof more, "%s --memories '%s/old.csv'", set, p->folder);
	e.old = proof_json(p, "plan", name, more);
	snprintf(later, sizeof later, "%s-later", name);
	e.later = proof_json(p, "plan", later, set);
	e.channels = proof_json(p, "channels", name, "");
	e.sheet = whole(proof_told(p, "plan", name, set));
	dark_minutes(&e);
	return e;
}

struct evidence evidence_copy(const struct evidence *e)
{
	struct evidence c = *e;

	c.plan = json_deep_copy(e->plan);
	c.channels = json_deep_copy(e->channels);
	c.again = json_deep_copy(e->again);
	c.later = json_deep_copy(e->later);
	c.louder = json_deep_copy(e->louder);
	c.old = json_deep_copy(e->old);
	c.sheet = strdup(e->sheet);
	return c;
}

void evidence_free(struct evidence *e)
{
	json_decref(e->plan);
	json_decref(e->channels);
	json_decref(e->again);
	json_decref(e->later);
	json_decref(e->louder);
	json_decref(e->old);
	free(e->sheet);
}
