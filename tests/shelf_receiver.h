#ifndef BANDCENSUS_TESTS_SHELF_RECEIVER_H
#define BANDCENSUS_TESTS_SHELF_RECEIVER_H

#include "tools/plan/receiver.h"

/* A base receiver: 10 banks of 40, steps 5, 12.5 and 50 kHz, a cellular gap. */
struct receiver shelf_receiver(void);

#endif
