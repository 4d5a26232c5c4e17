#include "daemon/town/night.h"

#include <errno.h>
#include <limits.h>
#include <stdio.h>
#include <string.h>
#include <unistd.h>

static const char *const roles[] = { "emitter", "birdie", "noise", "ghost" };

static const char *const heading[] = {
	"# What was sent in one invented night, one line for each time a carrier was up. Overs of",
	"# talkers whose repeater did not fall in between share a line; overs counts them.",
	"# frequency_hz: nominal, exact to a third of a hertz. ctcss_hz: 0 when there is no tone.",
	"# start_us, end_us: as the computer's clock stamped it, steps and all, microseconds since",
	"# 1970 UTC; start_mono_us, end_mono_us: the same on a clock that is never stepped.",
	"# level_dbm: at the antenna socket when it began (AM: of the carrier). snr_db: over the",
	"# antenna's noise of that moment in the measured width, 0.6 of the channel step or of the",
	"# occupied width, whichever is wider. Birdies and ghosts: equivalents at 29.7 dB of gain.",
	"# Lines \"# role,name,service,frequency_hz,mode,kind,ctcss_hz,level_dbm\": who there is.",
};

static void write_who(FILE *f, const struct town *t)
{
	char hz[FREQ_TEXT];

	for (int i = 0; i < t->n_emitters; i++) {
		const struct emitter *e = &t->emitters[i];
		fprintf(f, "# %s,%s,%s,%s,%s,%s,%.1f,%.1f\n", roles[e->role], e->name, e->service,
			freq_format(hz, e->frequency), mode_name((enum mode)e->mode),
			kind_name((enum kind)e->kind), e->tone_hz, e->level_dbm);
	}
}

static void write_emitter(FILE *f, const struct night *n, int at)
{
	const struct town *t = night_town(n);
	const struct emitter *e = &t->emitters[at];
	const char *service = e->role == SENDER_EMITTER ? e->service : roles[e->role];
	char hz[FREQ_TEXT];
	int count;
	const struct over *o = night_overs(n, at, &count);

	freq_format(hz, e->frequency);
	for (int i = 0, last; i < count; i = last + 1) {
		for (last = i; last + 1 < count && o[last].end_us == o[last + 1].start_us; last++)
			;
		int64_t from = o[i].start_us, to = o[last].end_us;
		double level = e->level_dbm + o[i].level_db;
		fprintf(f, "%s,%s,%s,%s,%s,%.1f,%lld,%lld,%lld,%lld,%.1f,%.1f,%d\n", e->name,
			service, hz, mode_name((enum mode)e->mode), kind_name((enum kind)e->kind),
			e->tone_hz, (long long)town_clock_us(t, from),
			(long long)town_clock_us(t, to), (long long)t->start_us + from,
			(long long)t->start_us + to, level,
			level - town_noise_dbm(t, e, from), last - i + 1);
	}
}

int night_write_truth(const struct night *n, const char *path, struct fault *why)
{
	char draft[PATH_MAX];
	FILE *f;

	if (snprintf(draft, sizeof draft, "%s.%ld.part", path, (long)getpid()) >= (int)sizeof draft)
		return fault_set(why, FAULT_INPUT, "%s: %s", path, strerror(ENAMETOOLONG));
	f = fopen(draft, "wxe");
	if (!f)
		return fault_set(why, FAULT_INPUT, "%s: can't be written: %s", draft,
				 strerror(errno));
	for (size_t i = 0; i < sizeof heading / sizeof heading[0]; i++)
		fprintf(f, "%s\n", heading[i]);
	write_who(f, night_town(n));
	fprintf(f, "name,service,frequency_hz,mode,kind,ctcss_hz,start_us,end_us,"
		   "start_mono_us,end_mono_us,level_dbm,snr_db,overs\n");
	for (int i = 0; i < night_town(n)->n_emitters; i++)
		write_emitter(f, n, i);
	errno = 0;
	if (ferror(f) | fclose(f) || rename(draft, path) < 0) {
		fault_set(why, FAULT_INPUT, "%s: can't be written: %s", path,
			  errno ? strerror(errno) : "the disk may be full");
		unlink(draft);
		return -1;
	}
	return 0;
}
