#include "tests/fuzz_made.h"

#include <string.h>
#include <sys/mman.h>
#include <unistd.h>

#include <sqlite3.h>

#include "store/levels.h"
#include "store/schema.h"
#include "store/strip.h"
#include "tests/fuzz_log.h"

#define CHANGES_MOST 24

/* ---- a night ---- */

/* packed(n, k): n cells of a strip, of which every k-th is heard. */
static void sql_packed(sqlite3_context *to, int n, sqlite3_value **arg)
{
	size_t cells = (size_t)sqlite3_value_int(arg[0]);
	int every = sqlite3_value_int(arg[1]);
	uint8_t cell[8192], out[16384];

	(void)n;
	promise(cells <= sizeof cell && strip_room(cells) <= sizeof out, "room for the strip");
	for (size_t i = 0; i < cells; i++)
		cell[i] = every && (int)i % every == 0 ? STRIP_HEARD + 18 : STRIP_QUIET;
	sqlite3_result_blob(to, out, (int)strip_pack(cell, cells, out), SQLITE_TRANSIENT);
}

/* levels(us, looks): all of it 18 dB over the floor. */
static void sql_levels(sqlite3_context *to, int n, sqlite3_value **arg)
{
	int64_t us[LEVEL_BINS] = { 0 }, looks[LEVEL_BINS] = { 0 };
	uint8_t out[LEVELS_ROOM];

	(void)n;
	us[18] = sqlite3_value_int64(arg[0]);
	looks[18] = sqlite3_value_int64(arg[1]);
	sqlite3_result_blob(to, out, (int)levels_pack(us, looks, out), SQLITE_TRANSIENT);
}

/* Rows of a version, put in before it is brought up to the next. Two receivers for two hours of the 1st of
 * January 2026; overs of 4 s each 37 s go round some channels, and those of the second band answer. */
#define NIGHT "1767225600000000"
static const struct { int version; const char *sql; } nights[] = {
	{ 1, "INSERT INTO run VALUES(1," NIGHT "," NIGHT "+7200000000,'roof','dongle 1','0.1',2400000,297,-38217,20000,"
	     "1000000,3000),(2," NIGHT "+60000000,0,'roof','dongle 2','0.1',2400000,297,1500,20000,1000000,3000);"
	     "INSERT INTO band VALUES(0,'fire','Fire','fire',461310000,37500,24,'NFM',11000),"
	     "(1,'works','Works','works',466500000,37500,24,'NFM',11000),"
	     "(2,'air','Air','air',354000000,25000,30,'AM',6000);"
	     "WITH h(n) AS (VALUES(0),(1)) INSERT INTO coverage SELECT band,0,channels," NIGHT "+n*3600000000,run.id,"
	     "1800,1799,36000000,3,-1260000 FROM h,band,run;"
	     "WITH RECURSIVE o(n) AS (VALUES(0) UNION ALL SELECT n+1 FROM o WHERE n<45) INSERT INTO transmission"
	     "(run,band,channel,first_us,last_us,before_us,after_us,busy_us,looks,level_ddb,peak_ddb,floor_ddb,"
	     "offset_hz,width_hz,kind,confidence,tone_ddhz) SELECT 1+n%5/4,n%3,(n%7)*(n%3+1)," NIGHT "+n*37000000+n%3*5000000,"
	     NIGHT "+n*37000000+n%3*5000000+4000000,400000,400000,80000,4,180+n%30,200+n%30,-700,n%9*100,9000,"
	     "CASE n%3 WHEN 2 THEN 'am' ELSE 'nfm' END,900,CASE n%7 WHEN 1 THEN 1035 ELSE 0 END FROM o;"
	     "INSERT INTO activity SELECT band,channel,first_us/3600000000*3600000000,run,sum(looks),sum(busy_us),"
	     "count(*),sum(looks)-count(*),0,0,levels(sum(busy_us),sum(looks)) FROM transmission GROUP BY 1,2,3,4;"
	     "INSERT INTO incident VALUES(1,1," NIGHT "+9000000," NIGHT "+19000000,'lost','its cable?'),"
	     "(2,2," NIGHT "+9000000,0,'rest','');"
	     "INSERT INTO artefact VALUES(1,1," NIGHT "+9000000,2,29,'birdie','stays when the tuner moves'),"
	     "(2,1," NIGHT "+9000000,0,0,'real','goes with the air')" },
	{ 2, "UPDATE transmission SET heard_ms=3900,occupied_hz=9100,down26_hz=14000,deviation_hz=2400,below='tone'"
	     " WHERE id%4=1;"
	     "INSERT INTO setting VALUES(1,'a.conf','place = \"roof\";'),(2,'b.conf','');"
	     "INSERT INTO parked(band,first,count,hour,run,parks,parked_us) SELECT band,0,channels," NIGHT ",1,6,60000000"
	     " FROM band;"
	     "WITH m(n) AS (VALUES(0),(1),(2),(3)) INSERT INTO strip(band,start_us,cell_us,run,cells,packed)"
	     " SELECT band," NIGHT "+n*60000000,60000000,1,1,packed(channels,n) FROM m,band;"
	     "INSERT INTO strip(band,start_us,cell_us,run,cells,packed) SELECT band," NIGHT
	     "+3600000000,60000000,1,60,packed(60*channels,31) FROM band" },
	{ 3, "UPDATE coverage SET more_hours=23 WHERE hour=(SELECT max(hour) FROM coverage) AND run=2" },
	{ 5, "UPDATE band SET split_thirds='5190000' WHERE band=0" },
	{ 0, NULL }
};

static void run_sql(sqlite3 *db, const char *sql)
{
	char *said = NULL;

	if (sqlite3_exec(db, sql, NULL, NULL, &said) != SQLITE_OK) {
		fprintf(stderr, "%s: %s\n", sql, said);
		promise(0, "the night is made");
	}
}

static sqlite3 *open_memory(void)
{
	sqlite3 *db;

	promise(sqlite3_open(":memory:", &db) == SQLITE_OK, "a database in memory");
	sqlite3_create_function(db, "packed", 2, SQLITE_UTF8, NULL, sql_packed, NULL, NULL);
	sqlite3_create_function(db, "levels", 2, SQLITE_UTF8, NULL, sql_levels, NULL, NULL);
	run_sql(db, "PRAGMA temp_store=MEMORY");
	return db;
}

static sqlite3 *make_night(int version, int page_size)
{
	sqlite3 *db = open_memory();
	char sql[100];

	snprintf(sql, sizeof sql, "PRAGMA page_size=%d; BEGIN", page_size);
	run_sql(db, sql);
	for (const struct migration *m = survey_migrations; m->version && m->version <= version; m++) {
		run_sql(db, m->sql);
		for (int i = 0; nights[i].version; i++)
			if (nights[i].version == m->version)
				run_sql(db, nights[i].sql);
	}
	snprintf(sql, sizeof sql, "PRAGMA application_id=%d; PRAGMA user_version=%d; COMMIT", SURVEY_APPLICATION_ID,
		 version);
	run_sql(db, sql);
	return db;
}

/* Making one takes longer than all that is done with it: it is kept in a file without a name, under a number
 * that it is found by for as long as the process lasts. */
static sqlite3 *take_night(int version, int page_size)
{
	const int at = 200 + version * 32 + page_size / 512;
	sqlite3_int64 n = lseek(at, 0, SEEK_END);

	if (n <= 0) {
		sqlite3 *made = make_night(version, page_size);
		unsigned char *bytes = sqlite3_serialize(made, "main", &n, 0);
		int fd = memfd_create("night", MFD_CLOEXEC);
		promise(bytes && write(fd, bytes, (size_t)n) == n && dup2(fd, at) == at, "room for the night");
		close(fd);
		sqlite3_free(bytes);
		sqlite3_close(made);
	}
	sqlite3 *db = open_memory();
	unsigned char *bytes = sqlite3_malloc64((sqlite3_uint64)n);
	promise(bytes && pread(at, bytes, (size_t)n, 0) == n, "the night is there");
	promise(sqlite3_deserialize(db, "main", bytes, n, n, SQLITE_DESERIALIZE_FREEONCLOSE | SQLITE_DESERIALIZE_RESIZEABLE) ==
		SQLITE_OK, "the night is a database");
	return db;
}

/* ---- changes ---- */

static const char *const tables[] = { "run", "band", "coverage", "activity", "transmission", "incident", "artefact",
				      "setting", "parked", "strip" };

/* SQL's chosen(): every k-th row that it is asked of, from the j-th on. */
struct chooser {
	uint32_t every, next;
};

static void sql_chosen(sqlite3_context *to, int n, sqlite3_value **arg)
{
	struct chooser *c = sqlite3_user_data(to);

	(void)n;
	(void)arg;
	sqlite3_result_int(to, c->next == 0);
	c->next = c->next ? c->next - 1 : c->every;
}

static const int64_t edges[] = {
	0, 1, -1, 2, 60, 127, 255, 1000, 65535, INT32_MAX, INT32_MIN, INT64_C(1) << 32, INT64_MAX, INT64_MIN, INT64_MAX - 1,
	INT64_C(3600000000), INT64_C(60000000), INT64_C(1767225600000000), INT64_C(253402300799000000),
	INT64_MAX / 1000000, INT64_MIN / 1000000, INT64_C(1) << 53, 1000000, 999999,
};

static const char *const words[] = {
	"", "unknown", "carrier", "am", "nfm", "wfm", "data", "noise", "tone", "code", "nothing", "none", "AM", "NFM", "WFM",
	"real", "birdie", "image", "lost", "deaf", "clock", "overload", "rest", "warm-up", "stopped", "fire", "baseline",
	"5190000 -5190000", "\x1b[2J", "\xff\xfe", "a\nb", "'\"<script>", "=1+1", "\xe2\x80\xae",
};

/* ?1: a value of any kind. */
static void bind_value(sqlite3_stmt *q, struct script *s)
{
	uint8_t kind = script_byte(s), text[256];
	uint32_t n;
	int64_t big = 0;

	switch (kind % 8) {
	case 0:
		sqlite3_bind_int64(q, 1, (int8_t)script_byte(s));
		break;
	case 1:
		sqlite3_bind_int64(q, 1, edges[script_part(s, sizeof edges / sizeof edges[0])]);
		break;
	case 2:
		for (int i = 0; i < 8; i++)
			big = (int64_t)((uint64_t)big << 8 | script_byte(s));
		sqlite3_bind_int64(q, 1, big);
		break;
	case 3:
		n = script_part(s, sizeof words / sizeof words[0]);
		sqlite3_bind_text(q, 1, words[n], -1, SQLITE_STATIC);
		break;
	case 4:
	case 5:
		n = script_part(s, sizeof text);
		for (uint32_t i = 0; i < n; i++)
			text[i] = s->left ? script_byte(s) : 'x';
		if (kind % 8 == 4)
			sqlite3_bind_text(q, 1, (const char *)text, (int)n, SQLITE_TRANSIENT);
		else
			sqlite3_bind_blob(q, 1, text, (int)n, SQLITE_TRANSIENT);
		break;
	case 6:
		sqlite3_bind_double(q, 1, script_byte(s) / 3.0);
		break;
	default:
		sqlite3_bind_null(q, 1);
	}
}

/* A column of a table, both as the script says; false: of this version it has none. */
static int choose_column(sqlite3 *db, struct script *s, const char **table, char column[32])
{
	uint32_t nth = script_byte(s);
	sqlite3_stmt *q;
	int found;

	*table = tables[script_part(s, sizeof tables / sizeof tables[0])];
	promise(sqlite3_prepare_v2(db, "SELECT name FROM pragma_table_info(?1) ORDER BY cid LIMIT 1 OFFSET ?2 % max("
				   "(SELECT count(*) FROM pragma_table_info(?1)), 1)", -1, &q, NULL) == SQLITE_OK, "a query");
	sqlite3_bind_text(q, 1, *table, -1, SQLITE_STATIC);
	sqlite3_bind_int(q, 2, (int)nth);
	found = sqlite3_step(q) == SQLITE_ROW;
	snprintf(column, 32, "%s", found ? (const char *)sqlite3_column_text(q, 0) : "");
	sqlite3_finalize(q);
	return found;
}

/* One statement with a value; that it fails does not matter. @ is the table and # the column. */
static const char *const changes[] = {
	"UPDATE OR REPLACE @ SET # = ?1 WHERE chosen()",
	"UPDATE OR REPLACE @ SET # = # + ?1 WHERE chosen()",
	"UPDATE OR REPLACE @ SET # = # * ?1 WHERE chosen()",
	"UPDATE OR REPLACE @ SET # = # || ?1 WHERE chosen()",
	"UPDATE OR REPLACE @ SET # = substr(#, 1, ?1) WHERE chosen()",
	"UPDATE OR REPLACE @ SET # = CAST(# AS BLOB) WHERE chosen() AND ?1 IS ?1",
	"UPDATE OR REPLACE @ SET # = packed(abs(?1 % 8192), 3) WHERE chosen()",
	"DELETE FROM @ WHERE chosen() AND ?1 IS ?1",
	"CREATE TEMP TABLE again AS SELECT * FROM @ WHERE chosen(); UPDATE again SET # = ?1;"
	"INSERT OR REPLACE INTO @ SELECT * FROM again; DROP TABLE again",
};

static void spell(const char *how, const char *table, const char *column, char *to, size_t room)
{
	char *end = to + room - 1;

	for (; *how && to < end; how++)
		if (*how == '@' || *how == '#')
			to += snprintf(to, (size_t)(end - to), "%s", *how == '@' ? table : column);
		else
			*to++ = *how;
	*to = '\0';
}

static void change_rows(sqlite3 *db, struct script *s, struct chooser *c)
{
	char column[32], sql[400];
	const char *table, *rest = sql, *how = changes[script_part(s, sizeof changes / sizeof changes[0])];
	uint8_t which = script_byte(s);
	struct script value = *s, after = *s;

	if (!choose_column(db, s, &table, column))
		return;
	value = *s;
	*c = (struct chooser){ .every = which & 7, .next = which >> 3 };
	spell(how, table, column, sql, sizeof sql);
	while (*rest) {
		sqlite3_stmt *q = NULL;
		if (sqlite3_prepare_v2(db, rest, -1, &q, &rest) != SQLITE_OK)
			break;
		if (sqlite3_bind_parameter_count(q) > 0) {
			after = value;
			bind_value(q, &after);
		}
		sqlite3_step(q);
		sqlite3_finalize(q);
	}
	*s = after;
}

/* What is not rows, with the schema as it was. */
static const char *const others[] = {
	"PRAGMA user_version=0", "PRAGMA user_version=3", "PRAGMA user_version=6", "PRAGMA application_id=1",
	"CREATE TRIGGER a AFTER INSERT ON run BEGIN DELETE FROM coverage; END", "CREATE TABLE b(a)",
	"CREATE VIEW z AS SELECT randomblob(1000000000)", "DROP INDEX transmission_order",
	"UPDATE sqlite_schema SET sql=replace(sql, 'INTEGER', 'INT')", "DELETE FROM sqlite_schema WHERE name='strip'",
	"UPDATE sqlite_schema SET rootpage=rootpage-1 WHERE rootpage>2",
	"UPDATE sqlite_schema SET rootpage=(SELECT max(rootpage) FROM sqlite_schema)",
	"UPDATE sqlite_schema SET sql=NULL WHERE name='transmission_order'", "UPDATE sqlite_schema SET name=tbl_name||'x'",
	"UPDATE sqlite_schema SET sql='CREATE TABLE'", "PRAGMA encoding='UTF-16'", "PRAGMA auto_vacuum=1; VACUUM",
	"DROP TABLE artefact", "CREATE TABLE x(a); DROP TABLE x", "PRAGMA schema_version=0",
};

#define LOOSEN \
	"CREATE TEMP TABLE kept AS SELECT rowid AS r, sql FROM sqlite_schema;" \
	"UPDATE sqlite_schema SET sql=replace(replace(replace(replace(replace(sql, 'STRICT,', ''), ' STRICT', '')," \
	" ' INTEGER NOT NULL', ''), ' TEXT NOT NULL', ''), ' BLOB NOT NULL', '');" \
	"PRAGMA writable_schema=RESET; PRAGMA writable_schema=ON; PRAGMA ignore_check_constraints=ON"
#define TIGHTEN \
	"UPDATE sqlite_schema AS s SET sql=(SELECT k.sql FROM kept k WHERE k.r=s.rowid); DROP TABLE kept"

static void change(sqlite3 *db, struct script *s)
{
	struct chooser c = { 0 };
	uint32_t n = script_part(s, CHANGES_MOST), other = script_byte(s);

	sqlite3_create_function(db, "chosen", 0, SQLITE_UTF8, &c, sql_chosen, NULL, NULL);
	sqlite3_db_config(db, SQLITE_DBCONFIG_DEFENSIVE, 0, NULL);
	sqlite3_limit(db, SQLITE_LIMIT_LENGTH, 1 << 20);
	run_sql(db, "PRAGMA writable_schema=ON");
	run_sql(db, LOOSEN);
	for (uint32_t i = 0; i < n && s->left > 0; i++)
		change_rows(db, s, &c);
	run_sql(db, TIGHTEN);
	if (other >= 224)
		sqlite3_exec(db, others[(other - 224) % (sizeof others / sizeof others[0])], NULL, NULL, NULL);
}

/* ---- the file ---- */

static void put(const char *path, const void *bytes, size_t n)
{
	FILE *f = fopen(path, "w");

	promise(f && fwrite(bytes, 1, n, f) == n && fclose(f) == 0, "room for the file");
}

/* Bytes here and there; how many is rarely anything but none. */
static void poke(struct script *s, unsigned char *bytes, size_t n)
{
	uint8_t pokes = script_byte(s);

	for (int i = 0; i < (pokes >= 192 ? pokes % 8 : 0); i++) {
		uint32_t page = script_part(s, 64), at = script_part(s, 4096), value = script_byte(s);
		if (page * 4096 + at < n)
			bytes[page * 4096 + at] = (unsigned char)value;
	}
}

void made_survey(struct script *s, const char *path)
{
	static const int page_sizes[] = { 4096, 4096, 1024, 512 };
	uint8_t first = script_byte(s);
	int version = survey_newest_version() - first % (survey_newest_version() + 2);
	sqlite3 *db = take_night(version > 0 ? version : survey_newest_version(), page_sizes[first >> 6]);
	sqlite3_int64 n;

	change(db, s);
	unsigned char *bytes = sqlite3_serialize(db, "main", &n, 0);
	promise(bytes != NULL, "memory for the file");
	poke(s, bytes, (size_t)n);
	uint8_t log = script_byte(s);
	if (log >= 224)
		n = (sqlite3_int64)made_log(s, path, bytes, (size_t)n, (uint32_t)page_sizes[first >> 6]);
	put(path, bytes, (size_t)n);
	sqlite3_free(bytes);
	sqlite3_close(db);
}
