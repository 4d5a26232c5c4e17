#ifndef BANDCENSUS_TOOLS_PLAN_LIST_H
#define BANDCENSUS_TOOLS_PLAN_LIST_H

#include <stddef.h>

/* Room for one more at the end of an array that holds n. The array may move.
 * 0, or -1 when there is no memory and all is as before. */
int list_room(void **array, int n, size_t size);

/* Sorts whole numbers of 32 bits, ascending: many that lie close together much sooner than others. */
void list_sort_whole(double *value, int n);

/* The q-quantile of n values, which are sorted for it; 0 of none. */
double list_quantile(double *value, int n, double q);

#endif
