/* Whether a band was surveyed on the raster in use: on invented overs, and through the
 * whole chain. BANDCENSUSD and BANDCENSUS name the programs. */
#include "tests/test.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <sys/wait.h>
#include <unistd.h>

#include "store/bandplan.h"
#include "tests/plan_world.h"
#include "tests/noise.h"
#include "tools/plan/rasters.h"

#define MOST 16

/* Stations in hertz, each with five overs that stray a little; the nearest channel has them. */
struct town_band {
	const char *why;
	struct band band;
	double      hz[MOST];           /* ends with 0 */
	enum kind   kind;
	enum raster_word word;
	int         heard;
};

static struct band made(double first_khz, int64_t step, int32_t count, enum mode mode)
{
	return (struct band){ "works", "Works \"and\" roads", "works",
			      { freq_from_hz(1e3 * first_khz), { step }, count }, mode, 11000,
			      { { 15000000 }, { -4800000 } } };
}

static void talk(struct scene *s, const struct band *b, double hz, int overs, int32_t level_ddb,
		 enum kind kind, struct noise *r)
{
	int32_t channel = raster_nearest(&b->raster, freq_from_hz(hz));

	assert_true(channel >= 0);
	for (int i = 0; i < overs; i++) {
		double off = hz + 60 * noise_normal(r) - freq_to_hz(raster_centre(&b->raster, channel));
		scene_add(s, (struct world_over){ 0, channel, 60 + 700.0 * i + 31 * channel % 600, 5,
						  level_ddb, (int32_t)off, 9000, kind, 0 });
	}
}

static struct raster_told *told_of(struct scene *s, const struct town_band *t)
{
	struct noise r = { 5 };

	scene_begin(s, &t->band, 1);
	for (int i = 0; t->hz[i] > 0; i++)
		talk(s, &t->band, t->hz[i], 5, 250, t->kind, &r);
	scene_propose(s);
	struct raster_told *told = rasters_all(s->census, s->suspect);
	assert_non_null(told);
	return told;
}

#define K(khz) (1e3 * (khz))

static void words_of_bands(void **state)
{
	const struct town_band rows[] = {
		{ "12.5 kHz surveyed on 25", made(158000, 75000, 41, MODE_NFM),
		  { K(158012.5), K(158050), K(158087.5), K(158162.5), K(158250), K(158387.5), K(158412.5),
		    K(158500), K(158637.5), K(158712.5) }, KIND_NFM, RASTER_WRONG, 10 },
		{ "two of it on one channel", made(158000, 75000, 41, MODE_NFM),
		  { K(158012.5), K(158025), K(158037.5), K(158162.5), K(158250), K(158387.5), K(158412.5),
		    K(158500), K(158637.5), K(158712.5) }, KIND_NFM, RASTER_WRONG, 10 },
		{ "12.5 kHz surveyed on 12.5", made(158000, 37500, 81, MODE_NFM),
		  { K(158012.5), K(158050), K(158087.5), K(158162.5), K(158250), K(158387.5), K(158412.5),
		    K(158500), K(158637.5), K(158712.5) }, KIND_NFM, RASTER_RIGHT, 10 },
		{ "15 kHz surveyed on 2.5", made(158000, 7500, 401, MODE_NFM),
		  { K(158010), K(158040), K(158085), K(158160), K(158250), K(158385), K(158415), K(158505),
		    K(158640), K(158715) }, KIND_NFM, RASTER_FITS, 10 },
		{ "shifted by half a step", made(158012.5, 75000, 40, MODE_NFM),
		  { K(158000.5), K(158050), K(158100), K(158175), K(158250), K(158375), K(158425),
		    K(158500), K(158650), K(158725) }, KIND_NFM, RASTER_WRONG, 10 },
		{ "few, but none where it was surveyed", made(158012.5, 75000, 40, MODE_NFM),
		  { K(158000.5), K(158050), K(158100), K(158175), K(158250) }, KIND_NFM, RASTER_DOUBTFUL, 5 },
		{ "one stray among five", made(158000, 75000, 41, MODE_NFM),
		  { K(158000), K(158050), K(158100), K(158175), K(158262.5) }, KIND_NFM, RASTER_NOT_SURE, 5 },
		{ "few", made(158000, 75000, 41, MODE_NFM), { K(158012.5), K(158050) }, KIND_NFM,
		  RASTER_NOT_SURE, 2 },
		{ "one", made(158000, 75000, 41, MODE_NFM), { K(158012.5) }, KIND_NFM, RASTER_TOO_FEW, 1 },
		{ "nothing", made(158000, 75000, 41, MODE_NFM), { 0 }, KIND_NFM, RASTER_TOO_FEW, 0 },
		{ "noise tells nothing", made(158000, 75000, 41, MODE_NFM),
		  { K(158012.5), K(158050), K(158087.5) }, KIND_NOISE, RASTER_TOO_FEW, 0 },
		{ "broadcast is no witness", made(88000, 300000, 200, MODE_WFM),
		  { K(88050), K(89050), K(90050), K(91250), K(94050), K(95050), K(96050), K(99050) },
		  KIND_WFM, RASTER_NOT_JUDGED, 0 },
	};

	(void)state;
	for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
		struct scene s;
		struct raster_told *told = told_of(&s, &rows[i]);
		if (told->word != rows[i].word || told->heard != rows[i].heard)
			fail_msg("%s: %s, %d heard, odds %g", rows[i].why, raster_word_name(told->word),
				 told->heard, told->verdict.odds);
		/* the plan says so of a wrong one, and of no other */
		if (s.plan->notes != (rows[i].word == RASTER_WRONG))
			fail_msg("%s: the plan has %d notes", rows[i].why, s.plan->notes);
		free(told);
		scene_end(&s);
	}
}

/* Looks at parts of data find its centre anywhere within it, and its skirts open the next channels:
 * all that is one station. The same overs without the strong one are stations. */
static void one_strong_station_is_one(void **state)
{
	const struct band b = made(158000, 75000, 41, MODE_NFM);
	struct noise r = { 7 };

	(void)state;
	for (int strong = 0; strong < 2; strong++) {
		struct scene s;
		scene_begin(&s, &b, 1);
		for (int i = 0; i < 20; i++)
			talk(&s, &b, K(158500) + 300.0 * (i - 10), 1, strong ? 600 : 250, KIND_DATA, &r);
		talk(&s, &b, K(158527.5), 3, 130, KIND_UNKNOWN, &r);
		talk(&s, &b, K(158470), 3, 140, KIND_UNKNOWN, &r);
		scene_propose(&s);
		struct raster_told *told = rasters_all(s.census, s.suspect);
		assert_non_null(told);
		assert_int_equal(told->heard, strong ? 1 : 3);
		free(told);
		scene_end(&s);
	}
}

static void one_faint_over_is_no_station(void **state)
{
	const struct band b = made(158000, 75000, 41, MODE_NFM);
	struct noise r = { 6 };
	struct scene s;

	(void)state;
	scene_begin(&s, &b, 1);
	talk(&s, &b, K(158025), 1, 80, KIND_UNKNOWN, &r);
	talk(&s, &b, K(158050), 1, 200, KIND_UNKNOWN, &r);
	talk(&s, &b, K(158100), 2, 80, KIND_UNKNOWN, &r);
	scene_propose(&s);
	struct raster_told *told = rasters_all(s.census, s.suspect);
	assert_non_null(told);
	assert_int_equal(told->heard, 2);
	free(told);
	scene_end(&s);
}

/* What is told to be written is read again, and has a channel exactly where each was heard. */
static void the_line_mends_the_plan(void **state)
{
	const struct town_band rows[] = {
		{ "12.5 for 25 kHz", made(158000, 75000, 41, MODE_NFM),
		  { K(157987.5), K(158050), K(158087.5), K(158162.5), K(158250), K(158387.5), K(158412.5),
		    K(158500), K(158637.5), K(159012.5) }, KIND_NFM, RASTER_WRONG, 10 },
		{ "25/3 for 25 kHz", made(118000, 75000, 761, MODE_AM),
		  { K(118008) + 1000 / 3.0, K(119025), K(120016) + 2000 / 3.0, K(121308) + 1000 / 3.0,
		    K(126375), K(127641) + 2000 / 3.0, K(131500) }, KIND_AM, RASTER_WRONG, 7 },
	};
	char path[] = "/tmp/rasters-XXXXXX", line[RASTER_LINE_TEXT];
	int fd = mkstemp(path);

	(void)state;
	assert_true(fd >= 0);
	close(fd);
	for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
		struct fault why = { 0 };
		struct bandplan p;
		struct scene s;
		struct raster_told *told = told_of(&s, &rows[i]);
		assert_int_equal(told->word, RASTER_WRONG);
		FILE *f = fopen(path, "w");
		fprintf(f, "kind = \"bands\";\nname = \"mended\";\nbands = (\n%s\n);\n",
			rasters_line(&rows[i].band, told, line));
		fclose(f);
		if (bandplan_read(path, &p, &why) < 0)
			fail_msg("%s: %s: %s", rows[i].why, line, why.text);
		for (int k = 0; rows[i].hz[k] > 0; k++) {
			struct freq at = freq_from_hz(rows[i].hz[k]);
			int32_t channel = raster_nearest(&p.bands[0].raster, at);
			if (channel < 0 || raster_centre(&p.bands[0].raster, channel).thirds != at.thirds)
				fail_msg("%s: %s: no channel at %.0f Hz", rows[i].why, line, rows[i].hz[k]);
		}
		assert_string_equal(p.bands[0].name, rows[i].band.name);
		assert_int_equal(p.bands[0].mode, rows[i].band.mode);
		assert_int_equal(p.bands[0].width_hz, rows[i].band.width_hz);
		bandplan_free(&p);
		free(told);
		scene_end(&s);
	}
	unlink(path);
}

/* ---- the whole chain ---- */

/* A small town whose ten stations keep to 12.5 kHz. */
static const char town_text[] =
	"kind = \"town\"; name = \"Works\"; start = \"2026-02-17T20:00:00Z\"; length = \"1 h\";\n"
	"noise = \"-118 dBm\"; retune = \"15 ms\"; transmitter_error = \"0.5 ppm\";\n"
	"crystal = \"33 ppm\"; cold = \"0 ppm\"; warm = \"0 ppm\"; warm_up = \"1 s\";\n"
	"emitters = (\n%s);\n";
static const double station_khz[] = {
	453012.5, 453087.5, 453150, 453237.5, 453375, 453462.5, 453600, 453712.5, 453887.5, 454025,
};
#define STATIONS (int)(sizeof station_khz / sizeof station_khz[0])

static void write_file(const char *folder, const char *name, const char *text)
{
	char path[200];

	snprintf(path, sizeof path, "%s/%s", folder, name);
	FILE *f = fopen(path, "w");
	assert_non_null(f);
	fputs(text, f);
	assert_int_equal(fclose(f), 0);
}

static void write_town(const char *folder)
{
	char list[4000] = "", all[5000];
	size_t n = 0;

	for (int i = 0; i < STATIONS; i++)
		n += (size_t)snprintf(list + n, sizeof list - n, "{ name = \"Works %d\"; service = \"works\"; "
			"frequency = \"%.1f kHz\"; level = \"-85 dBm\"; step = \"12.5 kHz\"; spread = \"2 dB\"; "
			"over = \"5 s\"; gap = \"2 s\"; rate = 60; exchange = 4; quiet = 1; }%s\n", i,
			station_khz[i], i + 1 < STATIONS ? "," : "");
	snprintf(all, sizeof all, town_text, list);
	write_file(folder, "town.conf", all);
	write_file(folder, "station.conf", "kind = \"daemon\"; station = \"Works\"; band_plan = \"bands.conf\";\n"
		   "survey = ( ); rate = \"2.4 MS/s\"; gain = \"29.7 dB\"; ppm = \"33 ppm\"; dwell = \"20 ms\";\n"
		   "false_alarm = 1e-8; margin = \"3 dB\"; hang = \"500 ms\"; warm_up = \"0 s\"; commit = \"5 s\";\n"
		   "sweeps_per_spell = 3; rest = \"15 s\"; track = false;\n");
}

/* The verdict, the line given for it, and the plan. */
static void survey_on(const char *folder, const char *step, char *out, size_t size)
{
	char text[600], shell[1000];

	snprintf(text, sizeof text, "kind = \"bands\"; name = \"Works\"; bands = ( { id = \"works\"; name = "
		 "\"Works\"; service = \"works\"; low = \"453.0 MHz\"; high = \"454.1 MHz\"; step = \"%s\"; "
		 "mode = \"NFM\"; width = \"11 kHz\"; } );\n", step);
	write_file(folder, "bands.conf", text);
	snprintf(shell, sizeof shell, "cd %s && rm -f works.survey* && \"$BANDCENSUSD\" --config station.conf "
		 "--source town:town.conf --seed 3 --survey works.survey 2>log && "
		 "\"$BANDCENSUS\" rasters works.survey && \"$BANDCENSUS\" plan works.survey --receiver "
		 SOURCE_ROOT "/config/receiver-400.conf", folder);
	FILE *p = popen(shell, "r");
	assert_non_null(p);
	size_t n = fread(out, 1, size - 1, p);
	out[n] = '\0';
	if (pclose(p) != 0)
		fail_msg("%s: %s", shell, out);
}

static void a_wrong_raster_is_pointed_out(void **state)
{
	static const struct {
		const char *step, *verdict, *line;      /* NULL: none */
	} rows[] = {
		{ "25 kHz", "WRONG", "low = \"453.000 MHz\"; high = \"454.100 MHz\"; step = \"12.5 kHz\"" },
		{ "12.5 kHz", " right\n", NULL },
		{ "6.25 kHz", " fits\n", NULL },
	};
	char folder[] = "/tmp/rasters-XXXXXX", out[20000], shell[100];

	(void)state;
	if (!getenv("BANDCENSUSD") || !getenv("BANDCENSUS"))
		skip();
	assert_non_null(mkdtemp(folder));
	write_town(folder);
	for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
		survey_on(folder, rows[i].step, out, sizeof out);
		if (!strstr(out, rows[i].verdict) || (rows[i].line && !strstr(out, rows[i].line)) ||
		    (!rows[i].line && !strstr(out, "no band is known to be surveyed on a wrong raster")) ||
		    !rows[i].line != !strstr(out, "WRONG CHANNELS IN THE BAND PLAN"))
			fail_msg("surveyed on %s, seed 3:\n%s", rows[i].step, out);
	}
	snprintf(shell, sizeof shell, "rm -rf %s", folder);
	assert_int_equal(system(shell), 0);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(words_of_bands),
		cmocka_unit_test(one_strong_station_is_one),
		cmocka_unit_test(one_faint_over_is_no_station),
		cmocka_unit_test(the_line_mends_the_plan),
		cmocka_unit_test(a_wrong_raster_is_pointed_out),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
