#include "port/store_history.h"

#include <assert.h>
#include <stdlib.h>
#include <string.h>

#include "io/store_private.h"

enum result store_next_alike(struct store *store, const struct store_ride *like, int64_t id,
                             struct store_ride *ret)
{
    sqlite3_stmt *statement = store->statements[STORE_SELECT_ALIKE];
    int code = sqlite3_bind_int64(statement, 1, id);
    if (code == SQLITE_OK)
        code = sqlite3_bind_text(statement, 2, like->title, -1, SQLITE_TRANSIENT);
    if (code == SQLITE_OK)
        code = sqlite3_bind_text(statement, 3, like->bike, -1, SQLITE_TRANSIENT);
    if (code == SQLITE_OK)
        code = sqlite3_bind_int64(statement, 4, like->is_fresh);
    return store_take_ride(store, STORE_SELECT_ALIKE, code, ret);
}

enum result store_add_begin(struct store *store)
{
    return store_execute(store, "BEGIN IMMEDIATE");
}

enum result store_add_end(struct store *store, bool keep)
{
    const enum result result = keep ? store_execute(store, "COMMIT") : RESULT_OK;
    store_roll_back(store->database);
    return result;
}

enum result store_add(struct store *store, const struct store_ride *ride, const char *journal,
                      size_t length, int64_t *ret_id)
{
    const struct store_rating *rating = &ride->rating;
    int64_t id = 0;

    assert(ride->state != STORE_RIDING && (journal == NULL) == (ride->state == STORE_BY_HAND));
    if (length > STORE_JOURNAL_MAX)
        return RESULT_RANGE;
    enum result result = store_put_ride(store, ride, &id);
    if (result == RESULT_OK)
        result = store_put_summary(store, id, ride->state, &ride->summary);
    if (result == RESULT_OK && journal != NULL)
        result = store_pack_text(store, id, journal, length);
    if (result == RESULT_OK && (rating->has_effort || rating->note[0] != '\0'))
        result = store_rate(store, id, rating->has_effort ? (int32_t)rating->effort : -1,
                            rating->note[0] != '\0' ? rating->note : NULL);
    if (result == RESULT_OK)
        *ret_id = id;
    return result;
}

enum result store_rate(struct store *store, int64_t id, int32_t effort, const char *note)
{
    sqlite3_stmt *statement = store->statements[STORE_UPDATE_RATING];
    int code = SQLITE_OK;
    if (effort > (int32_t)STORE_EFFORT_MAX || (note != NULL && strlen(note) > STORE_NOTE_MAX))
        return RESULT_RANGE;
    if (effort >= 0)
        code = sqlite3_bind_int(statement, 1, effort);
    if (code == SQLITE_OK)
        code = sqlite3_bind_text(statement, 2, note, -1, SQLITE_STATIC);
    if (code == SQLITE_OK)
        code = sqlite3_bind_int64(statement, 3, id);
    if (code == SQLITE_OK)
        code = sqlite3_step(statement);
    sqlite3_reset(statement);
    sqlite3_clear_bindings(statement);
    const enum result result = store_outcome(store, code);
    if (result == RESULT_OK && sqlite3_changes(store->database) == 0)
        return RESULT_NOT_FOUND;
    return result;
}

/* ---- the same once more ---- */

static bool is_same_journal(struct store *store, int64_t id, const char *journal, size_t length)
{
    size_t other_length = 0;
    char *other = NULL;
    const bool is_same = store_journal(store, id, &other, &other_length) == RESULT_OK &&
                         other_length == length && memcmp(other, journal, length) == 0;

    free(other);
    return is_same;
}

static bool is_same_by_hand(const struct store_ride *a, const struct store_ride *b)
{
    return a->state == STORE_BY_HAND && a->summary.duration_s == b->summary.duration_s &&
           a->summary.work_j == b->summary.work_j &&
           a->summary.distance_m == b->summary.distance_m && strcmp(a->title, b->title) == 0;
}

static enum result next_of_same_time(struct store *store, int64_t started_unix_s, int64_t id,
                                     struct store_ride *ret)
{
    sqlite3_stmt *statement = store->statements[STORE_SELECT_SAME_TIME];
    int code = sqlite3_bind_int64(statement, 1, id);
    if (code == SQLITE_OK)
        code = sqlite3_bind_int64(statement, 2, started_unix_s);
    return store_take_ride(store, STORE_SELECT_SAME_TIME, code, ret);
}

enum result store_find_same(struct store *store, const struct store_ride *ride, const char *journal,
                            size_t length, int64_t *ret_id)
{
    struct store_ride other = {0};
    enum result result;

    while ((result = next_of_same_time(store, ride->started_unix_s, other.id, &other)) ==
           RESULT_OK) {
        if (journal != NULL ? is_same_journal(store, other.id, journal, length)
                            : is_same_by_hand(&other, ride)) {
            *ret_id = other.id;
            return RESULT_OK;
        }
    }
    return result;
}
