#include "port/brake_store.h"

#include <limits.h>

#include "io/store_private.h"

static const char select_sql[] = "SELECT c0_mw, c1_mw, c2_mw, c3_mw, ridden_permille"
                                 " FROM brake WHERE bike = ?";
static const char keep_sql[] = "INSERT OR REPLACE INTO brake"
                               " (bike, c0_mw, c1_mw, c2_mw, c3_mw, ridden_permille)"
                               " VALUES (?, ?, ?, ?, ?, ?)";

static int prepare(struct store *store, const char *sql, const char *bike, sqlite3_stmt **ret)
{
    const int code = sqlite3_prepare_v2(store->database, sql, -1, ret, NULL);

    return code == SQLITE_OK ? sqlite3_bind_text(*ret, 1, bike, -1, SQLITE_STATIC) : code;
}

static int32_t number_at(sqlite3_stmt *statement, int column)
{
    const int64_t number = sqlite3_column_int64(statement, column);

    return number < INT32_MIN || number > INT32_MAX ? 0 : (int32_t)number;
}

enum result store_brake(struct store *store, const char *bike, struct brake_curve *ret)
{
    sqlite3_stmt *statement = NULL;
    int code = prepare(store, select_sql, bike, &statement);

    if (code == SQLITE_OK)
        code = sqlite3_step(statement);
    for (int i = 0; code == SQLITE_ROW && i < (int)BRAKE_TERMS; i++)
        ret->terms_mw[i] = number_at(statement, i);
    if (code == SQLITE_ROW)
        ret->ridden_permille = number_at(statement, BRAKE_TERMS);
    (void)sqlite3_finalize(statement);
    return code == SQLITE_DONE ? RESULT_NOT_FOUND : store_outcome(store, code);
}

enum result store_keep_brake(struct store *store, const char *bike, const struct brake_curve *curve)
{
    sqlite3_stmt *statement = NULL;
    int code = prepare(store, keep_sql, bike, &statement);

    for (int i = 0; code == SQLITE_OK && i < (int)BRAKE_TERMS; i++)
        code = sqlite3_bind_int(statement, i + 2, curve->terms_mw[i]);
    if (code == SQLITE_OK)
        code = sqlite3_bind_int(statement, BRAKE_TERMS + 2, curve->ridden_permille);
    if (code == SQLITE_OK)
        code = sqlite3_step(statement);
    (void)sqlite3_finalize(statement);
    return store_outcome(store, code);
}

/* ---- a brake turned by hand ---- */

static bool is_place(int64_t position, int64_t top)
{
    return position >= 0 && position <= top && top <= KNOB_TOP_MAX;
}

enum result store_knob(struct store *store, const char *bike, struct knob_place *ret)
{
    sqlite3_stmt *statement = NULL;
    bool is_found = false;
    int code = prepare(store, "SELECT position, top FROM knob WHERE bike = ?", bike, &statement);

    if (code == SQLITE_OK)
        code = sqlite3_step(statement);
    if (code == SQLITE_ROW) {
        const int64_t position = sqlite3_column_int64(statement, 0);
        const int64_t top = sqlite3_column_int64(statement, 1);

        is_found = is_place(position, top);
        if (is_found)
            *ret = (struct knob_place){true, (int32_t)position, (int32_t)top};
    }
    (void)sqlite3_finalize(statement);
    return code == SQLITE_DONE || (code == SQLITE_ROW && !is_found) ? RESULT_NOT_FOUND
                                                                    : store_outcome(store, code);
}

enum result store_keep_knob(struct store *store, const char *bike, const struct knob_place *place)
{
    sqlite3_stmt *statement = NULL;
    int code = prepare(store, "INSERT OR REPLACE INTO knob (bike, position, top) VALUES (?, ?, ?)",
                       bike, &statement);

    if (code == SQLITE_OK)
        code = sqlite3_bind_int(statement, 2, place->position);
    if (code == SQLITE_OK)
        code = sqlite3_bind_int(statement, 3, place->top);
    if (code == SQLITE_OK)
        code = sqlite3_step(statement);
    (void)sqlite3_finalize(statement);
    return store_outcome(store, code);
}
