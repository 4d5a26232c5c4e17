#include "tests/test.h"

#include <dirent.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <sys/wait.h>
#include <unistd.h>

#include "store/picture.h"
#include "store/thin.h"
#include "tests/survey_place.h"

/* Whatever appears beside a survey while it is made, written, thinned and closed, at whatever
 * moment it is looked at, is for its owner alone, though the user's mask would let all read. */

struct watched {
	int looks, wide, logs;
	char first[300];                /* that was wide */
};

static void look(const struct place *p, struct watched *w)
{
	char path[WORLD_ROOM + 300];
	struct dirent *e;
	struct stat st;
	DIR *d = opendir(p->folder);

	assert_non_null(d);
	w->looks++;
	while ((e = readdir(d))) {
		snprintf(path, sizeof path, "%s/%.255s", p->folder, e->d_name);
		if (stat(path, &st) < 0 || !S_ISREG(st.st_mode))
			continue;
		w->logs += strstr(e->d_name, "-wal") != NULL;
		
		if ((st.st_mode & 0777) != 0600 && w->wide++ == 0)
			snprintf(w->first, sizeof w->first, "%.255s is %o", e->d_name, st.st_mode & 0777u);
	}
	closedir(d);
}

static int write_much(const char *path)
{
	static const struct keep keep = { HOUR_US, HOUR_US, HOUR_US, HOUR_US };
	struct fault why = { 0 };

	for (int i = 0; i < 20; i++) {
		struct run_row run = world_run();
		struct survey *s = survey_write(path, &run, world_bands, WORLD_BANDS, &why);
		struct thinning t = { 0 };
		if (!s)
			return 1;
		for (int n = 0; n < 10; n++) {
			struct world_rows rows = world_rows(run.id, n);
			if (world_write(s, &rows, &why) < 0)
				return 1;
		}
		while (thin_step(s, &keep, 100 * 24 * HOUR_US, &t, &why) > 0)
			;
		survey_close(s);
	}
	return 0;
}

static void for_its_owner_alone(void **state)
{
	const struct place *p = *state;
	struct watched w = { 0 };
	int status = 0;

	pid_t pid = fork();
	if (pid == 0) {
		umask(0);
		setenv("SQLITE_TMPDIR", p->folder, 1);
		_exit(write_much(p->path));
	}
	while (waitpid(pid, &status, WNOHANG) == 0)
		look(p, &w);
	look(p, &w);
	assert_int_equal(status, 0);
	if (w.wide)
		fail_msg("%d of %d looks: %s", w.wide, w.looks, w.first);
	if (w.looks < 20 || w.logs < 5)
		fail_msg("%d looks, %d logs: nothing was seen", w.looks, w.logs);
}

#define TEST(name) cmocka_unit_test_setup_teardown(name, make_place, remove_place)

int main(void)
{
	const struct CMUnitTest tests[] = { TEST(for_its_owner_alone) };

	return cmocka_run_group_tests(tests, NULL, NULL);
}
