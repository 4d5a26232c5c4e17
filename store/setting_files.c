#include "store/setting_files.h"

#include "store/settings.h"

struct keeping {
	struct survey *survey;
	int64_t        run;
	struct fault  *why;
};

static int keep(void *self, const char *file, const char *text)
{
	const struct keeping *k = self;
	const struct setting_row row = { k->run, file, text };

	return survey_add_setting(k->survey, &row, k->why);
}

int setting_files_keep(struct survey *s, int64_t run, const char *const *paths, int n,
		       struct fault *why)
{
	struct keeping k = { s, run, why };

	if (survey_begin(s, why) < 0)
		return -1;
	for (int i = 0; i < n; i++)
		if (paths[i] && paths[i][0] && settings_texts(paths[i], keep, &k, why) < 0)
			goto undo;
	if (survey_commit(s, why) < 0)
		goto undo;
	return 0;
undo:
	survey_rollback(s);
	return -1;
}
