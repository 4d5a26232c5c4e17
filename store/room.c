#include "store/room.h"

#include <sys/statvfs.h>

#define MB INT64_C(1000000)

int room_of(const char *path, struct room *out)
{
	struct statvfs v;

	if (statvfs(path, &v) < 0)
		return -1;
	*out = (struct room){ (int64_t)v.f_blocks * (int64_t)v.f_frsize,
			      (int64_t)v.f_bavail * (int64_t)v.f_frsize };
	return 0;
}

static const struct {
	int64_t percent, most;
} limits[ALLOWANCES] = {
	[ALLOW_NO_STRIPS] = { 5, 512 * MB },
	[ALLOW_NOTHING] = { 1, 64 * MB },
};

enum allowance room_allows(const struct room *r, enum allowance was)
{
	for (enum allowance a = ALLOW_NOTHING; a > ALLOW_ALL; a--) {
		int64_t limit = r->total / 100 * limits[a].percent;
		limit = limit < limits[a].most ? limit : limits[a].most;
		if (was >= a)
			limit += limit / 4;
		if (r->free < limit)
			return a;
	}
	return ALLOW_ALL;
}
