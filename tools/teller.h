#ifndef BANDCENSUS_TOOLS_TELLER_H
#define BANDCENSUS_TOOLS_TELLER_H

#include "tools/tell.h"

/* For those who write a telling down: json.c, csv.c, and whoever documents it. */

enum told_type { TOLD_TEXT, TOLD_WHOLE, TOLD_REAL, TOLD_YES, TOLD_FREQ, TOLD_TIME, TOLD_WHOLES };

/* One field. text is what CSV shows, of any type; numbers are to be read off it. */
struct told_field {
	const char    *name, *meaning;
	enum told_type type;
	bool           known;
	const char    *text;
	const int64_t *whole;           /* TOLD_WHOLES, and TOLD_WHOLE: one            */
	int            wholes;
};

/* What becomes of each part of a telling; self is the teller's. */
struct teller_ops {
	void (*field)(struct teller *t, const struct told_field *f);
	void (*open)(struct teller *t, const char *name, bool known, const char *meaning);
	void (*close)(struct teller *t);
	void (*list)(struct teller *t, const char *name, const char *meaning);
	/* Row i begins, or the list of n ends; whether there is such a row. */
	bool (*more)(struct teller *t, int i, int n);
};

struct teller {
	const struct teller_ops *ops;
	void *self;
};

#endif
