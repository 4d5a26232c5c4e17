#ifndef BANDCENSUS_DAEMON_DUTY_H
#define BANDCENSUS_DAEMON_DUTY_H

#include "daemon/job.h"

/* Keeps watch by the timetable, shift after shift, until stop is set or what --for gives is over;
 * without hours in the settings there is one shift without end. Outside its shifts nothing is
 * open. With --folder each week has a survey of its own. What has a clock of its own (a
 * recording, a town) is surveyed once and at once. The service manager is told (notify.h).
 * What may pass (FAULT_RETRY) is tried again while a shift lasts; so is what a person must mend, once
 * something was looked at with these settings: it came about since.
 * 0 when it ended as it should, stopped included. */
int duty(struct job *j, const volatile sig_atomic_t *stop, struct fault *why);

#endif
