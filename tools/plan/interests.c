#include "tools/plan/interests.h"

#include "tools/plan/list.h"

#include <stdlib.h>
#include <string.h>
#include <strings.h>

static const struct interest presets[] = {
	{ "fire",      "fire",               "fire and ambulance", 10, ROLE_VOICE },
	{ "ems",       "ambulance",          "fire and ambulance", 10, ROLE_VOICE },
	{ "rescue",    "rescue",             "fire and ambulance",  9, ROLE_VOICE },
	{ "police",    "police",             "police",              8, ROLE_VOICE },
	{ "rail",      "railway",            "railway",             5, ROLE_VOICE },
	{ "air",       "aircraft",           "aircraft",            5, ROLE_VOICE },
	{ "military-air", "military aircraft", "aircraft",          5, ROLE_VOICE },
	{ "marine",    "ships",              "ships",               5, ROLE_VOICE },
	{ "works",     "public works",       "works and business",  4, ROLE_VOICE },
	{ "amateur",   "amateur",            "amateur",             4, ROLE_VOICE },
	{ "business",  "business",           "works and business",  3, ROLE_VOICE },
	{ "mixed",     "business or works",  "works and business",  3, ROLE_VOICE },
	{ "public-safety", "police or works", "police",             8, ROLE_VOICE },
	{ "service",   "service",            "works and business",  3, ROLE_VOICE },
	{ "personal",  "personal handhelds", "personal",            2, ROLE_VOICE },
	{ "weather",   "weather",            "loops",               3, ROLE_LOOP },
	{ "broadcast", "broadcast",          "broadcast",           0, ROLE_LOOP },
	{ "beacon",    "beacon",             "data",                0, ROLE_NOTHING },
	{ "paging",    "paging",             "data",                0, ROLE_NOTHING },
	{ "telemetry", "telemetry",          "data",                0, ROLE_NOTHING },
	{ "trunked",   "trunked system",     "data",                0, ROLE_NOTHING },
};

static const struct interest other = { "", "unknown user", "works and business", 3, ROLE_VOICE };

int interests_default(struct interests *out)
{
	*out = (struct interests){ 0 };
	for (size_t i = 0; i < sizeof presets / sizeof presets[0]; i++) {
		if (list_room((void **)&out->service, out->services, sizeof *out->service) < 0) {
			interests_free(out);
			return -1;
		}
		out->service[out->services++] = presets[i];
	}
	return 0;
}

void interests_free(struct interests *i)
{
	free(i->service);
	free(i->known);
	free(i->pinned);
	free(i->never);
	*i = (struct interests){ 0 };
}

const struct interest *interests_of(const struct interests *i, const char *service)
{
	for (int n = 0; n < i->services; n++)
		if (strcasecmp(i->service[n].service, service) == 0)
			return &i->service[n];
	return &other;
}

int interests_rank(const struct interests *i, const struct interest *of)
{
	return of >= i->service && of < i->service + i->services ? (int)(of - i->service) :
								   i->services;
}

const struct known *interests_known(const struct interests *i, struct freq f)
{
	for (int n = 0; n < i->knowns; n++)
		if (i->known[n].frequency.thirds == f.thirds)
			return &i->known[n];
	return NULL;
}

static bool listed(const struct freq *list, int n, struct freq f)
{
	for (int i = 0; i < n; i++)
		if (list[i].thirds == f.thirds)
			return true;
	return false;
}

bool interests_pinned(const struct interests *i, struct freq f)
{
	return listed(i->pinned, i->n_pinned, f);
}

bool interests_never(const struct interests *i, struct freq f)
{
	return listed(i->never, i->n_never, f);
}
