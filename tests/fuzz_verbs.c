/* Lets the verbs tell of surveys made of what it is given (tests/fuzz_made.h), and plan by them: whatever stands
 * in the rows, they end, say what is fit for a terminal, and their JSON is JSON. As it is built, it takes files and
 * folders of them and serves as a test over tests/corpus/verbs; tests/fuzz.sh searches for more. */
#include "tests/fuzz_folder.h"
#include "tests/fuzz_made.h"

#include <jansson.h>
#include <string.h>

#include "tools/verbs.h"

static const char receiver[] =
	"kind = \"receiver\"; name = \"small\";\n"
	"coverage = ( { low = \"29 MHz\"; high = \"512 MHz\"; modes = [ \"NFM\", \"AM\" ]; steps = [ \"5 kHz\", \"12.5 kHz\" ]; } );\n"
	"landing_base = \"0 Hz\"; banks = 3; memories_per_bank = 6; live_per_bank = 5; empty_per_bank = 1;\n"
	"search_ranges = 2; search_ranges_free = 1; scan_rate = 13; scan_rate_slow = 0; delays = [ \"0 s\", \"2 s\" ];\n"
	"priority_channels = 1; priority_every = \"2 s\"; attenuator = \"10 dB\"; filter_am = \"9 kHz\"; filter_nfm = \"15 kHz\";\n"
	"filter_wfm = \"180 kHz\"; display_digits = 4; birdies = [ \"154 MHz\" ]; first_if = [ \"10.7 MHz\" ];\n"
	"keys_enter = 1; keys_mode = 1; keys_step = 1; keys_delay = 1; keys_lockout = 1; keys_priority = 1; keys_slot = 4;\n"
	"keys_clear = 2;\n";

static const char memories[] =
	"bank,slot,type_mhz,mode,delay_s,priority,locked,heard,comment\r\n"
	"1,1,153.7700,NFM,2,yes,no,yes,first\r\n1,2,118.0250,AM,,no,no,noise,\r\n2,1,155.5125,NFM,0,no,no,,pinned\r\n"
	"2,2,29.6000,NFM,2,no,yes,,\r\n";

/* Of the files of one input. */
struct paths {
	char folder[64], survey[100], receiver[100], memories[100];
};

static void put(const char *path, const char *text)
{
	FILE *f = fopen(path, "w");

	promise(f && fputs(text, f) >= 0 && fclose(f) == 0, "room for the file");
}

/* What a verb wrote to one of its streams. */
struct said {
	FILE  *to, *was;
	char  *text;
	size_t n;
};

static void listen(struct said *s, FILE **stream)
{
	*s = (struct said){ .was = *stream };
	s->to = open_memstream(&s->text, &s->n);
	promise(s->to != NULL, "memory for what is said");
	*stream = s->to;
}

static void hush(struct said *s, FILE **stream)
{
	*stream = s->was;
	fclose(s->to);
}

static void promise_fit(const struct said *s, bool csv)
{
	for (size_t i = 0; i < s->n; i++)
		promise(s->text[i] == '\n' || (csv && s->text[i] == '\r') ||
			((unsigned char)s->text[i] >= ' ' && s->text[i] != 0x7f), "text is fit for a terminal");
}

static void promise_json(const struct said *s)
{
	json_error_t e;
	json_t *root = json_loadb(s->text, s->n, JSON_REJECT_DUPLICATES, &e);

	promise(root != NULL, "JSON is JSON");
	json_decref(root);
}

/* Nobody has such a survey but by malice; still the planner keeps its own rules, and has memory enough. */
static void promise_refused(const struct said *s)
{
	promise(s->n > 0 && memchr(s->text, '\n', s->n) == s->text + s->n - 1, "a complaint is one line");
	promise(!memmem(s->text, s->n, "breaks a rule", 13), "the planner keeps its rules");
	promise(!memmem(s->text, s->n, "no memory", 9), "there is memory enough");
}

static void run_verb(int (*verb)(const struct choice *o), const struct choice *o)
{
	struct said out, bad;

	listen(&out, &stdout);
	listen(&bad, &stderr);
	int code = verb(o);
	hush(&bad, &stderr);
	hush(&out, &stdout);
	promise(code >= 0 && code <= 2, "an exit code");
	promise_fit(&out, o->csv);
	promise_fit(&bad, false);
	if (code != 0)
		promise_refused(&bad);
	else if (o->json)
		promise_json(&out);
	free(out.text);
	free(bad.text);
}

/* What is done with a survey: the verb, and what of the choice it takes. */
static const struct {
	int (*verb)(const struct choice *o);
	bool told;                      /* as JSON and CSV too  */
	bool receiver, memories, plan, output, twice;
} deeds[] = {
	{ verb_status, true, .receiver = false },
	{ verb_channels, true, .receiver = false },
	{ verb_rasters, true, .receiver = false },
	{ verb_compare, true, .twice = true },
	{ verb_plan, true, .receiver = true },
	{ verb_plan, false, .receiver = true, .memories = true, .output = true },
	{ verb_rehearse, true, .receiver = true, .plan = true },
	{ verb_report, false, .receiver = true, .output = true },
	{ verb_check, true, .receiver = false },
};
#define DEEDS ((int)(sizeof deeds / sizeof deeds[0]))

static void do_deed(int i, int form, int squelch, struct paths *p)
{
	char *file[2] = { p->survey, p->survey };
	const struct choice o = {
		.night = { .squelch_db = squelch },
		.json = deeds[i].told && form == 1, .csv = deeds[i].told && form == 2,
		.receiver = deeds[i].receiver ? p->receiver : NULL,
		.memories = deeds[i].memories ? p->memories : NULL,
		.plan = deeds[i].plan ? p->memories : NULL,
		.output = deeds[i].output ? p->folder : NULL,
		.file = file, .files = deeds[i].twice ? 2 : 1,
	};

	run_verb(deeds[i].verb, &o);
}

int LLVMFuzzerTestOneInput(const uint8_t *bytes, size_t n)
{
	struct script script = { bytes, n };
	uint8_t which = script_byte(&script), form = script_byte(&script);
	struct paths p;

	fuzz_folder(p.folder);
	snprintf(p.survey, sizeof p.survey, "%s/survey", p.folder);
	snprintf(p.receiver, sizeof p.receiver, "%s/receiver.conf", p.folder);
	snprintf(p.memories, sizeof p.memories, "%s/memories.csv", p.folder);
	put(p.receiver, receiver);
	put(p.memories, memories);
	made_survey(&script, p.survey);
#ifdef FUZZER_DRIVES
	/* Plans take ten times as long as what is told without one, and see what that sees. */
	do_deed(which % 32 < DEEDS ? which % 32 : which % 4, form % 3, form / 3 % 4 * 4, &p);
#else
	(void)which;
	for (int i = 0; i < DEEDS; i++)
		do_deed(i, form % 3, form / 3 % 4 * 4, &p);
#endif
	fuzz_folder_drop(p.folder);
	return 0;
}
