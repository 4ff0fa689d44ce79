/* What is asked of SQLite about rides and their journals. */
#include "io/store_private.h"

/* In the order in which take_summary() and put_summary() of store_ride.c have them. */
#define SUMMARY_COLUMNS                                                                       \
    "ending, reason, duration_s, work_j, average_power_w, distance_m, calories_kcal, "        \
    "calories_low_kcal, calories_high_kcal, in_range_pct, average_heart_bpm, max_heart_bpm, " \
    "best_5s_w, best_30s_w, best_60s_w, best_180s_w, work_s, work_power_w, heart_fall_bpm, "  \
    "sensor_pct, difference_tenths, difference_error_tenths"
/* In the order of its put_start() and take_ride(). */
#define START_COLUMNS                                                             \
    "started_unix_s, title, bike, profile, length_ms, feel, is_fresh, proposed, " \
    "proposed_length_ms, power_sensor"
#define SELECT_RIDE \
    "SELECT id, " START_COLUMNS ", state, " SUMMARY_COLUMNS ", effort, note FROM ride "
/* In the order of their time, which is not that of their numbers where some came from elsewhere. */
#define IS_OLDER \
    "(started_unix_s, id) < (coalesce((SELECT started_unix_s FROM ride WHERE id = ?1), ?1), ?1)"
#define NEWEST "ORDER BY started_unix_s DESC, id DESC LIMIT 1"

const char *const store_statement_sql[STORE_STATEMENT_COUNT] = {
    [STORE_INSERT_RIDE] =
        "INSERT INTO ride (" START_COLUMNS ") VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?)",
    [STORE_INSERT_CHUNK] = "INSERT INTO journal_chunk (ride_id, text) VALUES (?, ?)",
    [STORE_UPDATE_RIDE] = "UPDATE ride SET (" SUMMARY_COLUMNS ", state) "
                          "= (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?) "
                          "WHERE id = ? AND state = 0",
    [STORE_UPDATE_RATING] = "UPDATE ride SET effort = coalesce(?, effort), "
                            "note = coalesce(?, note) WHERE id = ? AND state <> 0",
    [STORE_DELETE_CHUNKS] = "DELETE FROM journal_chunk WHERE ride_id = ?",
    [STORE_INSERT_JOURNAL] = "INSERT INTO journal (ride_id, length, packed) VALUES (?, ?, ?)",
    [STORE_SELECT_RIDE] = SELECT_RIDE "WHERE id = ?",
    [STORE_SELECT_OLDER] =
        SELECT_RIDE "WHERE " IS_OLDER " AND (state <> 1 OR duration_s > 0) " NEWEST,
    [STORE_SELECT_ALIKE] = SELECT_RIDE "WHERE " IS_OLDER " AND title = ?2 AND bike = ?3 "
                                       "AND is_fresh = ?4 AND state <> 0 " NEWEST,
    [STORE_SELECT_SAME_TIME] =
        SELECT_RIDE "WHERE started_unix_s = ?2 AND id > ?1 AND state <> 0 ORDER BY id LIMIT 1",
    [STORE_SELECT_UNFINISHED] = SELECT_RIDE "WHERE id > ? AND state = 0 ORDER BY id LIMIT 1",
    [STORE_SELECT_JOURNAL] = "SELECT packed, length, state FROM ride LEFT JOIN journal "
                             "ON ride_id = id WHERE id = ?",
    [STORE_SELECT_CHUNKS] = "SELECT text FROM journal_chunk WHERE ride_id = ? ORDER BY seq",
};
