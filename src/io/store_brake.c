#include "port/brake_store.h"

#include <limits.h>

#include "io/store_private.h"

static const char select_sql[] = "SELECT c0_mw, c1_mw, c2_mw, c3_mw FROM brake WHERE bike = ?";
static const char keep_sql[] = "INSERT OR REPLACE INTO brake (bike, c0_mw, c1_mw, c2_mw, c3_mw)"
                               " VALUES (?, ?, ?, ?, ?)";

static int prepare(struct store *store, const char *sql, const char *bike, sqlite3_stmt **ret)
{
    const int code = sqlite3_prepare_v2(store->database, sql, -1, ret, NULL);

    return code == SQLITE_OK ? sqlite3_bind_text(*ret, 1, bike, -1, SQLITE_STATIC) : code;
}

enum result store_brake(struct store *store, const char *bike, struct brake_curve *ret)
{
    sqlite3_stmt *statement = NULL;
    int code = prepare(store, select_sql, bike, &statement);

    if (code == SQLITE_OK)
        code = sqlite3_step(statement);
    for (int i = 0; code == SQLITE_ROW && i < (int)BRAKE_TERMS; i++) {
        const int64_t term_mw = sqlite3_column_int64(statement, i);
        ret->terms_mw[i] = term_mw < INT32_MIN || term_mw > INT32_MAX ? 0 : (int32_t)term_mw;
    }
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
        code = sqlite3_step(statement);
    (void)sqlite3_finalize(statement);
    return store_outcome(store, code);
}
