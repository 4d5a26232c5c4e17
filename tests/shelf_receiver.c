#include "tests/shelf_receiver.h"

struct receiver shelf_receiver(void)
{
	struct receiver r = {
		.name = "base",
		.reaches = 2,
		.banks = 10,
		.memories = 40,
		.live_per_bank = 25,
		.empty_per_bank = 4,
		.search_ranges = 10,
		.ranges_free = 2,
		.scan_rate = 25,
		.slow_rate = 13,
		.delay_us = { 2000000, 4000000 },
		.delays = 2,
		.delay_zero = true,
		.priorities = 1,
		.priority_s = 2,
		.keypad = { 1, 1, 1, 1, 1, 1, 4, 2 },
		.attenuator_db = 10,
		.display_digits = 4,
		.filter_hz = { [MODE_AM] = 9000, [MODE_NFM] = 15000, [MODE_WFM] = 180000 },
	};
	for (int i = 0; i < 2; i++)
		r.reach[i] = (struct reach){
			.low = FREQ_KHZ(i ? 894012 : 25000), .high = FREQ_KHZ(i ? 1300000 : 823987),
			.modes = 1u << MODE_AM | 1u << MODE_NFM | 1u << MODE_WFM,
			.step = { FREQ_HZ(5000), FREQ_HZ(12500), FREQ_HZ(50000) }, .steps = 3,
		};
	return r;
}
