#include "port/device_store.h"

#include <assert.h>
#include <inttypes.h>
#include <stdio.h>
#include <string.h>

#include "io/store_private.h"
#include "io/store_text.h"

static const char *const kinds[] = {[STORE_BIKE] = "bike", [STORE_POWER_SENSOR] = "power"};

/* What was learned last, which is under the address, counts. */
static const char *const renaming[] = {
    [STORE_BIKE] = "UPDATE ride SET bike = ?1 WHERE bike = ?2;"
                   "UPDATE OR REPLACE brake SET bike = ?1 WHERE bike = ?2;"
                   "UPDATE OR REPLACE knob SET bike = ?1 WHERE bike = ?2",
    [STORE_POWER_SENSOR] = "UPDATE ride SET power_sensor = ?1 WHERE power_sensor = ?2",
};

static int bind(sqlite3_stmt *statement, const char *const *texts, int count)
{
    int code = SQLITE_OK;

    for (int i = 0; code == SQLITE_OK && i < count; i++)
        code = sqlite3_bind_text(statement, i + 1, texts[i], -1, SQLITE_STATIC);
    return code;
}

/* Statements that give no rows, one after the other. NULL is put as NULL. */
static enum result change(struct store *store, const char *sql, const char *const *texts, int count)
{
    int code = SQLITE_OK;

    while (code == SQLITE_OK && *sql != '\0') {
        sqlite3_stmt *statement = NULL;
        code = sqlite3_prepare_v2(store->database, sql, -1, &statement, &sql);
        if (code == SQLITE_OK)
            code = bind(statement, texts, count);
        if (code == SQLITE_OK)
            code = sqlite3_step(statement);
        (void)sqlite3_finalize(statement);
        code = code == SQLITE_DONE ? SQLITE_OK : code;
    }
    return store_outcome(store, code);
}

/* The one text of the one row, empty where it is NULL. RESULT_NOT_FOUND: there is none. */
static enum result find(struct store *store, const char *sql, enum store_device kind,
                        const char *key, char *ret)
{
    const char *const texts[] = {kinds[kind], key};
    sqlite3_stmt *statement = NULL;
    int code = sqlite3_prepare_v2(store->database, sql, -1, &statement, NULL);

    if (code == SQLITE_OK)
        code = bind(statement, texts, 2);
    if (code == SQLITE_OK)
        code = sqlite3_step(statement);
    if (code == SQLITE_ROW) {
        const unsigned char *text = sqlite3_column_text(statement, 0);
        const size_t length = (size_t)sqlite3_column_bytes(statement, 0);
        store_clean_text(ret, STORE_BIKE_MAX + 1, text, text != NULL ? length : 0);
    }
    (void)sqlite3_finalize(statement);
    return code == SQLITE_DONE ? RESULT_NOT_FOUND : store_outcome(store, code);
}

/* Within a transaction, as all that changes several things. */
static enum result name_device(struct store *store, enum store_device kind, const char *address,
                               const char *name)
{
    const char *const row[] = {kinds[kind], name, address[0] != '\0' ? address : NULL};
    const char *const names[] = {name, address};
    enum result result = change(
        store, "INSERT OR REPLACE INTO device (kind, name, address) VALUES (?1, ?2, ?3)", row, 3);

    if (result == RESULT_OK && address[0] != '\0')
        result = change(store, renaming[kind], names, 2);
    return result;
}

/* Of the transaction, all of which went well or not. */
static enum result finish(struct store *store, enum result result)
{
    if (result == RESULT_OK)
        result = store_execute(store, "COMMIT");
    if (result != RESULT_OK)
        store_roll_back(store->database);
    return result;
}

static enum result keep(struct store *store, enum store_device kind, const char *address,
                        const char *name)
{
    const enum result result = store_execute(store, "BEGIN IMMEDIATE");

    return result != RESULT_OK ? result : finish(store, name_device(store, kind, address, name));
}

enum result store_call_device(struct store *store, enum store_device kind, const char *address,
                              const char *name, char *ret)
{
    char found[STORE_BIKE_MAX + 1] = "";

    assert(address[0] != '\0' || name[0] != '\0');
    assert(strlen(address) <= STORE_BIKE_MAX && strlen(name) <= STORE_BIKE_MAX);
    enum result result = find(store, "SELECT name FROM device WHERE kind = ?1 AND address = ?2",
                              kind, address, found);
    if (result == RESULT_OK)
        memcpy(ret, found, sizeof found);
    if (result != RESULT_NOT_FOUND)
        return result;
    result =
        find(store, "SELECT address FROM device WHERE kind = ?1 AND name = ?2", kind, name, found);
    if (result != RESULT_OK && result != RESULT_NOT_FOUND)
        return result;
    const bool is_known = result == RESULT_OK;
    const bool may_be_its = found[0] == '\0' && address[0] != '\0';
    if (name[0] == '\0' || (found[0] != '\0' && address[0] != '\0'))
        name = address;
    else if (!is_known || may_be_its)
        result = keep(store, kind, address, name);
    if (result == RESULT_OK || result == RESULT_NOT_FOUND)
        memcpy(ret, name, strlen(name) + 1);
    return result == RESULT_NOT_FOUND ? RESULT_OK : result;
}

enum result store_bike_answered(struct store *store, int64_t id, const char *address,
                                const char *name)
{
    char number[24];
    const char *const row[] = {name, number};
    enum result result = store_execute(store, "BEGIN IMMEDIATE");

    if (result != RESULT_OK)
        return result;
    (void)snprintf(number, sizeof number, "%" PRId64, id);
    result = name_device(store, STORE_BIKE, address, name);
    if (result == RESULT_OK)
        result = change(store, "UPDATE ride SET bike = ?1 WHERE id = ?2", row, 2);
    return finish(store, result);
}
