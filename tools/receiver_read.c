#include "tools/plan/receiver.h"

#include "store/settings.h"
#include "tools/profile.h"

#include <stdio.h>
#include <string.h>

/* The file as it is written; checked and made a receiver below. */
struct reach_file {
	struct freq  low, high;
	struct texts modes;
	struct freqs steps;
};

struct receiver_file {
	char         kind[16], name[64];
	struct rows  coverage;
	struct freq  landing_base;
	int32_t      banks, memories, live, empty, ranges, ranges_free, priorities, digits;
	int32_t      key_enter, key_mode, key_step, key_delay, key_lockout, key_priority,
		     key_slot, key_clear;
	double       scan_rate, slow_rate, attenuator_db;
	int64_t      priority_us;
	struct texts delays;
	struct freqs birdies, first_if;
	struct freq  filter_am, filter_nfm, filter_wfm;
};

#define AT(f) offsetof(struct reach_file, f)
static const struct field reach_fields[] = {
	{ .name = "low", .type = FIELD_FREQ, .at = AT(low), .min = 1e4, .max = 6e9,
	  .help = "Lowest frequency that can be tuned." },
	{ .name = "high", .type = FIELD_FREQ, .at = AT(high), .min = 1e4, .max = 6e9,
	  .help = "Highest frequency that can be tuned." },
	{ .name = "modes", .type = FIELD_TEXTS, .at = AT(modes),
	  .help = "Modes it can be heard in: AM, NFM, WFM." },
	{ .name = "steps", .type = FIELD_FREQS, .at = AT(steps), .min = 100, .max = 1e6,
	  .help = "Tuning steps that can be chosen." },
	{ 0 }
};
#undef AT

#define AT(f) offsetof(struct receiver_file, f)
#define KEYS(as, member, usual, what)                                                              \
	{                                                                                          \
		.name = (as), .type = FIELD_INT, .at = AT(member), .min = 0, .max = 20,            \
		.preset = (usual), .help = (what)                                                    \
	}
#define KEY(as, member, what) KEYS(as, member, "1", what)
const struct field receiver_fields[] = {
	{ .name = "kind",
	  .type = FIELD_TEXT,
	  .at = AT(kind),
	  .size = 16,
	  .choices = (const char *const[]){ "receiver", NULL },
	  .help = "receiver: what a set can and cannot do" },
	{ .name = "name",
	  .type = FIELD_TEXT,
	  .at = AT(name),
	  .size = 64,
	  .help = "What you call the set." },
	{ .name = "coverage",
	  .type = FIELD_ROWS,
	  .at = AT(coverage),
	  .size = sizeof(struct reach_file),
	  .rows_of = reach_fields,
	  .help = "Stretches it can tune." },
	{ .name = "landing_base",
	  .type = FIELD_FREQ,
	  .at = AT(landing_base),
	  .max = 1e6,
	  .preset = "0 Hz",
	  .help = "It lands on this plus whole steps." },
	{ .name = "banks",
	  .type = FIELD_INT,
	  .at = AT(banks),
	  .min = 1,
	  .max = 50,
	  .preset = "10",
	  .help = "Banks of memories." },
	{ .name = "memories_per_bank",
	  .type = FIELD_INT,
	  .at = AT(memories),
	  .min = 1,
	  .max = 1000,
	  .preset = "40",
	  .help = "Memories in each bank." },
	{ .name = "live_per_bank",
	  .type = FIELD_INT,
	  .at = AT(live),
	  .min = 1,
	  .max = 1000,
	  .preset = "25",
	  .help = "Memories in a bank that are scanned, at the most." },
	{ .name = "empty_per_bank",
	  .type = FIELD_INT,
	  .at = AT(empty),
	  .min = 0,
	  .max = 1000,
	  .preset = "4",
	  .help = "Memories left empty in each bank." },
	{ .name = "search_ranges",
	  .type = FIELD_INT,
	  .at = AT(ranges),
	  .min = 0,
	  .max = 100,
	  .preset = "10",
	  .help = "Search ranges it can keep." },
	{ .name = "search_ranges_free",
	  .type = FIELD_INT,
	  .at = AT(ranges_free),
	  .min = 0,
	  .max = 100,
	  .preset = "2",
	  .help = "Of these, left to you." },
	{ .name = "scan_rate",
	  .type = FIELD_NUMBER,
	  .at = AT(scan_rate),
	  .min = 0.5,
	  .max = 500,
	  .preset = "25",
	  .unit = "",
	  .help = "Channels a second." },
	{ .name = "scan_rate_slow",
	  .type = FIELD_NUMBER,
	  .at = AT(slow_rate),
	  .min = 0,
	  .max = 500,
	  .preset = "0",
	  .unit = "",
	  .help = "The slower rate, when it has one." },
	{ .name = "delays",
	  .type = FIELD_TEXTS,
	  .at = AT(delays),
	  .preset = "",
	  .help = "Delays that can be set; none when it has no delay." },
	{ .name = "priority_channels",
	  .type = FIELD_INT,
	  .at = AT(priorities),
	  .min = 0,
	  .max = 100,
	  .preset = "1",
	  .help = "Channels it can look at while stopped elsewhere." },
	{ .name = "priority_every",
	  .type = FIELD_DURATION,
	  .at = AT(priority_us),
	  .min = 0.1,
	  .max = 60,
	  .preset = "2 s",
	  .help = "From one look at the priority channel to the next." },
	{ .name = "attenuator",
	  .type = FIELD_NUMBER,
	  .at = AT(attenuator_db),
	  .min = 0,
	  .max = 60,
	  .preset = "0 dB",
	  .unit = "dB",
	  .help = "What the attenuator takes away." },
	{ .name = "filter_am",
	  .type = FIELD_FREQ,
	  .at = AT(filter_am),
	  .min = 1e3,
	  .max = 1e5,
	  .preset = "9 kHz",
	  .help = "Width of the AM filter." },
	{ .name = "filter_nfm",
	  .type = FIELD_FREQ,
	  .at = AT(filter_nfm),
	  .min = 1e3,
	  .max = 1e5,
	  .preset = "15 kHz",
	  .help = "Width of the narrow FM filter." },
	{ .name = "filter_wfm",
	  .type = FIELD_FREQ,
	  .at = AT(filter_wfm),
	  .min = 1e4,
	  .max = 1e6,
	  .preset = "180 kHz",
	  .help = "Width of the wide FM filter." },
	{ .name = "display_digits",
	  .type = FIELD_INT,
	  .at = AT(digits),
	  .min = 3,
	  .max = 6,
	  .preset = "4",
	  .help = "Digits shown behind the decimal point." },
	{ .name = "birdies",
	  .type = FIELD_FREQS,
	  .at = AT(birdies),
	  .min = 1e4,
	  .max = 6e9,
	  .preset = "",
	  .help = "Frequencies on which it hears itself." },
	{ .name = "first_if",
	  .type = FIELD_FREQS,
	  .at = AT(first_if),
	  .min = 1e5,
	  .max = 1e9,
	  .preset = "",
	  .help = "First intermediate frequencies: images lie twice that away." },
	KEY("keys_enter", key_enter, "Keys that end an entry."),
	KEY("keys_mode", key_mode, "Keys that change the mode."),
	KEY("keys_step", key_step, "Keys that change the step."),
	KEY("keys_delay", key_delay, "Keys that change the delay."),
	KEY("keys_lockout", key_lockout, "Keys that lock a memory out."),
	KEY("keys_priority", key_priority, "Keys that make a memory the priority one."),
	KEYS("keys_slot", key_slot, "4", "Keys to a memory that does not follow the one before."),
	KEYS("keys_clear", key_clear, "2", "Keys that empty a memory."),
	{ 0 }
};
#undef AT

static int take_reach(const char *path, const struct reach_file *f, int line, struct receiver *r,
		      struct fault *why)
{
	struct reach *to = &r->reach[r->reaches];

	*to = (struct reach){ .low = f->low, .high = f->high };
	if (f->low.thirds >= f->high.thirds)
		return fault_set(why, FAULT_INPUT, "%s:%d: coverage low must be below high", path,
				 line);
	if (r->reaches && f->low.thirds <= to[-1].high.thirds)
		return fault_set(why, FAULT_INPUT,
				 "%s:%d: coverage must begin above the end of the one before", path,
				 line);
	for (int i = 0; i < f->modes.n; i++) {
		enum mode m = mode_named(f->modes.at[i]);
		if (m == MODE_COUNT || m == MODE_NONE)
			return fault_set(why, FAULT_INPUT,
					 "%s:%d: mode is \"%s\", must be AM, NFM or WFM", path,
					 line, f->modes.at[i]);
		to->modes |= 1u << m;
	}
	if (to->modes == 0 || f->steps.n < 1 || f->steps.n > STEPS_MAX)
		return fault_set(why, FAULT_INPUT,
				 "%s:%d: coverage needs a mode and 1 to %d steps, has %d steps",
				 path, line, STEPS_MAX, f->steps.n);
	for (int i = 0; i < f->steps.n; i++) {
		if (f->steps.at[i].thirds <= (i ? f->steps.at[i - 1].thirds : 0))
			return fault_set(why, FAULT_INPUT, "%s:%d: steps must ascend", path, line);
		to->step[to->steps++] = f->steps.at[i];
	}
	r->reaches++;
	return 0;
}

static int take_delays(const char *path, const struct texts *t, struct receiver *r,
		       struct fault *why)
{
	for (int i = 0; i < t->n; i++) {
		int64_t us;
		if (duration_parse(t->at[i], &us) < 0 || us < 0 || us > 60000000 ||
		    i >= CHOICES_MAX)
			return fault_set(
				why, FAULT_INPUT,
				"%s: delay is \"%s\", must be 0 s to 60 s, at most %d of them",
				path, t->at[i], CHOICES_MAX);
		if (us == 0) {
			r->delay_zero = true;
			continue;
		}
		if (r->delays && us <= r->delay_us[r->delays - 1])
			return fault_set(why, FAULT_INPUT,
					 "%s: delay is \"%s\", must be longer than the one before",
					 path, t->at[i]);
		r->delay_us[r->delays++] = us;
	}
	return 0;
}

static int take_frequencies(const char *path, const char *name, const struct freqs *from, int most,
			    struct freq *to, int *n, struct fault *why)
{
	if (from->n > most)
		return fault_set(why, FAULT_INPUT,
				 "%s: %s has %d frequencies, must have at most %d", path, name,
				 from->n, most);
	for (int i = 0; i < from->n; i++)
		to[i] = from->at[i];
	*n = from->n;
	return 0;
}

static int take(const char *path, const struct receiver_file *f, struct receiver *r,
		struct fault *why)
{
	*r = (struct receiver){
		.landing_base = f->landing_base,
		.banks = f->banks,
		.memories = f->memories,
		.live_per_bank = f->live,
		.empty_per_bank = f->empty,
		.search_ranges = f->ranges,
		.ranges_free = f->ranges_free,
		.scan_rate = f->scan_rate,
		.slow_rate = f->slow_rate,
		.priorities = f->priorities,
		.attenuator_db = f->attenuator_db,
		.display_digits = f->digits,
		.priority_s = 1e-6 * (double)f->priority_us,
		.keypad = { f->key_enter, f->key_mode, f->key_step, f->key_delay, f->key_lockout,
			    f->key_priority, f->key_slot, f->key_clear },
		.filter_hz = { [MODE_AM] = freq_to_hz(f->filter_am),
			       [MODE_NFM] = freq_to_hz(f->filter_nfm),
			       [MODE_WFM] = freq_to_hz(f->filter_wfm) },
	};
	memcpy(r->name, f->name, sizeof r->name);
	if (f->coverage.n < 1 || f->coverage.n > REACHES_MAX)
		return fault_set(why, FAULT_INPUT,
				 "%s: coverage has %d stretches, must have 1 to %d", path,
				 f->coverage.n, REACHES_MAX);
	if (f->empty >= f->memories)
		return fault_set(why, FAULT_INPUT,
				 "%s: empty_per_bank is %d, must be less than memories_per_bank",
				 path, (int)f->empty);
	const struct reach_file *reach = f->coverage.at;
	for (int i = 0; i < f->coverage.n; i++)
		if (take_reach(f->coverage.file[i], &reach[i], f->coverage.line[i], r, why) < 0)
			return -1;
	if (take_frequencies(path, "birdies", &f->birdies, BIRDIES_MAX, r->birdie, &r->birdies,
			     why) < 0 ||
	    take_frequencies(path, "first_if", &f->first_if, IFS_MAX, r->first_if, &r->ifs, why) <
		    0)
		return -1;
	return take_delays(path, &f->delays, r, why);
}

int receiver_read(const char *path, struct receiver *out, struct fault *why)
{
	struct receiver_file f;

	if (profile_kind(path, "receiver", why) < 0 ||
	    settings_read(path, receiver_fields, &f, why) < 0)
		return -1;
	int result = take(path, &f, out, why);
	settings_free(receiver_fields, &f);
	return result;
}
