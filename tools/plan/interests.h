#ifndef BANDCENSUS_TOOLS_PLAN_INTERESTS_H
#define BANDCENSUS_TOOLS_PLAN_INTERESTS_H

#include <stdbool.h>

#include "dsp/freq.h"
#include "store/fault.h"

/* What a service is to a scanning listener. */
enum role {
	ROLE_VOICE = 0,         /* scanned                                   */
	ROLE_LOOP,              /* talks without end: kept, locked           */
	ROLE_NOTHING            /* data, paging, beacons: nothing to hear    */
};

struct interest {
	char      service[24];
	char      title[32];            /* for the sheet: "fire"             */
	char      family[24];           /* which services share a bank       */
	double    weight;               /* 0 .. 10; 0: leave out             */
	enum role role;
};

/* A frequency the listener knows something about. */
struct known {
	struct freq frequency;
	char        service[24];        /* "": as the band plan says         */
	char        name[40];           /* "": none                          */
};

struct interests {
	struct interest *service;
	int              services;
	struct known    *known;
	int              knowns;
	struct freq     *pinned;        /* always in a memory, when it can be */
	int              n_pinned;
	struct freq     *never;
	int              n_never;
};

/* The presets: fire and ambulance 10, police 8, rail, air and marine 5, works
 * and amateur 4, business 3, personal 2, broadcast 0 (common practice). */
int interests_default(struct interests *out);   /* -1: no memory */
/* Presets, then the file (kind = "interests"). */
int interests_read(const char *path, struct interests *out, struct fault *why);
void interests_free(struct interests *i);

/* Never NULL: an unknown service is a little interesting. */
const struct interest *interests_of(const struct interests *i, const char *service);
const struct known *interests_known(const struct interests *i, struct freq f);  /* or NULL */
/* Its place in the list: equal weights keep that order. */
int interests_rank(const struct interests *i, const struct interest *of);
bool interests_pinned(const struct interests *i, struct freq f);
bool interests_never(const struct interests *i, struct freq f);

#endif
