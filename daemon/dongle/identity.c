#include "daemon/dongle/identity.h"

#include <stdio.h>
#include <string.h>

struct identity identity_asked(const char *arg)
{
	struct identity i = { 0 };

	snprintf(i.arg, sizeof i.arg, "%s", arg);
	snprintf(i.name, sizeof i.name, *i.arg ? "dongle %s" : "dongle", i.arg);
	snprintf(i.label, sizeof i.label, "%s", i.name);
	return i;
}

void identity_met(struct identity *i, const struct dongle_facts *facts)
{
	memcpy(i->name, facts->name, sizeof i->name);
	snprintf(i->label, sizeof i->label, "%s, %s", facts->name, facts->tuner);
	if (!*facts->serial)
		return;
	i->by = DONGLE_BY_SERIAL;
	memcpy(i->arg, facts->serial, sizeof i->arg);
}
