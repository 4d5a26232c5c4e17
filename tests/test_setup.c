#include "tests/test.h"

#include <pty.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <sys/wait.h>
#include <unistd.h>

#include "store/station.h"
#include "tests/folder.h"
#include "tools/plan/interests.h"
#include "tools/plan/receiver.h"
#include "tools/setup/sticks.h"

/* `bandcensus setup` as a newcomer meets it: in a terminal, with answers and slips, and without one. BANDCENSUS
 * names the program. */

#define ROOM 60000

struct output {
	char text[ROOM];
	int  code;
};

/* Runs the program in the folder, in a terminal into which all answers were typed beforehand. */
static void in_terminal(const struct folder *f, const char *words, const char *answers, struct output *out)
{
	char line[1000];
	int master, status;
	size_t n = 0;

	snprintf(line, sizeof line, "cd %s && exec \"$BANDCENSUS\" setup %s", f->path, words);
	pid_t child = forkpty(&master, NULL, NULL, NULL);
	assert_true(child >= 0);
	if (child == 0) {
		execl("/bin/sh", "sh", "-c", line, (char *)NULL);
		_exit(127);
	}
	assert_int_equal(write(master, answers, strlen(answers)), strlen(answers));
	for (ssize_t got; n < ROOM - 1 && (got = read(master, out->text + n, ROOM - 1 - n)) > 0;)
		n += (size_t)got;
	out->text[n] = '\0';
	close(master);
	waitpid(child, &status, 0);
	out->code = WIFEXITED(status) ? WEXITSTATUS(status) : -1;
}

static void without_terminal(const struct folder *f, const char *words, struct output *out)
{
	char line[1000];

	snprintf(line, sizeof line, "cd %s && BANDCENSUS_USB_DEVICES=usb \"$BANDCENSUS\" setup %s </dev/null 2>&1",
		 f->path, words);
	FILE *p = popen(line, "r");
	assert_non_null(p);
	out->text[fread(out->text, 1, ROOM - 1, p)] = '\0';
	int status = pclose(p);
	out->code = WIFEXITED(status) ? WEXITSTATUS(status) : -1;
}

static void path_of(const struct folder *f, const char *folder, const char *name, char out[200])
{
	snprintf(out, 200, "%s/%s/%s", f->path, folder, name);
}

static bool is_there(const struct folder *f, const char *folder, const char *name)
{
	char path[200];
	struct stat is;

	path_of(f, folder, name, path);
	return stat(path, &is) == 0;
}

static void says(const struct output *out, const char *words)
{
	if (!strstr(out->text, words))
		fail_msg("says nothing of \"%s\" (exit %d): %s", words, out->code, out->text);
}

static void read_settings(const struct folder *f, const char *folder, struct station *s, struct interests *i,
			  struct receiver *r)
{
	char path[200];
	struct fault why;
	int bad = 0;

	path_of(f, folder, "bandcensus.conf", path);
	bad |= station_read(path, s, &why);
	path_of(f, folder, "interests.conf", path);
	bad |= bad ? bad : interests_read(path, i, &why);
	path_of(f, folder, "receiver.conf", path);
	bad |= bad ? bad : receiver_read(path, r, &why);
	if (bad)
		fail_msg("%s", why.text);
}

static bool surveys(const struct station *s, const char *band)
{
	for (int i = 0; i < s->survey.n; i++)
		if (strcmp(s->survey.at[i], band) == 0)
			return true;
	return false;
}

static void from_options(void **state)
{
	const struct folder *f = *state;
	struct output out;
	struct station s;
	struct interests i;
	struct receiver r;

	without_terminal(f, "--station 'the loft' --region europe --interests 'rail 8, mixed 0,marine 2.5' "
			 "--antenna '118-170 MHz, 0.43-0.44 GHz' --receiver 1000 --output mine --yes", &out);
	if (out.code != 0)
		fail_msg("exit %d: %s", out.code, out.text);
	says(&out, "The night would be:");
	says(&out, "survey: about ");
	says(&out, "--survey night.survey --for 11h");
	read_settings(f, "mine", &s, &i, &r);
	assert_string_equal(s.name, "the loft");
	assert_string_equal(s.band_plan, "bands.conf");
	assert_true(surveys(&s, "air") && surveys(&s, "marine") && surveys(&s, "amateur-70cm"));
	/* Out of the antenna's reach; without interest; both. */
	assert_false(surveys(&s, "personal-446") || surveys(&s, "mixed-146") || surveys(&s, "mixed-410"));
	assert_true(interests_of(&i, "rail")->weight == 8 && interests_of(&i, "mixed")->weight == 0);
	assert_true(interests_of(&i, "marine")->weight == 2.5 && interests_of(&i, "fire")->weight == 10);
	assert_int_equal(r.banks * r.memories, 1000);
	station_free(&s);
	interests_free(&i);
	/* Never over what is there, unless told. */
	without_terminal(f, "--region europe --output mine --yes", &out);
	assert_int_equal(out.code, 2);
	says(&out, "mine/bandcensus.conf is there already, --overwrite writes over it");
	without_terminal(f, "--region europe --output mine --yes --overwrite", &out);
	assert_int_equal(out.code, 0);
	read_settings(f, "mine", &s, &i, &r);
	assert_string_equal(s.name, "home");
	station_free(&s);
	interests_free(&i);
}

static void not_told_to_write(void **state)
{
	struct output out;

	without_terminal(*state, "--region north-america --output shown", &out);
	assert_int_equal(out.code, 0);
	says(&out, "== bandcensus.conf");
	says(&out, "nothing was written; --yes writes");
	assert_false(is_there(*state, "shown", "bandcensus.conf"));
}

static const struct {
	const char *words, *says;
} refused[] = {
	{ "--region mars", "region is \"mars\", must be europe, north-america, or a file" },
	{ "--receiver 500", "receiver is \"500\", must be 100, 400, 1000, or a file" },
	{ "--interests 'fyre 10'", "\"fyre\" is no service, did you mean fire" },
	{ "--interests 'fire 11'", "interests are \"fire 11\", must be like" },
	{ "--interests 'fire'", "must be like \"fire 10, rail 8\"" },
	{ "--antenna '118 to 170'", "antenna is \"118 to 170\", must be like" },
	{ "--antenna '170-118 MHz'", "must be like \"118-470 MHz\"" },
	{ "--antenna '118-170 kHz'", "must be like \"118-470 MHz\"" },
	{ "--region europe --antenna '1-2 MHz'", "where no band of the plan has a service that you want" },
	{ "--station 'a\"b'", "must be without quotes" },
};

static void slips(void **state)
{
	struct output out;
	char words[300];

	for (size_t i = 0; i < sizeof refused / sizeof refused[0]; i++) {
		snprintf(words, sizeof words, "%s --output slips --yes", refused[i].words);
		without_terminal(*state, words, &out);
		assert_int_equal(out.code, 2);
		says(&out, refused[i].says);
		char *line = strchr(out.text, '\n');
		if (!line || line[1])
			fail_msg("%s: more than one line: %s", refused[i].words, out.text);
		assert_false(is_there(*state, "slips", "bandcensus.conf"));
	}
}

/* Return takes what is ready. */
static void in_a_hurry(void **state)
{
	struct output out;
	struct station s;
	struct interests i;
	struct receiver r;

	in_terminal(*state, "--output hurry", "\n\n\n\n\n\n", &out);
	assert_int_equal(out.code, 0);
	says(&out, "What do you call this place? [home]: ");
	says(&out, "Write these files? [yes]: ");
	read_settings(*state, "hurry", &s, &i, &r);
	assert_string_equal(s.name, "home");
	assert_int_equal(r.banks * r.memories, 400);
	station_free(&s);
	interests_free(&i);
}

/* A slip is told of and asked again; a receiver of one's own is described. */
static void described(void **state)
{
	struct output out;
	struct station s;
	struct interests i;
	struct receiver r;

	in_terminal(*state, "--output own --region europe",
		    "attic\n" "fire 11\n" "fire 9\n" "118-\n" "118-470 MHz\n" "yours\n" "mine\n"
		    "set of 1989\n" "many\n" "5\n" "20\n" "8\n" "0 s, 3 s\n" "0\n" "2\n" "\n" "\n"
		    "108-174 MHz, 400-512 MHz\n" "AM, loud\n" "AM, NFM\n" "5 kHz, 12.5 kHz\n" "yes\n", &out);
	if (out.code != 0)
		fail_msg("exit %d: %s", out.code, out.text);
	says(&out, "interests are \"fire 11\", must be");
	says(&out, "antenna is \"118-\", must be");
	says(&out, "receiver is \"yours\", must be");
	says(&out, "banks is \"many\", must be");
	says(&out, "modes are \"AM, loud\", must be");
	read_settings(*state, "own", &s, &i, &r);
	assert_string_equal(s.name, "attic");
	assert_true(interests_of(&i, "fire")->weight == 9);
	assert_string_equal(r.name, "set of 1989");
	assert_int_equal(r.banks, 5);
	assert_int_equal(r.memories, 20);
	assert_true(r.scan_rate == 8 && r.delay_zero && r.delays == 1 && r.delay_us[0] == 3000000);
	assert_int_equal(r.priorities, 0);
	assert_int_equal(r.search_ranges, 2);
	assert_int_equal(r.display_digits, 4);
	assert_int_equal(r.reaches, 2);
	assert_int_equal(r.reach[1].low.thirds, FREQ_HZ(400000000).thirds);
	assert_int_equal(r.reach[1].modes, 1u << MODE_AM | 1u << MODE_NFM);
	assert_int_equal(r.reach[1].steps, 2);
	station_free(&s);
	interests_free(&i);
}

/* Each slip is told of in words, and the question asked again. */
static void described_with_slips(void **state)
{
	static const char *const told[] = {
		"station is \"a name that", "must be at most ", "delays are \"soon\", must be like \"0 s, 2 s\"",
		"filter_nfm is \"wide\", must be ", "coverage is \"400-512 MHz, 108-174 MHz\", must be like",
		"coverage is \",\", must be like",
		"modes are \"AM, AM, AM, AM, AM, AM, AM, AM, AM, AM, ...\", must be of AM, NFM, WFM",
		"steps are \"5 kHz,  5 kHz,  5 kHz,  5 kHz,  5 kHz,  ...\", must be fewer", "steps is \"5 m\", must be ",
		"\"perhaps\" is neither yes nor no",
	};
	char answers[2000], name[120] = "", modes[220] = "", steps[300] = "";
	struct output out;
	struct station s;
	struct interests i;
	struct receiver r;

	strcat(name, "a name that ");
	for (int k = 0; k < 9; k++)
		strcat(name, "never ends ");
	for (int k = 0; k < 50; k++)
		strcat(modes, "AM, ");
	for (int k = 0; k < 30; k++)
		strcat(steps, "5 kHz,  ");
	snprintf(answers, sizeof answers,
		 "%s\nattic\n\n118-470 MHz\nmine\n\n5\n20\n8\nsoon\n0 s, 3 s\n0\n2\n\nwide\n\n"
		 "400-512 MHz, 108-174 MHz\n,\n108-174 MHz\n%s\nAM , NFM\n AM, NFM\n%s\n5 m\n5 kHz\nperhaps\nyes\n",
		 name, modes, steps);
	in_terminal(*state, "--output slipped --region europe", answers, &out);
	if (out.code != 0)
		fail_msg("exit %d: %s", out.code, out.text);
	for (size_t k = 0; k < sizeof told / sizeof told[0]; k++)
		says(&out, told[k]);
	read_settings(*state, "slipped", &s, &i, &r);
	assert_string_equal(s.name, "attic");
	assert_int_equal(r.delays, 1);
	assert_int_equal(r.reaches, 1);
	assert_int_equal(r.reach[0].steps, 1);
	station_free(&s);
	interests_free(&i);
}

static void second_thoughts(void **state)
{
	struct output out;

	in_terminal(*state, "--output no", "\n\n\n\n\nno\n", &out);
	assert_int_equal(out.code, 0);
	says(&out, "nothing was written");
	assert_false(is_there(*state, "no", "bandcensus.conf"));
	in_terminal(*state, "--output no", "attic\n\x04", &out);
	assert_int_equal(out.code, 2);
	says(&out, "the answers ended, so nothing was written");
	assert_false(is_there(*state, "no", "bandcensus.conf"));
}

static void plug(const struct folder *f, const char *device, const char *vendor, const char *product,
		 const char *serial)
{
	char line[600];

	snprintf(line, sizeof line, "cd %s && mkdir -p usb/%s && cd usb/%s && echo %s >idVendor && echo %s >idProduct && "
		 "{ test -z '%s' || echo '%s' >serial; }", f->path, device, device, vendor, product, serial, serial);
	assert_int_equal(system(line), 0);
}

static void plugged_in(void **state)
{
	const struct folder *f = *state;
	struct stick stick[STICKS_MOST];
	struct output out;
	char path[200];

	path_of(f, "usb", "", path);
	assert_int_equal(sticks_find(path, stick), 0);
	plug(f, "1-1", "1d6b", "0002", "0000:00:14.0");
	plug(f, "1-2", "0bda", "8153", "7");
	assert_int_equal(sticks_find(path, stick), 0);
	plug(f, "1-3", "0bda", "2838", "00000001");
	assert_int_equal(sticks_find(path, stick), 1);
	assert_string_equal(stick[0].serial, "00000001");
	plug(f, "1-4", "0bda", "2832", "");
	assert_int_equal(sticks_find(path, stick), 2);
	without_terminal(f, "--region europe --output two", &out);
	says(&out, "A dongle is plugged in, serial 00000001.");
	says(&out, "A dongle is plugged in.");
	says(&out, "receivers: 2, of up to");
	/* Named so that the daemon takes both: by number where a serial is missing, or both have the same. */
	without_terminal(f, "--region europe --output two --yes", &out);
	says(&out, " --source dongle:0 --source dongle:1 --survey night.survey");
	plug(f, "1-4", "0bda", "2832", "00000001");
	without_terminal(f, "--region europe --output two --yes --overwrite", &out);
	says(&out, " --source dongle:0 --source dongle:1 --survey night.survey");
	plug(f, "1-4", "0bda", "2832", "00000002");
	without_terminal(f, "--region europe --output two --yes --overwrite", &out);
	says(&out, " --source dongle:00000001");
	says(&out, " --source dongle:00000002");
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(from_options), cmocka_unit_test(not_told_to_write), cmocka_unit_test(slips),
		cmocka_unit_test(in_a_hurry), cmocka_unit_test(described), cmocka_unit_test(described_with_slips),
		cmocka_unit_test(second_thoughts),
		cmocka_unit_test(plugged_in),
	};

	if (!getenv("BANDCENSUS"))
		return 1;
	return cmocka_run_group_tests(tests, make_folder, drop_folder);
}
