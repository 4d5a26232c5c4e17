#include "tools/plan/rise.h"

#include "tools/plan/list.h"

#include <stdlib.h>

int rise_note(struct rise *r, const struct coverage_row *row)
{
	bool loud = (double)row->clipped > CLIPPED_SHARE * (double)row->looks;
	int i = 0;

	while (i < r->parts && r->part[i].first != row->first)
		i++;
	if (i == r->parts) {
		if (list_room((void **)&r->part, r->parts, sizeof *r->part) < 0)
			return -1;
		r->part[r->parts++] = (struct rise_part){ .first = row->first };
	}
	struct rise_level *l = loud ? &r->part[i].loud : &r->part[i].calm;
	l->ddb += row->floor_ddb_sum;
	l->looks += row->looks;
	return 0;
}

double rise_most(const struct rise *r)
{
	double most = 0;

	for (int i = 0; i < r->parts; i++) {
		const struct rise_level *calm = &r->part[i].calm, *loud = &r->part[i].loud;
		if (calm->looks <= 0 || loud->looks <= 0)
			continue;
		double by = 0.1 * ((double)loud->ddb / (double)loud->looks -
				   (double)calm->ddb / (double)calm->looks);
		most = by > most ? by : most;
	}
	return most;
}

void rise_free(struct rise *r)
{
	free(r->part);
	*r = (struct rise){ 0 };
}
