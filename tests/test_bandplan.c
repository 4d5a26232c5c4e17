#include "tests/test.h"

#include <stdbool.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "store/bandplan.h"

#define ROOM 256
#define MHZ(m) (INT64_C(3000000) * (m))

/* One band a line, so that a complaint's line counts them: the first is on line 4. */
#define HEAD "kind = \"bands\";\nname = \"Test\";\nbands = (\n"
#define BAND(id, low, high, more) \
	"{ id = \"" id "\"; name = \"N\"; service = \"air\"; low = \"" low "\"; high = \"" high "\"; " more " }"
#define USUAL "step = \"25 kHz\"; mode = \"AM\"; width = \"6 kHz\";"
#define END "\n);\n"

static int make_file(void **state)
{
	char *path = strdup("/tmp/test_bandplan.XXXXXX");

	assert_non_null(path);
	int fd = mkstemp(path);
	assert_true(fd >= 0);
	close(fd);
	*state = path;
	return 0;
}

static int remove_file(void **state)
{
	unlink(*state);
	free(*state);
	return 0;
}

static int read_text(const char *path, const char *text, struct bandplan *p, struct fault *why)
{
	FILE *f = fopen(path, "w");

	assert_non_null(f);
	fputs(text, f);
	assert_int_equal(fclose(f), 0);
	return bandplan_read(path, p, why);
}

static void a_plan_is_read_in_order(void **state)
{
	static const char text[] = HEAD
		BAND("upper", "130 MHz", "131 MHz", "base = \"130.0125 MHz\"; " USUAL) ",\n"
		BAND("lower", "118 MHz", "355000000/3 Hz", "step = \"25/3 kHz\"; mode = \"am\"; width = \"6 kHz\"; split = [ \"600 kHz\", \"-1.6 MHz\" ];")
		END
		"never = ( { low = \"824 MHz\"; high = \"849 MHz\"; why = \"cellular\"; } );\n";
	struct fault why = { 0 };
	struct bandplan p;

	if (read_text(*state, text, &p, &why) < 0)
		fail_msg("%s", why.text);
	assert_string_equal(p.name, "Test");
	assert_int_equal(p.n_bands, 2);
	assert_string_equal(p.bands[0].id, "lower");
	assert_int_equal(p.bands[0].raster.first.thirds, MHZ(118));
	assert_int_equal(p.bands[0].raster.step.thirds, 25000);
	assert_int_equal(p.bands[0].raster.count, 41);
	assert_int_equal(p.bands[0].mode, MODE_AM);
	assert_int_equal(p.bands[0].width_hz, 6000);
	assert_int_equal(p.bands[0].split[0].thirds, 1800000);
	assert_int_equal(p.bands[0].split[1].thirds, -4800000);
	assert_int_equal(p.bands[0].split[2].thirds, 0);
	assert_int_equal(p.bands[1].split[0].thirds, 0);
	assert_string_equal(p.bands[1].service, "air");
	assert_int_equal(p.bands[1].raster.first.thirds, MHZ(130) + 37500);
	assert_int_equal(p.bands[1].raster.count, 40);
	assert_int_equal(p.n_never, 1);
	assert_int_equal(p.never[0].low.thirds, MHZ(824));
	assert_string_equal(p.never[0].why, "cellular");
	bandplan_free(&p);
	assert_null(p.bands);
	bandplan_free(&p);
}

static const struct {
	const char *why, *text;
	int         line, other;        /* told first, and told second (0: none) */
	const char *says;               /* NULL: is taken                        */
} cases[] = {
	{ "side by side, a step apart",
	  HEAD BAND("a", "118 MHz", "119 MHz", USUAL) ",\n" BAND("b", "119.025 MHz", "120 MHz", USUAL) END,
	  0, 0, NULL },
	{ "rasters that interleave without a shared stretch",
	  HEAD BAND("a", "118 MHz", "119 MHz", USUAL) ",\n"
	  BAND("b", "119 MHz", "120 MHz", "base = \"119.0125 MHz\"; " USUAL) END, 0, 0, NULL },
	{ "equal edges",
	  HEAD BAND("a", "118 MHz", "119 MHz", USUAL) ",\n" BAND("b", "119 MHz", "120 MHz", USUAL) END,
	  5, 4, "band b overlaps band a" },
	{ "one inside the other, off its raster",
	  HEAD BAND("a", "118 MHz", "119 MHz", USUAL) ",\n"
	  BAND("b", "118.5 MHz", "118.52 MHz", "base = \"118.51 MHz\"; " USUAL) END,
	  5, 4, "band b overlaps band a" },
	{ "the later line lies lower",
	  HEAD BAND("a", "119 MHz", "120 MHz", USUAL) ",\n" BAND("b", "118 MHz", "119 MHz", USUAL) END,
	  5, 4, "band b overlaps band a" },
	{ "an id given twice",
	  HEAD BAND("a", "118 MHz", "119 MHz", USUAL) ",\n" BAND("a", "130 MHz", "131 MHz", USUAL) END,
	  5, 4, "band a has the id of band a" },
	{ "no id", HEAD BAND("", "118 MHz", "119 MHz", USUAL) END, 4, 0, "id is empty" },
	{ "low above high", HEAD BAND("a", "119 MHz", "118 MHz", USUAL) END, 4, 0,
	  "low of a is 119.000 MHz, must be at most its high, 118.000 MHz" },
	{ "no channel inside",
	  HEAD BAND("a", "118 MHz", "118.01 MHz", "base = \"118.015 MHz\"; " USUAL) END, 4, 0,
	  "a has no channel from 118.000 to 118.010 MHz" },
	{ "more channels than a band can have",
	  HEAD BAND("a", "30 MHz", "1100 MHz", "step = \"1 kHz\"; mode = \"NFM\"; width = \"1 kHz\";") END, 4, 0,
	  "a has 1070001 channels, must be at most 1000000" },
	{ "four splits",
	  HEAD BAND("a", "118 MHz", "119 MHz", USUAL " split = [ \"1 MHz\", \"2 MHz\", \"3 MHz\", \"-3 MHz\" ];") END,
	  0, 0, NULL },
	{ "five", HEAD BAND("a", "118 MHz", "119 MHz",
			    USUAL " split = [ \"1 MHz\", \"2 MHz\", \"3 MHz\", \"4 MHz\", \"5 MHz\" ];") END,
	  4, 0, "split of a has 5 of them, must be at most 4" },
	{ "a split to itself", HEAD BAND("a", "118 MHz", "119 MHz", USUAL " split = [ \"0 Hz\" ];") END,
	  4, 0, "split of a is 0" },
	{ "one that is too far", HEAD BAND("a", "118 MHz", "119 MHz", USUAL " split = [ \"-101 MHz\" ];") END,
	  4, 0, "must be -100 to 100 MHz" },
	{ "a split that is no list", HEAD BAND("a", "118 MHz", "119 MHz", USUAL " split = \"5 MHz\";") END,
	  4, 0, "a list of frequencies" },
	{ "a single channel", HEAD BAND("a", "118 MHz", "118 MHz", USUAL) END, 0, 0, NULL },
	{ "an unknown mode",
	  HEAD BAND("a", "118 MHz", "119 MHz", "step = \"25 kHz\"; mode = \"SSB\"; width = \"6 kHz\";") END,
	  4, 0, "mode is SSB, must be none, AM, NFM or WFM" },
	{ "no step", HEAD BAND("a", "118 MHz", "119 MHz", "mode = \"AM\"; width = \"6 kHz\";") END, 4, 0,
	  "step is missing" },
	{ "a step of nothing",
	  HEAD BAND("a", "118 MHz", "119 MHz", "step = \"0 Hz\"; mode = \"AM\"; width = \"6 kHz\";") END, 4, 0,
	  "step is 0 Hz, must be 0.001 to 1 MHz" },
	{ "an unknown name in a band",
	  HEAD BAND("a", "118 MHz", "119 MHz", "stepp = \"5 kHz\"; " USUAL) END, 4, 0,
	  "stepp is unknown, did you mean step" },
	{ "no bands at all", "kind = \"bands\"; name = \"x\"; bands = ();", 0, 0, "bands is empty" },
	{ "a file of another kind", "kind = \"daemon\";", 1, 0, "kind is daemon, must be bands" },
	{ "no kind", "name = \"x\"; bands = ();", 0, 0, "kind is missing" },
	/* 823.9975 and half of 6 kHz is 824.0005. */
	{ "an emission that just reaches in",
	  HEAD BAND("a", "823.9975 MHz", "823.9975 MHz", USUAL) END
	  "never = ( { low = \"824 MHz\"; high = \"849 MHz\"; why = \"cellular\"; } );", 4, 6, "touches" },
	{ "one that ends a hertz below",
	  HEAD BAND("a", "823.996999 MHz", "823.996999 MHz", USUAL) END
	  "never = ( { low = \"824 MHz\"; high = \"849 MHz\"; why = \"cellular\"; } );", 0, 0, NULL },
	{ "a band around a never",
	  HEAD BAND("a", "806 MHz", "960 MHz", USUAL) END
	  "never = ( { low = \"824 MHz\"; high = \"849 MHz\"; why = \"cellular\"; } );", 4, 6, "touches" },
	{ "a never upside down",
	  HEAD BAND("a", "118 MHz", "119 MHz", USUAL) END
	  "never = ( { low = \"849 MHz\"; high = \"824 MHz\"; why = \"cellular\"; } );", 6, 0,
	  "low is above high" },
};

static void refused_in_words(void **state)
{
	const char *path = *state;

	for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
		struct fault why = { 0 };
		struct bandplan p;
		char first[ROOM], second[ROOM];
		int result = read_text(path, cases[i].text, &p, &why);
		if (!cases[i].says) {
			if (result < 0)
				fail_msg("%s: %s", cases[i].why, why.text);
			bandplan_free(&p);
			continue;
		}
		snprintf(first, sizeof first, cases[i].line ? "%s:%d: " : "%s: ", path, cases[i].line);
		second[0] = '\0';
		if (cases[i].other)
			snprintf(second, sizeof second, "%s:%d", path, cases[i].other);
		if (result == 0 || why.kind != FAULT_INPUT || !strstr(why.text, cases[i].says) ||
		    strncmp(why.text, first, strlen(first)) != 0 ||
		    !strstr(why.text + strlen(first), second) || strchr(why.text, '\n'))
			fail_msg("%s: said (%d) \"%s\"", cases[i].why, why.kind, why.text);
		assert_null(p.bands);
		assert_null(p.never);
	}
}

/* The plans that come with the program, by its root folder. */
static const struct {
	const char *file;
	int64_t     never[4];           /* thirds; none of our channels comes near these */
} shipped[] = {
	/* 47 CFR 15.121(a)(1), READ; edges 22.905, from memory: a bound, not a figure. */
	{ "config/bands-north-america.conf", { MHZ(824), MHZ(849), MHZ(869), MHZ(894) } },
	/* Public mobile telephony, common practice, from memory. */
	{ "config/bands-europe.conf",        { MHZ(791), MHZ(862), MHZ(880), MHZ(960) } },
};

static void the_shipped_plans_are_good(void **state)
{
	char path[1024];
	(void)state;

	for (size_t i = 0; i < sizeof shipped / sizeof shipped[0]; i++) {
		struct fault why = { 0 };
		struct bandplan p;
		snprintf(path, sizeof path, "%s/%s", SOURCE_ROOT, shipped[i].file);
		if (bandplan_read(path, &p, &why) < 0)
			fail_msg("%s", why.text);
		for (int b = 0; b < p.n_bands; b++) {
			for (int k = 0; k < 4; k += 2)
				if (band_high(&p.bands[b]).thirds >= shipped[i].never[k] &&
				    band_low(&p.bands[b]).thirds <= shipped[i].never[k + 1])
					fail_msg("%s: %s hears telephones", path, p.bands[b].id);
			/* 2.4 MS/s and bins of 625 Hz carry it: see dsp/hop.h. */
			if (p.bands[b].raster.step.thirds < 7500 || p.bands[b].width_hz < 1000)
				fail_msg("%s: %s is too fine", path, p.bands[b].id);
		}
		bandplan_free(&p);
	}
}

/* Table and inverse, over every channel that is shipped. */
static void every_centre_is_its_own_nearest(void **state)
{
	char path[1024];
	(void)state;

	for (size_t i = 0; i < sizeof shipped / sizeof shipped[0]; i++) {
		struct bandplan p;
		snprintf(path, sizeof path, "%s/%s", SOURCE_ROOT, shipped[i].file);
		assert_int_equal(bandplan_read(path, &p, NULL), 0);
		for (int b = 0; b < p.n_bands; b++)
			for (int32_t c = 0; c < p.bands[b].raster.count; c++)
				if (raster_nearest(&p.bands[b].raster,
						   raster_centre(&p.bands[b].raster, c)) != c)
					fail_msg("%s channel %d", p.bands[b].id, c);
		bandplan_free(&p);
	}
}

/* As the survey keeps them. */
static void splits_as_text(void **state)
{
	static const struct {
		const char *text;
		bool        good;
	} rows[] = {
		{ "", true }, { "15000000", true }, { "-1800000 1800000 25000", true }, { "1 2 3 4", true },
		{ "1 2 3 4 5", false }, { "0", false }, { " 1", false }, { "1 ", false }, { "1  2", false },
		{ "+1", false }, { "1.5", false }, { "x", false }, { "-", false }, { "3000000001", false },
		{ "-3000000000", true }, { "99999999999999999999", false }, { "1\t2", false }, { "0x10", false },
	};

	(void)state;
	for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
		struct band b = { .split = { { 7 } } };
		char out[BAND_SPLITS_TEXT];
		if ((band_splits_parse(&b, rows[i].text) == 0) != rows[i].good ||
		    strcmp(band_splits_text(&b, out), rows[i].good ? rows[i].text : "7") != 0)
			fail_msg("\"%s\" is \"%s\"", rows[i].text, out);
	}
}

#define TEST(name) cmocka_unit_test_setup_teardown(name, make_file, remove_file)

int main(void)
{
	const struct CMUnitTest tests[] = {
		TEST(a_plan_is_read_in_order), TEST(refused_in_words), TEST(the_shipped_plans_are_good),
		TEST(every_centre_is_its_own_nearest), cmocka_unit_test(splits_as_text),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
