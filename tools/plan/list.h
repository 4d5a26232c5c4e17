#ifndef BANDCENSUS_TOOLS_PLAN_LIST_H
#define BANDCENSUS_TOOLS_PLAN_LIST_H

#include <stddef.h>

/* Room for one more at the end of an array that holds n. The array may move.
 * 0, or -1 when there is no memory and all is as before. */
int list_room(void **array, int n, size_t size);

/* The q-quantile of n values, which are sorted for it; 0 of none. */
double list_quantile(double *value, int n, double q);

#endif
