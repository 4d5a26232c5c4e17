#include "tests/dongle_watch.h"

#include "tests/test.h"

#include <signal.h>
#include <stdio.h>
#include <stdlib.h>
#include <sys/wait.h>

#define LATEST_S 7200.0         /* of real time: it is killed then */

struct scenario dongle_in_town(const char *path, const struct town *t, uint64_t seed)
{
	struct scenario s = scenario_usual();

	snprintf(s.town, sizeof s.town, "%s", path);
	s.seed = seed;
	s.town_events = true;
	scenario_unhurried(&s);
	s.dongles[0].ppm = t->crystal_ppm;
	s.dongles[0].cold_ppm = t->cold_ppm;
	s.dongles[0].warm_ppm = t->warm_ppm;
	s.dongles[0].warm_up_s = (double)t->warm_up_us * 1e-6;
	return s;
}

static void print_log(const struct scene *s)
{
	char line[1000];

	snprintf(line, sizeof line, "%s/log", s->folder);
	FILE *f = fopen(line, "r");
	while (f && fgets(line, sizeof line, f))
		print_message("%s", line);
	if (f)
		fclose(f);
}

void dongle_watch(const struct scenario *what, const char *settings, const char *survey,
		  const char *length, struct counters *out)
{
	const char *const argv[] = { getenv("BANDCENSUSD"), "--config", settings, "--survey", survey,
				     "--source", "dongle", "--for", length, NULL };
	struct scene s;

	assert_non_null(argv[0]);
	scene_begin(&s, what);
	pid_t pid = scene_start(&s, argv, "out", "log");
	int status = scene_wait(pid, LATEST_S);
	bool well = status >= 0 && WIFEXITED(status) && WEXITSTATUS(status) == 0;
	if (status < 0) {
		kill(pid, SIGKILL);
		waitpid(pid, NULL, 0);
	}
	if (!well)
		print_log(&s);
	*out = s.state->dongles[0].count;
	scene_end(&s);
	if (!well)
		fail_msg("it ended with status %d", status);
}
