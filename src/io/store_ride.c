#include <assert.h>
#include <stdlib.h>
#include <string.h>

#include "io/store_private.h"
#include "io/store_text.h"

static const char *const endings[] = {
    [STORE_ENDING_DONE] = "done",
    [STORE_ENDING_STOPPED] = "stopped",
    [STORE_ENDING_CUT_OFF] = "cut_off",
};
#define ENDING_COUNT (sizeof endings / sizeof endings[0])

#define HEART_FALL_MAX 240 /* no heart beats faster than that */

/* ---- one row, column by column; a failure sticks ---- */

struct row {
    sqlite3_stmt *statement;
    int at;
    int code; /* when putting */
};

static void put_number(struct row *row, int64_t value)
{
    if (row->code == SQLITE_OK)
        row->code = sqlite3_bind_int64(row->statement, ++row->at, value);
}

/* What is not known stays NULL. */
static void put_known(struct row *row, bool known, int64_t value)
{
    if (known)
        put_number(row, value);
    else
        row->at++;
}

/* Borrows the text until the statement has run. NULL is put as NULL. */
static void put_text(struct row *row, const char *text, int length)
{
    if (row->code == SQLITE_OK)
        row->code = sqlite3_bind_text(row->statement, ++row->at, text, length, SQLITE_STATIC);
}

static int64_t take_number(struct row *row)
{
    return sqlite3_column_int64(row->statement, row->at++);
}

static uint32_t take_u32(struct row *row)
{
    int64_t value = take_number(row);
    if (value < 0)
        return 0;
    return value > UINT32_MAX ? UINT32_MAX : (uint32_t)value;
}

static bool is_known(const struct row *row)
{
    return sqlite3_column_type(row->statement, row->at) != SQLITE_NULL;
}

static void take_text(struct row *row, char *ret, size_t size)
{
    const unsigned char *text = sqlite3_column_text(row->statement, row->at);
    size_t length = (size_t)sqlite3_column_bytes(row->statement, row->at);
    row->at++;
    store_clean_text(ret, size, text, text != NULL ? length : 0);
}

/* Runs a statement that gives no rows. The bindings borrow memory, so they go at once. */
static int run(struct row *row)
{
    if (row->code == SQLITE_OK)
        row->code = sqlite3_step(row->statement);
    sqlite3_reset(row->statement);
    sqlite3_clear_bindings(row->statement);
    return row->code == SQLITE_DONE ? SQLITE_OK : row->code;
}

static struct row row_of(struct store *store, enum store_statement statement)
{
    return (struct row){.statement = store->statements[statement], .code = SQLITE_OK};
}

/* ---- reading ---- */

static enum store_ending take_ending(struct row *row)
{
    const char *text = (const char *)sqlite3_column_text(row->statement, row->at++);
    for (size_t i = 1; text != NULL && i < ENDING_COUNT; i++)
        if (strcmp(text, endings[i]) == 0)
            return (enum store_ending)i;
    return STORE_ENDING_UNKNOWN;
}

static int32_t take_heart_fall(struct row *row)
{
    const int64_t fall_bpm = take_number(row);
    return fall_bpm >= -HEART_FALL_MAX && fall_bpm <= HEART_FALL_MAX ? (int32_t)fall_bpm : 0;
}

/* Numbers outside of what can be are not known. */
static void take_sources(struct row *row, struct store_summary *summary)
{
    const uint32_t pct = take_u32(row);
    const int64_t tenths = take_number(row);
    const uint32_t error_tenths = take_u32(row);

    summary->sensor_pct = pct <= 100 ? pct : 0;
    if (llabs(tenths) > STORE_DIFFERENCE_MAX || error_tenths > STORE_DIFFERENCE_MAX ||
        error_tenths == 0)
        return;
    summary->difference_tenths = (int32_t)tenths;
    summary->difference_error_tenths = error_tenths;
}

static struct store_summary take_summary(struct row *row)
{
    struct store_summary summary = {.ending = take_ending(row)};
    take_text(row, summary.reason, sizeof summary.reason);
    summary.duration_s = take_u32(row);
    summary.work_j = take_u32(row);
    summary.average_power_w = take_u32(row);
    summary.distance_m = take_u32(row);
    summary.calories_kcal = take_u32(row);
    summary.calories_low_kcal = take_u32(row);
    summary.calories_high_kcal = take_u32(row);
    summary.has_in_range = is_known(row);
    summary.in_range_pct = take_u32(row);
    summary.average_heart_bpm = take_u32(row);
    summary.max_heart_bpm = take_u32(row);
    summary.best_5s_w = take_u32(row);
    summary.best_30s_w = take_u32(row);
    summary.best_60s_w = take_u32(row);
    summary.best_180s_w = take_u32(row);
    summary.work_s = take_u32(row);
    summary.work_power_w = take_u32(row);
    summary.heart_fall_bpm = take_heart_fall(row);
    take_sources(row, &summary);
    return summary;
}

/* A number outside of what can be said is not known. */
static struct store_rating take_rating(struct row *row)
{
    struct store_rating rating = {.has_effort = is_known(row)};
    rating.effort = take_u32(row);
    if (rating.effort > STORE_EFFORT_MAX)
        rating.has_effort = false;
    if (!rating.has_effort)
        rating.effort = 0;
    take_text(row, rating.note, sizeof rating.note);
    return rating;
}

static struct store_ride take_ride(struct row *row)
{
    struct store_ride ride = {0};
    ride.id = take_number(row);
    ride.started_unix_s = take_number(row);
    take_text(row, ride.title, sizeof ride.title);
    take_text(row, ride.bike, sizeof ride.bike);
    take_text(row, ride.profile, sizeof ride.profile);
    ride.length_ms = take_u32(row);
    ride.feel = take_u32(row);
    if (ride.feel > STORE_FEEL_MAX)
        ride.feel = 0;
    ride.is_fresh = take_number(row) != 0;
    ride.proposed = take_u32(row);
    ride.proposed_length_ms = take_u32(row);
    take_text(row, ride.power_sensor, sizeof ride.power_sensor);
    const int64_t state = take_number(row);
    if (state > STORE_RIDING && state <= STORE_BY_HAND)
        ride.state = (enum store_state)state;
    ride.summary = take_summary(row);
    ride.rating = take_rating(row);
    return ride;
}

enum result store_take_ride(struct store *store, enum store_statement statement, int code,
                            struct store_ride *ret)
{
    struct row row = {.statement = store->statements[statement]};
    if (code == SQLITE_OK)
        code = sqlite3_step(row.statement);
    if (code == SQLITE_ROW)
        *ret = take_ride(&row);
    sqlite3_reset(row.statement);
    return code == SQLITE_DONE ? RESULT_NOT_FOUND : store_outcome(store, code);
}

static enum result find_ride(struct store *store, enum store_statement statement, int64_t id,
                             struct store_ride *ret)
{
    const int code = sqlite3_bind_int64(store->statements[statement], 1, id);
    return store_take_ride(store, statement, code, ret);
}

enum result store_get(struct store *store, int64_t id, struct store_ride *ret)
{
    return find_ride(store, STORE_SELECT_RIDE, id, ret);
}

enum result store_next_older(struct store *store, int64_t id, struct store_ride *ret)
{
    return find_ride(store, STORE_SELECT_OLDER, id, ret);
}

enum result store_next_unfinished(struct store *store, int64_t id, struct store_ride *ret)
{
    return find_ride(store, STORE_SELECT_UNFINISHED, id, ret);
}

/* ---- writing ---- */

static void put_start(struct row *row, const struct store_ride *ride)
{
    put_number(row, ride->started_unix_s);
    put_text(row, ride->title, -1);
    put_text(row, ride->bike, -1);
    put_text(row, ride->profile[0] != '\0' ? ride->profile : NULL, -1);
    put_known(row, ride->length_ms > 0, ride->length_ms);
    put_known(row, ride->feel > 0, ride->feel);
    put_number(row, ride->is_fresh);
    put_known(row, ride->proposed > 0, ride->proposed);
    put_known(row, ride->proposed_length_ms > 0, ride->proposed_length_ms);
    put_text(row, ride->power_sensor[0] != '\0' ? ride->power_sensor : NULL, -1);
}

enum result store_put_ride(struct store *store, const struct store_ride *ride, int64_t *ret_id)
{
    struct row row = row_of(store, STORE_INSERT_RIDE);
    put_start(&row, ride);
    const enum result result = store_outcome(store, run(&row));
    if (result == RESULT_OK)
        *ret_id = sqlite3_last_insert_rowid(store->database);
    return result;
}

enum result store_begin(struct store *store, const struct store_ride *ride, int64_t *ret_id)
{
    assert(store->ride_id == 0);
    const enum result result = store_put_ride(store, ride, ret_id);
    if (result == RESULT_OK)
        store->ride_id = *ret_id;
    return result;
}

enum result store_append(struct store *store, const char *lines, size_t length)
{
    assert(store->ride_id != 0);
    if (length > STORE_BUFFER_MAX - store->buffered)
        return store_outcome(store, SQLITE_FULL);
    if (length > 0)
        memcpy(store->buffer + store->buffered, lines, length);
    store->buffered += length;
    return RESULT_OK;
}

static enum result write_chunk(struct store *store)
{
    if (store->buffered == 0)
        return RESULT_OK;
    struct row row = row_of(store, STORE_INSERT_CHUNK);
    put_number(&row, store->ride_id);
    put_text(&row, store->buffer, (int)store->buffered);
    return store_outcome(store, run(&row));
}

/* One statement outside a transaction is a transaction. */
enum result store_commit(struct store *store)
{
    enum result result = write_chunk(store);
    if (result == RESULT_OK)
        store->buffered = 0;
    return result;
}

static void put_summary(struct row *row, const struct store_summary *summary)
{
    size_t ending = (size_t)summary->ending;
    put_text(row, ending < ENDING_COUNT ? endings[ending] : NULL, -1);
    put_text(row, summary->reason[0] != '\0' ? summary->reason : NULL, -1);
    put_number(row, summary->duration_s);
    put_number(row, summary->work_j);
    put_number(row, summary->average_power_w);
    put_number(row, summary->distance_m);
    put_known(row, summary->calories_kcal > 0, summary->calories_kcal);
    put_known(row, summary->calories_low_kcal > 0, summary->calories_low_kcal);
    put_known(row, summary->calories_high_kcal > 0, summary->calories_high_kcal);
    put_known(row, summary->has_in_range, summary->in_range_pct);
    put_known(row, summary->average_heart_bpm > 0, summary->average_heart_bpm);
    put_known(row, summary->max_heart_bpm > 0, summary->max_heart_bpm);
    put_known(row, summary->best_5s_w > 0, summary->best_5s_w);
    put_known(row, summary->best_30s_w > 0, summary->best_30s_w);
    put_known(row, summary->best_60s_w > 0, summary->best_60s_w);
    put_known(row, summary->best_180s_w > 0, summary->best_180s_w);
    put_number(row, summary->work_s);
    put_known(row, summary->work_s > 0, summary->work_power_w);
    put_known(row, summary->heart_fall_bpm != 0, summary->heart_fall_bpm);
    const bool has_difference = summary->difference_error_tenths > 0;
    put_known(row, summary->sensor_pct > 0, summary->sensor_pct);
    put_known(row, has_difference, summary->difference_tenths);
    put_known(row, has_difference, summary->difference_error_tenths);
}

enum result store_put_summary(struct store *store, int64_t id, enum store_state state,
                              const struct store_summary *summary)
{
    struct row row = row_of(store, STORE_UPDATE_RIDE);
    put_summary(&row, summary);
    put_number(&row, state);
    put_number(&row, id);
    const enum result result = store_outcome(store, run(&row));
    if (result == RESULT_OK && sqlite3_changes(store->database) == 0)
        return RESULT_NOT_FOUND;
    return result;
}

static enum result delete_chunks(struct store *store, int64_t id)
{
    struct row row = row_of(store, STORE_DELETE_CHUNKS);
    put_number(&row, id);
    return store_outcome(store, run(&row));
}

enum result store_execute(struct store *store, const char *sql)
{
    return store_outcome(store, sqlite3_exec(store->database, sql, NULL, NULL, NULL));
}

static enum result end_in_transaction(struct store *store, int64_t id, enum store_state state,
                                      const struct store_summary *summary)
{
    enum result result = id == store->ride_id ? write_chunk(store) : RESULT_OK;
    if (result == RESULT_OK)
        result = store_put_summary(store, id, state, summary);
    if (result == RESULT_OK)
        result = store_pack_chunks(store, id);
    if (result == RESULT_OK)
        result = delete_chunks(store, id);
    if (result == RESULT_OK)
        result = store_execute(store, "COMMIT");
    return result;
}

enum result store_end(struct store *store, int64_t id, enum store_state state,
                      const struct store_summary *summary)
{
    assert(state == STORE_FINISHED || state == STORE_RECOVERED);
    enum result result = store_execute(store, "BEGIN IMMEDIATE");
    if (result != RESULT_OK)
        return result;
    result = end_in_transaction(store, id, state, summary);
    if (result != RESULT_OK) {
        store_roll_back(store->database);
        return result;
    }
    if (id == store->ride_id) {
        store->ride_id = 0;
        store->buffered = 0;
    }
    return RESULT_OK;
}
