#include "io/store_schema.h"

#include <stdint.h>
#include <stdio.h>
#include <string.h>
#include <unistd.h>

#include "io/store_private.h"

/* "afts"; marks the file as ours in its header, where file(1) can see it too. */
#define APPLICATION_ID      0x61667473
#define APPLICATION_ID_TEXT "1634104435"

/* An address that was kept as it was typed becomes one as it is put. */
#define WRITE_ALIKE(table, column)                                                  \
    "UPDATE OR REPLACE " table " SET " column " = upper(substr(" column ", 1, 17))" \
    " WHERE " column " GLOB '??:??:??:??:??:??*'"                                   \
    " AND substr(" column ", 18) IN ('', '/public', '/random');"

/* AUTOINCREMENT: a number once told to the rider never means another ride. A chunk needs no index
 * by ride: there is one ride at a time, so the table holds little else than what is asked for.
 * Journals have a table of their own: in the row of their ride, as at first, every list had to step
 * over them. */
const char *const store_schema_steps[] = {
    "PRAGMA application_id = " APPLICATION_ID_TEXT ";"
    "CREATE TABLE ride ("
    " id INTEGER PRIMARY KEY AUTOINCREMENT,"
    " started_unix_s INTEGER NOT NULL,"
    " title TEXT NOT NULL,"
    " bike TEXT NOT NULL,"
    " state INTEGER NOT NULL DEFAULT 0 CHECK (state IN (0, 1, 2)),"
    " ending TEXT CHECK (ending IN ('done', 'stopped', 'cut_off')),"
    " reason TEXT,"
    " duration_s INTEGER,"
    " work_j INTEGER,"
    " average_power_w INTEGER,"
    " distance_m INTEGER,"
    " calories_kcal INTEGER,"
    " calories_low_kcal INTEGER,"
    " calories_high_kcal INTEGER,"
    " in_range_pct INTEGER,"
    " average_heart_bpm INTEGER,"
    " max_heart_bpm INTEGER,"
    " best_5s_w INTEGER,"
    " best_30s_w INTEGER,"
    " best_60s_w INTEGER,"
    " best_180s_w INTEGER,"
    " journal_length INTEGER," /* octets before packing */
    " journal BLOB,"           /* a zlib stream (RFC 1950) */
    " CHECK (state = 0 OR journal IS NOT NULL)"
    ") STRICT;"
    "CREATE TABLE journal_chunk ("
    " seq INTEGER PRIMARY KEY,"
    " ride_id INTEGER NOT NULL REFERENCES ride (id),"
    " text TEXT NOT NULL"
    ") STRICT;",
    /* What a ride was made from and how the rider was; what it came to, and what the rider said. */
    "ALTER TABLE ride ADD COLUMN profile TEXT;"
    "ALTER TABLE ride ADD COLUMN length_ms INTEGER;"
    "ALTER TABLE ride ADD COLUMN feel INTEGER;"
    "ALTER TABLE ride ADD COLUMN is_fresh INTEGER;"
    "ALTER TABLE ride ADD COLUMN work_s INTEGER;"
    "ALTER TABLE ride ADD COLUMN work_power_w INTEGER;"
    "ALTER TABLE ride ADD COLUMN heart_fall_bpm INTEGER;"
    "ALTER TABLE ride ADD COLUMN effort INTEGER;"
    "ALTER TABLE ride ADD COLUMN note TEXT;",
    /* What the levels of a machine cost, see ride/brake_curve.h. */
    "CREATE TABLE brake ("
    " bike TEXT PRIMARY KEY," /* as of its rides */
    " c0_mw INTEGER NOT NULL,"
    " c1_mw INTEGER NOT NULL,"
    " c2_mw INTEGER NOT NULL,"
    " c3_mw INTEGER NOT NULL"
    ") STRICT, WITHOUT ROWID;",
    /* Blocks written down by hand, in state 3, have no journal. They and what was ridden elsewhere
     * come later than what they are before, so rides are in the order of their time. */
    "CREATE TABLE ride_now ("
    " id INTEGER PRIMARY KEY AUTOINCREMENT,"
    " started_unix_s INTEGER NOT NULL,"
    " title TEXT NOT NULL,"
    " bike TEXT NOT NULL,"
    " profile TEXT,"
    " length_ms INTEGER,"
    " feel INTEGER,"
    " is_fresh INTEGER NOT NULL DEFAULT 0,"
    " state INTEGER NOT NULL DEFAULT 0 CHECK (state IN (0, 1, 2, 3)),"
    " ending TEXT CHECK (ending IN ('done', 'stopped', 'cut_off')),"
    " reason TEXT,"
    " duration_s INTEGER,"
    " work_j INTEGER,"
    " average_power_w INTEGER,"
    " distance_m INTEGER,"
    " calories_kcal INTEGER,"
    " calories_low_kcal INTEGER,"
    " calories_high_kcal INTEGER,"
    " in_range_pct INTEGER,"
    " average_heart_bpm INTEGER,"
    " max_heart_bpm INTEGER,"
    " best_5s_w INTEGER,"
    " best_30s_w INTEGER,"
    " best_60s_w INTEGER,"
    " best_180s_w INTEGER,"
    " work_s INTEGER,"
    " work_power_w INTEGER,"
    " heart_fall_bpm INTEGER,"
    " effort INTEGER,"
    " note TEXT"
    ") STRICT;"
    "INSERT INTO ride_now SELECT id, started_unix_s, title, bike, profile, length_ms, feel,"
    " coalesce(is_fresh, 0), state, ending, reason, duration_s, work_j, average_power_w,"
    " distance_m, calories_kcal, calories_low_kcal, calories_high_kcal, in_range_pct,"
    " average_heart_bpm, max_heart_bpm, best_5s_w, best_30s_w, best_60s_w, best_180s_w, work_s,"
    " work_power_w, heart_fall_bpm, effort, note FROM ride;"
    "CREATE TABLE journal ("
    " ride_id INTEGER PRIMARY KEY REFERENCES ride (id),"
    " length INTEGER NOT NULL," /* octets before packing */
    " packed BLOB NOT NULL"     /* an .xz stream, or of old a zlib stream (RFC 1950) */
    ") STRICT;"
    "INSERT INTO journal SELECT id, journal_length, journal FROM ride"
    " WHERE journal IS NOT NULL AND journal_length IS NOT NULL;"
    "DROP TABLE ride;"
    "ALTER TABLE ride_now RENAME TO ride;"
    "CREATE INDEX ride_by_time ON ride (started_unix_s);"
    "CREATE INDEX ride_alike ON ride (title, bike, is_fresh, started_unix_s);"
    "CREATE INDEX ride_unfinished ON ride (id) WHERE state = 0;",
    /* What was proposed for it, where the rider chose otherwise. */
    ("ALTER TABLE ride ADD COLUMN proposed INTEGER;"
     "ALTER TABLE ride ADD COLUMN proposed_length_ms INTEGER;"),
    /* Who measured the power: a sensor's address, its share, and how far it reads above the bike.
     */
    ("ALTER TABLE ride ADD COLUMN power_sensor TEXT;"
     "ALTER TABLE ride ADD COLUMN sensor_pct INTEGER;"
     "ALTER TABLE ride ADD COLUMN difference_tenths INTEGER;"
     "ALTER TABLE ride ADD COLUMN difference_error_tenths INTEGER;"),
    /* Where a brake that is turned by hand was left. */
    ("CREATE TABLE knob ("
     " bike TEXT PRIMARY KEY," /* as of its rides */
     " position INTEGER NOT NULL,"
     " top INTEGER NOT NULL"
     ") STRICT, WITHOUT ROWID;"),
    /* What devices are called, see port/device_store.h. */
    ("CREATE TABLE device ("
     " kind TEXT NOT NULL CHECK (kind IN ('bike', 'power')),"
     " name TEXT NOT NULL,"
     " address TEXT," /* NULL: none that stays is known */
     " PRIMARY KEY (kind, name),"
     " UNIQUE (kind, address)"
     ") STRICT, WITHOUT ROWID;" WRITE_ALIKE("ride", "bike") WRITE_ALIKE("brake", "bike")
         WRITE_ALIKE("knob", "bike") WRITE_ALIKE("ride", "power_sensor")),
    /* The highest level that taught it. Of what was learned before nobody knows: the next ride
     * feels its way up once more. */
    "ALTER TABLE brake ADD COLUMN ridden_permille INTEGER NOT NULL DEFAULT 0;",
};
const int store_schema_step_count = sizeof store_schema_steps / sizeof store_schema_steps[0];

static uint32_t big_endian_u32(const uint8_t *octets)
{
    return (uint32_t)octets[0] << 24 | (uint32_t)octets[1] << 16 | (uint32_t)octets[2] << 8 |
           octets[3];
}

/* Read by hand and not through SQLite, which would replay a journal that lies beside a foreign
 * file. Source: SQLite Database File Format, section 1.3, "The Database Header". */
enum result store_schema_inspect(int fd)
{
    static const char magic[16] = "SQLite format 3";
    enum { HEADER_SIZE = 100, APPLICATION_ID_AT = 68 };
    uint8_t header[HEADER_SIZE];
    ssize_t got = pread(fd, header, sizeof header, 0);
    if (got < 0)
        return RESULT_IO;
    if (got == 0)
        return RESULT_OK;
    if (got < HEADER_SIZE || memcmp(header, magic, sizeof magic) != 0)
        return RESULT_INVALID;
    if (big_endian_u32(header + APPLICATION_ID_AT) != APPLICATION_ID)
        return RESULT_REFUSED;
    return RESULT_OK;
}

static int read_version(sqlite3 *database, int *ret)
{
    sqlite3_stmt *statement = NULL;
    int code = sqlite3_prepare_v2(database, "PRAGMA user_version", -1, &statement, NULL);
    if (code == SQLITE_OK)
        code = sqlite3_step(statement);
    if (code == SQLITE_ROW) {
        *ret = sqlite3_column_int(statement, 0);
        code = SQLITE_OK;
    }
    sqlite3_finalize(statement);
    return code;
}

static int write_version(sqlite3 *database, int version)
{
    char sql[48];
    snprintf(sql, sizeof sql, "PRAGMA user_version = %d", version);
    return sqlite3_exec(database, sql, NULL, NULL, NULL);
}

/* Reads the version again inside the transaction: another process may have been faster. */
static int step_up(sqlite3 *database, const char *const *steps, int version)
{
    int now = 0;
    int code = sqlite3_exec(database, "BEGIN IMMEDIATE", NULL, NULL, NULL);
    if (code != SQLITE_OK)
        return code;
    code = read_version(database, &now);
    if (code == SQLITE_OK && now == version) {
        code = sqlite3_exec(database, steps[version], NULL, NULL, NULL);
        if (code == SQLITE_OK)
            code = write_version(database, version + 1);
    }
    if (code == SQLITE_OK)
        code = sqlite3_exec(database, "COMMIT", NULL, NULL, NULL);
    if (code != SQLITE_OK)
        store_roll_back(database);
    return code;
}

enum result store_schema_migrate(sqlite3 *database, const char *const *steps, int count)
{
    int version = 0;
    int code = read_version(database, &version);
    while (code == SQLITE_OK && version >= 0 && version < count) {
        code = step_up(database, steps, version);
        if (code == SQLITE_OK)
            code = read_version(database, &version);
    }
    if (code != SQLITE_OK)
        return store_result(code);
    return version == count ? RESULT_OK : RESULT_UNSUPPORTED;
}
