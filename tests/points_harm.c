#include "tests/test.h"

#include "tests/points_inside.h"

#include <stdlib.h>

/* One harm for each point: what a planner that does not keep it might hand out. */

static json_t *memories(const struct evidence *e)
{
	return json_object_get(e->plan, "memories");
}

static json_t *first(const struct evidence *e)
{
	return json_array_get(memories(e), 0);
}

static void set_text(json_t *o, const char *key, const char *text)
{
	assert_int_equal(json_object_set_new(o, key, json_string(text)), 0);
}

static void set_number(json_t *o, const char *key, double v)
{
	assert_int_equal(json_object_set_new(o, key, json_real(v)), 0);
}

/* A scanned entry more, behind the last or in bank 1, like the first but for its frequency. */
static json_t *add(json_t *plan, const char *hz, const char *mode, bool bank_1)
{
	json_t *all = json_object_get(plan, "memories");
	json_t *last = json_array_get(all, json_array_size(all) - 1), *m = json_deep_copy(json_array_get(all, 0));

	set_text(m, "frequency_hz", hz);
	set_text(m, "landed_hz", hz);
	set_text(m, "step_hz", "5000");
	set_text(m, "mode", mode);
	set_number(m, "error_hz", 0);
	json_object_set_new(m, "locked", json_false());
	json_object_set_new(m, "priority", json_false());
	json_object_set_new(m, "same_as", json_null());
	set_text(m, "service", "business");
	json_object_set_new(m, "slot", json_integer(99));
	if (!bank_1)
		json_object_set(m, "bank", json_object_get(last, "bank"));
	assert_int_equal(json_array_append_new(all, m), 0);
	return m;
}

HARM(lands) { set_text(first(e), "landed_hz", "154236000"); }
HARM(no_birdie) { add(e->plan, "144005000", "NFM", false); }
HARM(nothing_false) { add(e->plan, "146800000", "NFM", false); }
HARM(nothing_endless) { add(e->plan, "162425000", "NFM", false); }
HARM(no_data) { add(e->plan, "460537500", "NFM", false); }
HARM(fire_first) { json_object_set_new(memory_at(e->plan, 154.235e6), "bank", json_integer(3)); }
HARM(thirds) { set_text(add(e->plan, "363925000/3", "AM", false), "name", "probably aircraft"); }
HARM(modes) { set_text(first(e), "mode", "AM"); }
HARM(no_doubles) { add(e->plan, text_of(first(e), "landed_hz"), "NFM", true); }
HARM(no_chatter) { add(e->plan, "452325000", "NFM", true); }
HARM(delays) { set_number(first(e), "delay_s", 1.234); }
HARM(explained) { set_text(first(e), "evidence", "heard"); }
HARM(one_list) { json_array_remove(json_object_get(e->plan, "left_out"), 0); }
HARM(gaps) { e->dark_looked = 1; }
HARM(threshold) { add(e->louder, "150000000", "NFM", false); }

HARM(pairs)
{
	json_t *in = memory_at(e->plan, 465137500);

	if (in)
		json_object_set_new(in, "locked", json_false());
	else
		add(e->plan, "465137500", "NFM", false);
}

HARM(priority)
{
	add(e->plan, "155235000", "NFM", false);
	add(e->plan, "460137500", "NFM", false);
	for (size_t i = 1; i < 3; i++)
		json_object_set_new(json_array_get(memories(e), json_array_size(memories(e)) - i), "priority",
				    json_true());
}

HARM(room)
{
	for (int i = 0; i < 30; i++)
		add(e->plan, "155235000", "NFM", true);
}

HARM(promises)
{
	set_number(json_array_get(json_object_get(e->plan, "sets"), 0), "overs_heard", 0.01);
}

HARM(marked)
{
	set_number(channel_at(e, hz_of(first(e), "frequency_hz")), "level_db", 5);
}

HARM(unknown)
{
	*strstr(e->sheet, "Not looked at is not quiet") = 'n';
}

HARM(pins)
{
	json_object_set_new(memory_at(e->old, proof_old[0].hz), "slot", json_integer(39));
}

HARM(ranges)
{
	json_t *range = json_array_get(json_object_get(e->plan, "search_ranges"), 0);

	set_number(range, "sweep_s", number_of(range, "sweep_s") + 1);
}

HARM(stable)
{
	json_t *m = json_array_get(json_object_get(e->later, "memories"), 1);

	json_object_set_new(m, "slot", json_integer(40));
}

/* The second figure of a memory's line is what the display shows. */
HARM(sheet)
{
	char *at = strstr(e->sheet, "\n  [ ] ");

	assert_non_null(at);
	at = strchr(at + 12, '.');
	at = strchr(at + 1, '.');
	at[1] = at[1] == '9' ? '8' : '9';
}
