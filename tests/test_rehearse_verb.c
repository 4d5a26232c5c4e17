/* A plan file played over a survey: read back from plan.csv it must promise what the plan itself
 * promised, and what can't be typed in is refused in one line. */
#include "tests/test.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "tests/plan_world.h"
#include "tools/export.h"

static const struct band bands[] = {
	{ "fire", "Fire", "fire", { FREQ_KHZ(154000), FREQ_HZ(7500), 100 }, MODE_NFM, 11000, { { 0 } } },
	{ "air", "Air", "air", { FREQ_KHZ(121000), { 25000 }, 300 }, MODE_AM, 6000, { { 0 } } },
	{ "works", "Works", "works", { FREQ_KHZ(461000), FREQ_HZ(12500), 200 }, MODE_NFM, 11000, { { 0 } } },
};

/* Fire on 154.0225 and 154.03, air on a third of 25 kHz that no step lands on, works; one of them chatty. */
static void set_up_scene(struct scene *s)
{
	scene_begin(s, bands, 3);
	scene_talk(s, 0, 3, 40, 300, KIND_NFM);
	scene_talk(s, 0, 4, 37, 300, KIND_NFM);
	scene_talk(s, 1, 37, 60, 250, KIND_AM);
	scene_talk(s, 1, 100, 30, 250, KIND_AM);
	scene_talk(s, 2, 20, 300, 250, KIND_NFM);
	scene_talk(s, 2, 77, 30, 250, KIND_NFM);
	scene_propose(s);
}

static void write_text(char path[40], const char *text, size_t n)
{
	strcpy(path, "/tmp/typed-XXXXXX");
	int fd = mkstemp(path);
	assert_true(fd >= 0 && write(fd, text, n) == (ssize_t)n);
	close(fd);
}

/* The plan as `bandcensus plan` writes it, read again. */
static struct plan *read_back(const struct scene *s)
{
	char path[40], *text = NULL;
	size_t n = 0;
	FILE *to = open_memstream(&text, &n);
	struct typed_list typed;
	struct fault why = { 0 };

	assert_non_null(to);
	const struct planned of = { s->plan, s->census };
	assert_int_equal(tell_csv(to, "memories", tell_plan, &of), 0);
	fclose(to);
	write_text(path, text, n);
	free(text);
	if (typed_read(path, &typed, &why) < 0)
		fail_msg("%s", why.text);
	assert_int_equal(typed.n, s->plan->memories);
	struct plan *p = typed_plan(&typed, path, s->census, &s->receiver, &why);
	if (!p)
		fail_msg("%s", why.text);
	typed_free(&typed);
	unlink(path);
	return p;
}

static void read_back_it_promises_the_same(void **state)
{
	struct scene s;
	struct repertoire on;
	struct forecast a, b;

	(void)state;
	set_up_scene(&s);
	struct plan *p = read_back(&s);
	assert_int_equal(repertoire_create(&on, s.census), 0);
	assert_true(s.plan->memories >= 5 && p->memories == s.plan->memories);
	int doubles = 0;
	for (int i = 0; i < p->memories; i++) {
		const struct memory *x = &p->memory[i], *y = &s.plan->memory[i];
		assert_true(x->bank == y->bank && x->slot == y->slot && x->channel == y->channel &&
			    x->delay_us == y->delay_us && x->locked == y->locked && x->priority == y->priority &&
			    x->mode == y->mode && x->landing.landed.thirds == y->landing.landed.thirds);
		doubles += x->same_as.bank != 0;
	}
	assert_true(s.plan->sets >= 2 && doubles > 0);
	for (int i = 0; i < s.plan->sets; i++) {
		struct review v;
		uint64_t banks = s.plan->set[i].banks;
		assert_int_equal(forecast(s.plan, s.census, &s.receiver, &on, banks, &a), 0);
		assert_int_equal(forecast(p, s.census, &s.receiver, &on, banks, &b), 0);
		assert_memory_equal(&a.all, &b.all, sizeof a.all);
		assert_int_equal(review_create(p, s.census, &s.receiver, &on, banks, &v), 0);
		assert_memory_equal(&v.told.all, &a.all, sizeof a.all);
		assert_true(v.low <= (double)a.all.heard / a.all.overs && v.high >= (double)a.all.heard / a.all.overs);
		assert_int_equal(v.scanned, s.plan->set[i].scanned);
		review_free(&v);
	}
	repertoire_free(&on);
	plan_destroy(p);
	scene_end(&s);
}

/* What the lockout is said to give is what the play without it gives. */
static void a_burden_is_weighed(void **state)
{
	struct scene s;
	struct repertoire on;
	struct review v, without;
	struct memory memory[2] = { { .bank = 1, .slot = 1, .weight = 1, .delay_us = 4000000 },
				    { .bank = 1, .slot = 2, .weight = 1 } };
	struct plan p = { .memory = memory, .memories = 2 };
	int quiet = -1, loud = -1;

	(void)state;
	set_up_scene(&s);
	for (int i = 0; i < s.census->channels; i++) {
		if (s.census->channel[i].band == 2 && s.census->channel[i].channel == 20)
			loud = i;
		if (s.census->channel[i].band == 0 && s.census->channel[i].channel == 3)
			quiet = i;
	}
	assert_true(loud >= 0 && quiet >= 0);
	memory[0].channel = loud;
	memory[1].channel = quiet;
	assert_int_equal(repertoire_create(&on, s.census), 0);
	assert_int_equal(review_create(&p, s.census, &s.receiver, &on, 1, &v), 0);
	memory[0].locked = true;
	assert_int_equal(review_create(&p, s.census, &s.receiver, &on, 1, &without), 0);
	assert_int_equal(v.burden.channel, loud);
	assert_true(v.burden.low <= v.burden.gain && v.burden.gain <= v.burden.high);
	const struct part *a = &v.line[quiet], *b = &without.line[quiet];
	assert_true(a->overs == b->overs && b->heard > a->heard);
	assert_true(fabs(v.burden.gained - (double)(b->heard - a->heard) / v.draws) < 1e-9);
	assert_true(fabs(v.burden.lost - (double)v.line[loud].heard / v.draws) < 1e-9);
	assert_int_equal(without.burden.channel, -1);           /* nobody is left that could gain */
	review_free(&v);
	review_free(&without);
	repertoire_free(&on);
	scene_end(&s);
}

/* Which channel a memory is heard on: the NFM filter is 15 kHz wide, so 7.5 kHz to each side. */
static const struct {
	const char *mhz, *mode;
	int         band, channel;      /* band -1: none */
	bool        looked;
} heard_on[] = {
	{ "154.0225", "NFM", 0, 3, true },
	{ "154.015", "NFM", 0, 3, true },               /* its edge */
	{ "154.010", "NFM", -1, 0, true },
	{ "154.025", "NFM", 0, 3, true },               /* in the filter for both, this one nearer */
	{ "154.030", "NFM", 0, 4, true },
	{ "121.310", "AM", 1, 37, true },               /* lands 1.67 kHz beside 121.308333 */
	{ "121.315", "AM", -1, 0, true },               /* 6.7 kHz off, and the filter takes 4.5 */
	{ "461.25", "NFM", 2, 20, true },
	{ "49.83", "NFM", -1, 0, false },
};

static void nearest_in_the_filter(void **state)
{
	struct scene s;
	struct fault why = { 0 };

	(void)state;
	set_up_scene(&s);
	for (size_t i = 0; i < sizeof heard_on / sizeof heard_on[0]; i++) {
		struct typed t = { .bank = 1, .line = 2, .delay_s = -1, .mode = mode_named(heard_on[i].mode) };
		struct typed_list l = { &t, 1 };
		char text[40];
		snprintf(text, sizeof text, "%s MHz", heard_on[i].mhz);
		assert_int_equal(freq_parse(text, &t.frequency), 0);
		struct plan *p = typed_plan(&l, "x", s.census, &s.receiver, &why);
		if (!p)
			fail_msg("%s: %s", heard_on[i].mhz, why.text);
		const struct memory *m = &p->memory[0];
		const struct channel *ch = m->channel >= 0 ? &s.census->channel[m->channel] : NULL;
		if (heard_on[i].band < 0 ? ch != NULL : !ch || ch->band != heard_on[i].band ||
		    ch->channel != heard_on[i].channel)
			fail_msg("%s: heard on %d", heard_on[i].mhz, m->channel);
		assert_int_equal(typed_looks(m, s.census, &s.receiver) > 0, heard_on[i].looked);
		assert_int_equal(m->slot, 1);
		assert_int_equal(m->delay_us, 2000000);
		plan_destroy(p);
	}
	scene_end(&s);
}

/* What the listener locked is not scanned, and everybody gets a name, a service and a weight. */
static void who_is_on_it(void **state)
{
	static const struct { const char *mhz, *mode, *given, *name, *service; double weight; enum noted noted; } on[] = {
		{ "154.0225", "NFM", "", "probably fire", "fire", 10, NOTED_YES },
		{ "154.030", "NFM", "Engines", "Engines", "fire", 10, NOTED_LOCKED },
		{ "121.310", "AM", "", "probably aircraft", "air", 5, NOTED_NOISE },
		{ "121.400", "AM", "", "", "air", 5, NOTED_NOTHING },           /* nothing heard */
		{ "49.83", "NFM", "Roads", "Roads", "", 3, NOTED_NOTHING },     /* in no band */
	};
	enum { N = sizeof on / sizeof on[0] };
	struct typed t[N];
	struct typed_list l = { t, N };
	struct fault why = { 0 };
	struct scene s;
	char text[40];

	(void)state;
	set_up_scene(&s);
	for (int i = 0; i < N; i++) {
		t[i] = (struct typed){ .bank = 1, .line = 2 + i, .delay_s = -1, .mode = mode_named(on[i].mode),
				       .noted = on[i].noted };
		snprintf(t[i].name, sizeof t[i].name, "%s", on[i].given);
		snprintf(text, sizeof text, "%s MHz", on[i].mhz);
		assert_int_equal(freq_parse(text, &t[i].frequency), 0);
	}
	struct plan *p = typed_plan(&l, "x", s.census, &s.receiver, &why);
	assert_non_null(p);
	typed_who(p, s.census, s.suspect, &s.interests);
	for (int i = 0; i < N; i++) {
		const struct memory *m = &p->memory[i];
		size_t n = strlen(on[i].name);
		if (strncmp(m->name, on[i].name, n ? n : 1) != 0 || strcmp(m->service, on[i].service) != 0 ||
		    m->weight != on[i].weight || m->locked != (on[i].noted == NOTED_LOCKED))
			fail_msg("%s: \"%s\", \"%s\", weight %g%s", on[i].mhz, m->name, m->service, m->weight,
				 m->locked ? ", locked" : "");
	}
	plan_destroy(p);
	scene_end(&s);
}

/* A rescued survey may have lost when it looked. What can't be played is not told as silence. */
static void unplayed_is_not_silent(void **state)
{
	struct scene s;
	struct repertoire on;
	struct review v;
	struct typed typed = { .bank = 1 };
	struct typed_list l = { &typed, 1 };
	char *text = NULL;
	size_t n = 0;

	(void)state;
	set_up_scene(&s);
	s.census->start_us = s.census->end_us = 0;
	assert_int_equal(repertoire_create(&on, s.census), 0);
	assert_int_equal(review_create(s.plan, s.census, &s.receiver, &on, 1, &v), 0);
	struct rehearsed r = { "x", &l, s.plan, s.census, &s.receiver, &v, 1 };
	FILE *to = open_memstream(&text, &n);
	assert_non_null(to);
	assert_int_equal(sheet_rehearsal(to, &r), 0);
	fclose(to);
	assert_non_null(strstr(text, "not rehearsed: the survey does not say when it looked"));
	assert_non_null(strstr(text, "heard by the survey, but not in what was played"));
	assert_null(strstr(text, "nothing was heard on any"));
	free(text);
	review_free(&v);
	repertoire_free(&on);
	scene_end(&s);
}

#define HEAD "bank,slot,type_mhz,mode,delay_s,locked,priority,heard\n"
#define TEXT(t) t, sizeof t - 1

static const struct {
	const char *why, *text;
	size_t      n;
	const char *says;               /* NULL: it is taken */
} files[] = {
	{ "as it should be", TEXT(HEAD "1,1,154.235,NFM,2,no,yes,yes\n"), NULL },
	{ "what is needed, any order, any case", TEXT("FREQUENCY_HZ, Bank \r\n154235000,1\r\n"), NULL },
	{ "thirds as plan.csv has them", TEXT("bank,frequency_hz\n1,121308333.333\n"), NULL },
	{ "a column not known", TEXT("bank,colour,type_mhz\n1,red,154.235\n"), NULL },
	{ "nothing", TEXT(""), ": has no memory in it" },
	{ "a head alone", TEXT(HEAD), ": has no memory in it" },
	{ "no bank", TEXT("slot,type_mhz\n1,154\n"), ":1: head has no column \"bank\"" },
	{ "no frequency", TEXT("bank,slot\n1,1\n"), ":1: head has no column \"type_mhz\"" },
	{ "a column twice", TEXT("bank,type_mhz,BANK\n1,154,1\n"), ":1: column bank is there twice" },
	{ "a field short", TEXT(HEAD "1,1,154.235\n"), ":2: has 3 fields, must have 8" },
	{ "bank nought", TEXT("bank,type_mhz\n0,154\n"), ":2: bank is \"0\", must be a whole number from 1" },
	{ "no bank said", TEXT("bank,type_mhz\n,154\n"), ":2: bank is \"\"" },
	{ "a bank too high", TEXT("bank,type_mhz\n11,154\n"), ":2: bank is \"11\", must be 1 to 10" },
	{ "a slot too high", TEXT("bank,slot,type_mhz\n1,41,154\n"), ":2: slot is \"41\", must be 1 to 40" },
	{ "a slot twice", TEXT("bank,slot,type_mhz\n1,4,154\n1,4,155\n"), ":3: slot is \"4\", which bank 1 has" },
	{ "no frequency said", TEXT("bank,type_mhz,frequency_hz\n1,,\n"), ":2: frequency is \"\"" },
	{ "hertz for megahertz", TEXT("bank,type_mhz\n1,154235000\n"), ":2: type_mhz is \"154235000\", must be 0.1" },
	{ "megahertz for hertz", TEXT("bank,frequency_hz\n1,154.235\n"), ":2: frequency_hz is \"154.235\", must be" },
	{ "telephones", TEXT("bank,type_mhz\n1,850\n"), ":2: frequency is \"850.000\" MHz in NFM, must be one" },
	{ "a mode", TEXT("bank,type_mhz,mode\n1,154,SSB\n"), ":2: mode is \"SSB\", must be AM, NFM, WFM" },
	{ "a delay it lacks", TEXT("bank,type_mhz,delay_s\n1,154,3\n"), ":2: delay_s is \"3\", must be one of 0, 2, 4 on" },
	{ "a delay too long", TEXT("bank,type_mhz,delay_s\n1,154,61\n"), ":2: delay_s is \"61\", must be 0 to 60" },
	{ "a delay below nothing", TEXT("bank,type_mhz,delay_s\n1,154,-1\n"), ":2: delay_s is \"-1\"" },
	{ "maybe", TEXT("bank,type_mhz,locked\n1,154,maybe\n"), ":2: locked is \"maybe\", must be yes, no" },
	{ "two priorities", TEXT("bank,type_mhz,priority\n1,154,yes\n1,155,yes\n"), ":3: priority is \"yes\"" },
	{ "a note", TEXT("bank,type_mhz,heard\n1,154,well\n"), ":2: heard is \"well\", must be yes, noise, locked" },
	{ "an open quote", TEXT("bank,type_mhz\n1,\"154\n"), ":2: a quoted field does not end" },
};

static void files_are_taken_or_refused(void **state)
{
	struct scene s;

	(void)state;
	set_up_scene(&s);
	for (size_t i = 0; i < sizeof files / sizeof files[0]; i++) {
		struct typed_list l;
		struct fault why = { 0 };
		char path[40];
		write_text(path, files[i].text, files[i].n);
		struct plan *p = typed_read(path, &l, &why) < 0 ? NULL :
			typed_plan(&l, path, s.census, &s.receiver, &why);
		if ((files[i].says == NULL) != (p != NULL))
			fail_msg("%s: %s", files[i].why, p ? "was taken" : why.text);
		if (!p && (why.kind != FAULT_INPUT || !strstr(why.text, files[i].says) || strchr(why.text, '\n') ||
			   strncmp(why.text, path, strlen(path)) != 0))
			fail_msg("%s: says \"%s\"", files[i].why, why.text);
		plan_destroy(p);
		typed_free(&l);
		unlink(path);
	}
	scene_end(&s);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(read_back_it_promises_the_same),
		cmocka_unit_test(a_burden_is_weighed),
		cmocka_unit_test(nearest_in_the_filter),
		cmocka_unit_test(who_is_on_it),
		cmocka_unit_test(unplayed_is_not_silent),
		cmocka_unit_test(files_are_taken_or_refused),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
