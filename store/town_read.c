#include "store/town.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "store/settings.h"

static const char *const kinds[] = { "town", NULL };
static const char *const kind_names[] = { "unknown", "carrier", "am", "nfm", "wfm", "data", "noise",
	NULL };
static const char *const mode_names[] = { "none", "AM", "NFM", "WFM", NULL };
static const char *const length_names[] = { "exponential", "lognormal", "fixed", NULL };
static const char *const event_names[] = { "only", "rate", "over", "noise", "clicks", "lost",
	"clock", NULL };

/* The file as read; then made into a town. */
struct draft {
	char        kind[16], name[64], start[32];
	int64_t     length_us, retune_us, warm_up_us;
	double      noise_dbm, error_ppm, crystal_ppm, cold_ppm, warm_ppm;
	struct rows by_role[SENDER_COUNT];       /* struct emitter, in the order of enum sender */
	struct rows events;
};

#define AT(member) offsetof(struct emitter, member)

#define NAMED \
	{ .name = "name", .type = FIELD_TEXT, .at = AT(name), .size = 48, \
	  .help = "Who is heard." }, \
	{ .name = "frequency", .type = FIELD_FREQ, .at = AT(frequency), .min = 1e6, .max = 2e9, \
	  .help = "Exact." }, \
	{ .name = "level", .type = FIELD_NUMBER, .at = AT(level_dbm), .min = -150, .max = 10, \
	  .unit = "dBm", \
	  .help = "Median at the antenna socket." }

#define SHAPED(usual_mode, usual_kind, usual_width) \
	{ .name = "mode", .type = FIELD_CHOICE, .at = AT(mode), .preset = (usual_mode), \
	  .choices = mode_names, \
	  .help = "What a receiver would be set to." }, \
	{ .name = "kind", .type = FIELD_CHOICE, .at = AT(kind), .preset = (usual_kind), \
	  .choices = kind_names, \
	  .help = "What is sent." }, \
	{ .name = "width", .type = FIELD_FREQ, .at = AT(width), .min = 1, .max = 1e6, \
	  .preset = (usual_width), \
	  .help = "Occupied width." }, \
	{ .name = "symbols", .type = FIELD_INT, .at = AT(symbols), .min = 2, .max = 4, \
	  .preset = "2", \
	  .help = "Frequencies that data is keyed between, 2 or 4." }, \
	{ .name = "busy", .type = FIELD_TEXT, .at = AT(busy), .size = 48, .preset = "00-24", \
	  .help = "Busy hours, local time." }, \
	{ .name = "spread", .type = FIELD_NUMBER, .at = AT(spread_db), .max = 20, \
	  .preset = "0 dB", .unit = "dB", \
	  .help = "Of the level from over to over, one sigma." }, \
	{ .name = "wander", .type = FIELD_NUMBER, .at = AT(wander_hz), .max = 1e6, \
	  .preset = "0 Hz", .unit = "Hz", \
	  .help = "Random walk between limits this far off." }

static const struct field emitter_fields[] = {
	NAMED,
	SHAPED("NFM", "nfm", "11 kHz"),
	{ .name = "service", .type = FIELD_TEXT, .at = AT(service), .size = 24,
	  .help = "Who uses it." },
	{ .name = "step", .type = FIELD_FREQ, .at = AT(step), .preset = "0 Hz",
	  .help = "Its raster's step." },
	{ .name = "tone", .type = FIELD_NUMBER, .at = AT(tone_hz), .max = 300, .preset = "0 Hz",
	  .unit = "Hz",
	  .help = "Sub-audible tone; 0: none." },
	{ .name = "over", .type = FIELD_DURATION, .at = AT(over_us), .max = 86400, .preset = "0 s",
	  .help = "Mean length of one over." },
	{ .name = "gap", .type = FIELD_DURATION, .at = AT(gap_us), .max = 86400, .preset = "0 s",
	  .help = "Mean silence between the overs of one exchange." },
	{ .name = "rate", .type = FIELD_NUMBER, .at = AT(rate), .max = 36000, .preset = "0",
	  .unit = "",
	  .help = "Mean overs in each busy hour." },
	{ .name = "exchange", .type = FIELD_NUMBER, .at = AT(exchange), .min = 1, .max = 1000,
	  .preset = "1",
	  .unit = "", .help = "Mean overs in one exchange." },
	{ .name = "quiet", .type = FIELD_NUMBER, .at = AT(quiet), .max = 1, .preset = "0.15",
	  .unit = "",
	  .help = "Share of the busy rate at other hours." },
	{ .name = "lengths", .type = FIELD_CHOICE, .at = AT(lengths), .preset = "exponential",
	  .choices = length_names, .help = "How over lengths are spread." },
	{ .name = "hang", .type = FIELD_DURATION, .at = AT(hang_us), .max = 60, .preset = "0 s",
	  .help = "A repeater's carrier stays this long after talk." },
	{ .name = "period", .type = FIELD_DURATION, .at = AT(period_us), .max = 86400,
	  .preset = "0 s",
	  .help = "Overs at a fixed period instead." },
	{ .name = "continuous", .type = FIELD_BOOL, .at = AT(continuous), .preset = "false",
	  .help = "On without a break in busy hours." },
	{ .name = "weekdays", .type = FIELD_BOOL, .at = AT(weekdays), .preset = "false",
	  .help = "Silent on Saturday and Sunday." },
	{ .name = "input_of", .type = FIELD_TEXT, .at = AT(parent), .size = 48, .preset = "",
	  .help = "The repeater whose talkers key this." },
	{ .name = "answers", .type = FIELD_TEXT, .at = AT(answers_to), .size = 48, .preset = "",
	  .help = "The station in whose gaps this talks." },
	{ .name = "chance", .type = FIELD_NUMBER, .at = AT(chance), .max = 1, .preset = "1",
	  .unit = "",
	  .help = "Share of the other's overs that bring one here." },
	{ .name = "drift", .type = FIELD_NUMBER, .at = AT(drift_hz), .min = -1e5, .max = 1e5,
	  .preset = "0 Hz",
	  .unit = "Hz", .help = "Drift of the frequency in an hour." },
	{ 0 }
};

static const struct field birdie_fields[] = {
	NAMED,
	{ .name = "width", .type = FIELD_FREQ, .at = AT(width), .min = 1, .max = 1e6,
	  .preset = "50 Hz",
	  .help = "Occupied width." },
	{ .name = "kind", .type = FIELD_CHOICE, .at = AT(kind), .preset = "carrier",
	  .choices = kind_names,
	  .help = "What it looks like." },
	{ 0 }
};

static const struct field noise_fields[] = {
	NAMED,
	SHAPED("none", "noise", "4 kHz"),
	{ 0 }
};

static const struct field ghost_fields[] = {
	NAMED,
	SHAPED("NFM", "data", "20 kHz"),
	{ .name = "twice", .type = FIELD_TEXT, .at = AT(parent), .size = 48,
	  .help = "The parent counted twice." },
	{ .name = "less", .type = FIELD_TEXT, .at = AT(other), .size = 48,
	  .help = "The parent taken off." },
	{ 0 }
};

#undef AT
#define AT(member) offsetof(struct event, member)

static const struct field event_fields[] = {
	{ .name = "what", .type = FIELD_CHOICE, .at = AT(what), .choices = event_names,
	  .help = "What happens." },
	{ .name = "from", .type = FIELD_TEXT, .at = AT(from), .size = 8,
	  .help = "Local time, \"21:40\"." },
	{ .name = "until", .type = FIELD_TEXT, .at = AT(until), .size = 8, .preset = "",
	  .help = "Local time." },
	{ .name = "emitter", .type = FIELD_TEXT, .at = AT(emitter), .size = 48, .preset = "",
	  .help = "Whose." },
	{ .name = "factor", .type = FIELD_NUMBER, .at = AT(factor), .max = 100, .preset = "1",
	  .unit = "",
	  .help = "rate: times the usual." },
	{ .name = "per_minute", .type = FIELD_NUMBER, .at = AT(per_minute), .max = 600,
	  .preset = "0", .unit = "",
	  .help = "clicks: how many." },
	{ .name = "rise", .type = FIELD_NUMBER, .at = AT(rise_db), .max = 60, .preset = "0 dB",
	  .unit = "dB",
	  .help = "noise, clicks: over the usual noise." },
	{ .name = "low", .type = FIELD_FREQ, .at = AT(low), .preset = "0 Hz",
	  .help = "noise: from here." },
	{ .name = "high", .type = FIELD_FREQ, .at = AT(high), .preset = "0 Hz",
	  .help = "noise: to here." },
	{ .name = "step", .type = FIELD_NUMBER, .at = AT(step_s), .min = -3600, .max = 3600,
	  .preset = "0 s",
	  .unit = "s", .help = "clock: + sets it on, - back." },
	{ 0 }
};

#undef AT
#define AT(member) offsetof(struct draft, member)

const struct field town_fields[] = {
	{ .name = "kind", .type = FIELD_TEXT, .at = AT(kind), .size = 16, .choices = kinds,
	  .help = "What this file is: town." },
	{ .name = "name", .type = FIELD_TEXT, .at = AT(name), .size = 64, .help = "Of the place." },
	{ .name = "start", .type = FIELD_TEXT, .at = AT(start), .size = 32,
	  .help = "When the night begins; local time is UTC." },
	{ .name = "length", .type = FIELD_DURATION, .at = AT(length_us), .min = 1, .max = 86400,
	  .help = "Of the night." },
	{ .name = "retune", .type = FIELD_DURATION, .at = AT(retune_us), .max = 1,
	  .preset = "15 ms",
	  .help = "What a change of tuning costs." },
	{ .name = "noise", .type = FIELD_NUMBER, .at = AT(noise_dbm), .min = -150, .max = -50,
	  .unit = "dBm",
	  .help = "In 12.5 kHz at the antenna socket." },
	{ .name = "transmitter_error", .type = FIELD_NUMBER, .at = AT(error_ppm), .max = 100,
	  .preset = "0.5 ppm", .unit = "ppm", .help = "One sigma." },
	{ .name = "crystal", .type = FIELD_NUMBER, .at = AT(crystal_ppm), .min = -200, .max = 200,
	  .unit = "ppm",
	  .help = "Error of the dongle's crystal; + is high." },
	{ .name = "cold", .type = FIELD_NUMBER, .at = AT(cold_ppm), .min = -100, .max = 100,
	  .preset = "0 ppm",
	  .unit = "ppm", .help = "Added when it starts." },
	{ .name = "warm", .type = FIELD_NUMBER, .at = AT(warm_ppm), .min = -100, .max = 100,
	  .preset = "0 ppm",
	  .unit = "ppm", .help = "Added once it is warm." },
	{ .name = "warm_up", .type = FIELD_DURATION, .at = AT(warm_up_us), .min = 0, .max = 86400,
	  .preset = "20 min", .help = "Until that is nearly reached." },
	{ .name = "emitters", .type = FIELD_ROWS, .at = AT(by_role[SENDER_EMITTER]),
	  .size = sizeof(struct emitter),
	  .rows_of = emitter_fields, .help = "Who transmits." },
	{ .name = "birdies", .type = FIELD_ROWS, .at = AT(by_role[SENDER_BIRDIE]),
	  .size = sizeof(struct emitter),
	  .preset = "", .rows_of = birdie_fields, .help = "Lines of the dongle's own." },
	{ .name = "noises", .type = FIELD_ROWS, .at = AT(by_role[SENDER_NOISE]),
	  .size = sizeof(struct emitter),
	  .preset = "", .rows_of = noise_fields, .help = "Bad neighbours." },
	{ .name = "ghosts", .type = FIELD_ROWS, .at = AT(by_role[SENDER_GHOST]),
	  .size = sizeof(struct emitter),
	  .preset = "", .rows_of = ghost_fields, .help = "Products of two strong ones." },
	{ .name = "events", .type = FIELD_ROWS, .at = AT(events), .size = sizeof(struct event),
	  .preset = "",
	  .rows_of = event_fields, .help = "What happens in this night." },
	{ 0 }
};

/* "07-10+16-22" to a bit an hour; 0 when it is not that. */
static uint32_t read_hours(const char *text)
{
	uint32_t hours = 0;
	int from, to, used;

	for (;; text++) {
		if (sscanf(text, "%2d-%2d%n", &from, &to, &used) != 2 || from < 0 || from >= to ||
		    to > 24)
			return 0;
		for (int h = from; h < to; h++)
			hours |= UINT32_C(1) << h;
		text += used;
		if (*text != '+')
			return *text ? 0 : hours;
	}
}

/* Where a row stood in the file. */
struct place {
	const char *file;
	int         line;
};

static int find_parent(const struct town *t, const char *name, int *at, struct place p,
		       struct fault *why)
{
	*at = *name ? town_emitter(t, name) : -1;
	if (!*name || (*at >= 0 && t->emitters[*at].role == SENDER_EMITTER &&
		       !*t->emitters[*at].parent &&
		       !*t->emitters[*at].answers_to))
		return 0;
	return fault_set(why, FAULT_INPUT, "%s:%d: \"%s\" is not an emitter that keys itself",
			 p.file, p.line,
			 name);
}

static int finish_emitter(struct town *t, struct emitter *e, struct place p, struct fault *why)
{
	bool keyed = *e->parent || *e->answers_to || e->role != SENDER_EMITTER;

	e->hours = *e->busy ? read_hours(e->busy) : 0xffffff;
	e->continuous |= e->role == SENDER_BIRDIE || e->role == SENDER_NOISE;
	if (!e->hours)
		return fault_set(why, FAULT_INPUT,
				 "%s:%d: busy is \"%s\", must be hours like \"07-10+16-22\"",
				 p.file, p.line, e->busy);
	if (*e->parent && *e->answers_to)
		return fault_set(why, FAULT_INPUT, "%s:%d: input_of and answers can't both be set",
				 p.file, p.line);
	if (find_parent(t, e->parent, &e->parent_at, p, why) < 0 ||
	    find_parent(t, e->other, &e->other_at, p, why) < 0 ||
	    find_parent(t, e->answers_to, &e->answers_at, p, why) < 0)
		return -1;
	if (!keyed && !e->continuous && (e->over_us <= 0 || (e->rate <= 0 && e->period_us <= 0)))
		return fault_set(why, FAULT_INPUT,
				 "%s:%d: \"%s\" is never on, needs over and rate, or continuous",
				 p.file, p.line, e->name);
	if (*e->answers_to && e->over_us <= 0)
		return fault_set(why, FAULT_INPUT, "%s:%d: \"%s\" needs the length of an over",
				 p.file, p.line,
				 e->name);
	return 0;
}

static int finish_event(struct town *t, struct event *v, struct place p, struct fault *why)
{
	v->from_us = town_at(t, v->from);
	v->until_us = *v->until ? town_at(t, v->until) : v->from_us;
	v->emitter_at = *v->emitter ? town_emitter(t, v->emitter) : -1;
	if (v->from_us < 0 || v->until_us < 0)
		return fault_set(why, FAULT_INPUT,
				 "%s:%d: from \"%s\" until \"%s\", must be times like \"21:40\"",
				 p.file, p.line, v->from, v->until);
	if (v->until_us < v->from_us || (v->what != EVENT_CLOCK && v->until_us == v->from_us))
		return fault_set(why, FAULT_INPUT,
				 "%s:%d: until is \"%s\", must come after \"%s\" in the same night",
				 p.file, p.line, v->until, v->from);
	if (v->emitter_at < 0 && (v->what <= EVENT_OVER || *v->emitter))
		return fault_set(why, FAULT_INPUT,
				 "%s:%d: emitter is \"%s\", must be one of emitters", p.file,
				 p.line, v->emitter);
	return 0;
}

static int finish_emitters(struct town *t, const struct draft *d, struct fault *why)
{
	int n = 0;

	for (int role = 0; role < SENDER_COUNT; role++)
		for (int i = 0; i < d->by_role[role].n; i++) {
			t->emitters[n] = ((const struct emitter *)d->by_role[role].at)[i];
			t->emitters[n++].role = (enum sender)role;
		}
	t->n_emitters = n;
	n = 0;
	for (int role = 0; role < SENDER_COUNT; role++)
		for (int i = 0; i < d->by_role[role].n; i++) {
			struct place p = { d->by_role[role].file[i], d->by_role[role].line[i] };
			if (finish_emitter(t, &t->emitters[n++], p, why) < 0)
				return -1;
		}
	return 0;
}

/* What was read becomes a town; room for all of it is there. */
static int finish(struct town *t, const struct draft *d, const char *path, struct fault *why)
{
	char said[256];

	snprintf(said, sizeof said, "%s: start", path);
	memcpy(t->name, d->name, sizeof t->name);
	t->length_us = d->length_us;
	t->retune_us = d->retune_us;
	t->noise_dbm = d->noise_dbm;
	t->error_ppm = d->error_ppm;
	t->crystal_ppm = d->crystal_ppm;
	t->cold_ppm = d->cold_ppm;
	t->warm_ppm = d->warm_ppm;
	t->warm_up_us = d->warm_up_us;
	if (town_move(t, d->start, said, why) < 0 || finish_emitters(t, d, why) < 0)
		return -1;
	memcpy(t->events, d->events.at, (size_t)d->events.n * sizeof *t->events);
	t->n_events = d->events.n;
	for (int i = 0; i < t->n_events; i++) {
		struct place p = { d->events.file[i], d->events.line[i] };
		if (finish_event(t, &t->events[i], p, why) < 0)
			return -1;
	}
	return 0;
}

int town_read(const char *path, struct town *out, struct fault *why)
{
	struct draft d;
	int result = -1;
	size_t n = 0;

	memset(out, 0, sizeof *out);
	if (settings_read(path, town_fields, &d, why) < 0)
		return -1;
	for (int role = 0; role < SENDER_COUNT; role++)
		n += (size_t)d.by_role[role].n;
	out->emitters = calloc(n + 1, sizeof *out->emitters);
	out->events = calloc((size_t)d.events.n + 1, sizeof *out->events);
	result = out->emitters && out->events ? finish(out, &d, path, why)
		: fault_set(why, FAULT_FATAL, "%s: no memory to read it", path);
	settings_free(town_fields, &d);
	if (result < 0)
		town_free(out);
	return result;
}

void town_free(struct town *t)
{
	free(t->emitters);
	free(t->events);
	memset(t, 0, sizeof *t);
}
