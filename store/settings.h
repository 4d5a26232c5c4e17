#ifndef BANDCENSUS_STORE_SETTINGS_H
#define BANDCENSUS_STORE_SETTINGS_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "dsp/freq.h"
#include "store/fault.h"

/* Settings files (libconfig syntax) read by tables. A quantity is written with
 * its unit, as text: "118.0 MHz", "25/3 kHz", "20 ms", "29.7 dB". The same rows
 * read a file, refuse what is unknown, mistyped or out of range with file and
 * line, and tell a test which names the examples must mention. */

enum field_type {
	FIELD_END = 0,
	FIELD_TEXT,             /* char[size], fit to be printed (store/text.h)     */
	FIELD_BOOL,             /* bool                                             */
	FIELD_INT,              /* int32_t                                          */
	FIELD_NUMBER,           /* double; unit "" or one the text must end with    */
	FIELD_DURATION,         /* int64_t microseconds: us ms s min h d            */
	FIELD_FREQ,             /* struct freq: Hz kHz MHz GHz                      */
	FIELD_CHOICE,           /* int: index into choices                          */
	FIELD_TEXTS,            /* struct texts: list of strings                    */
	FIELD_FREQS,            /* struct freqs: list of frequencies                */
	FIELD_ROWS              /* struct rows: list of groups, read by rows_of     */
};

struct texts { char (*at)[64]; int n; };                /* owned; see settings_free */
struct freqs { struct freq *at; int n; };
struct rows  {                                          /* n elements of row_size       */
	void *at;
	int  *line;                                     /* where each was written       */
	char (*file)[200];                              /* (an @include may be another) */
	int   n;
};

struct field {
	const char         *name;       /* lower case, words joined by _              */
	enum field_type     type;
	size_t              at;         /* offsetof in the struct filled              */
	size_t              size;       /* FIELD_TEXT: room; FIELD_ROWS: bytes a row  */
	double              min, max;   /* FREQ in Hz, DURATION in s; both 0: any     */
	const char         *preset;     /* as it would be written, lists with commas;
	                                 * "": empty; NULL: required                  */
	const char         *unit;       /* FIELD_NUMBER                               */
	const char *const  *choices;    /* FIELD_CHOICE: names, NULL at the end; a
	                                 * TEXT or TEXTS may have them too            */
	bool              (*form)(const char *text);    /* FIELD_TEXT: whether it is written so; */
	const char         *formed;     /* what it must be. Empty is no text at all: it will do  */
	const struct field *rows_of;    /* FIELD_ROWS: the fields of one row          */
	const char         *help;       /* one sentence                               */
};

/* Reads the file into out as the table says, and presets for the rest; path
 * NULL: presets alone. libconfig's @include works, at the start of a line and
 * relative to the folder of path; 4 MiB in all. Owned until settings_free. -1 with a
 * FAULT_INPUT "FILE:LINE: NAME is VALUE, must be ..." and out freed again. */
int settings_read(const char *path, const struct field *table, void *out, struct fault *why);

/* Frees what lists in out own, and zeroes them. */
void settings_free(const struct field *table, void *out);

/* The name set at the top of a settings file that tells its kind:
 * kind = "daemon" | "bands" | "receiver" | "interests" | "town". Fills out with
 * it; -1 with why when the file can't be read or has none. */
int settings_kind(const char *path, char *out, size_t size, struct fault *why);

/* Calls see with the name and the text of a file, and of all that it includes, each once for
 * every time it is; borrowed. Stops at the first that does not return 0: that, or -1 with why. */
int settings_texts(const char *path, int (*see)(void *self, const char *file, const char *text),
		   void *self, struct fault *why);

/* path as written in a file that stands beside "beside": made relative to its
 * folder unless absolute. -1 when out has no room. */
int settings_beside(const char *beside, const char *path, char *out, size_t size);

/* "20 ms", "1.5 s", "12 h", "30 d" to microseconds; -1 when it is no duration. */
int duration_parse(const char *text, int64_t *us);

#endif
