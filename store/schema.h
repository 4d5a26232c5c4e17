#ifndef BANDCENSUS_STORE_SCHEMA_H
#define BANDCENSUS_STORE_SCHEMA_H

/* The tables of a survey file, as the statements that make them. */

#define SURVEY_APPLICATION_ID 0x42436e73        /* "BCns", in the file's header */

/* Schema changes, oldest first; only ever appended to. The version of a file is
 * its user_version; each is one step of the transaction that migrates. */
struct migration {
	int         version;            /* 0 ends the list */
	const char *sql;
};

extern const struct migration survey_migrations[];
int survey_newest_version(void);

#endif
