/*
 * Rides in the order of their time, those alike, and rides that come from elsewhere.
 */
#include "port/store_history.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "support/store_fixture.h"

#define JOURNAL "afterset-journal 1\ninvented\n"

static struct store_ride ridden(int64_t started_unix_s, uint32_t work_j)
{
    return (struct store_ride){
        .started_unix_s = started_unix_s,
        .title = "Twenty on",
        .bike = "virtual",
        .profile = "/p/twenty.profile",
        .length_ms = 240000,
        .feel = 4,
        .is_fresh = true,
        .state = STORE_FINISHED,
        .summary = {.ending = STORE_ENDING_DONE,
                    .reason = "plan_done",
                    .duration_s = 480,
                    .work_j = work_j,
                    .average_power_w = 190,
                    .work_s = 160,
                    .work_power_w = 240,
                    .distance_m = 3800,
                    .calories_kcal = 95,
                    .calories_low_kcal = 80,
                    .calories_high_kcal = 106,
                    .has_in_range = true,
                    .in_range_pct = 91,
                    .average_heart_bpm = 141,
                    .max_heart_bpm = 172,
                    .heart_fall_bpm = -3,
                    .best_5s_w = 300,
                    .best_30s_w = 260,
                    .best_60s_w = 230,
                    .best_180s_w = 210},
        .rating = {.has_effort = true, .effort = 0, .note = "an invented one"},
    };
}

static struct store_ride by_hand(int64_t started_unix_s)
{
    return (struct store_ride){
        .started_unix_s = started_unix_s,
        .state = STORE_BY_HAND,
        .summary = {.ending = STORE_ENDING_DONE, .duration_s = 600, .work_j = 90000},
    };
}

static int64_t add(struct store *store, const struct store_ride *ride)
{
    const char *journal = ride->state == STORE_BY_HAND ? NULL : JOURNAL;
    int64_t id = 0;
    assert_int_equal(store_add_begin(store), RESULT_OK);
    assert_int_equal(store_add(store, ride, journal, journal != NULL ? strlen(journal) : 0, &id),
                     RESULT_OK);
    assert_int_equal(store_add_end(store, true), RESULT_OK);
    return id;
}

static void test_all_of_it_comes_back(void **state)
{
    struct store *store = fixture_open();
    struct store_ride ride = ridden(1750000000, 91234), back;
    char *text = NULL;
    size_t length = 0;
    (void)state;
    ride.id = add(store, &ride);
    assert_int_equal(store_get(store, ride.id, &back), RESULT_OK);
    assert_int_equal(back.started_unix_s, ride.started_unix_s);
    assert_string_equal(back.title, ride.title);
    assert_string_equal(back.bike, ride.bike);
    assert_string_equal(back.profile, ride.profile);
    assert_int_equal(back.length_ms, ride.length_ms);
    assert_int_equal(back.feel, ride.feel);
    assert_int_equal(back.is_fresh, ride.is_fresh);
    assert_int_equal(back.state, ride.state);
    assert_string_equal(back.summary.reason, ride.summary.reason);
    assert_int_equal(back.summary.work_j, ride.summary.work_j);
    assert_int_equal(back.summary.heart_fall_bpm, ride.summary.heart_fall_bpm);
    assert_int_equal(back.summary.best_180s_w, ride.summary.best_180s_w);
    assert_true(back.rating.has_effort);
    assert_int_equal(back.rating.effort, 0);
    assert_string_equal(back.rating.note, ride.rating.note);
    assert_int_equal(store_journal(store, ride.id, &text, &length), RESULT_OK);
    assert_string_equal(text, JOURNAL);
    assert_int_equal(length, strlen(JOURNAL));
    free(text);
    store_close(store);
}

static void test_by_hand_there_is_no_journal(void **state)
{
    struct store *store = fixture_open();
    struct store_ride ride = by_hand(1750000000), back;
    char *text = NULL;
    size_t length = 0;
    (void)state;
    ride.id = add(store, &ride);
    assert_int_equal(store_get(store, ride.id, &back), RESULT_OK);
    assert_int_equal(back.state, STORE_BY_HAND);
    assert_int_equal(back.summary.work_j, 90000);
    assert_int_equal(store_journal(store, ride.id, &text, &length), RESULT_NOT_FOUND);
    assert_int_equal(store_rate(store, ride.id, 7, "later"), RESULT_OK);
    store_close(store);
}

/* What is written down later was ridden earlier. */
static void test_lists_go_by_time(void **state)
{
    static const int64_t starts[] = {3000, 1000, 2000, 1000, 4000};
    static const int64_t expected[] = {5, 1, 3, 4, 2};
    struct store *store = fixture_open();
    struct store_ride ride = {.id = INT64_MAX};
    (void)state;
    for (size_t i = 0; i < sizeof starts / sizeof starts[0]; i++) {
        ride = ridden(starts[i], 80000);
        (void)add(store, &ride);
    }
    ride.id = INT64_MAX;
    for (size_t i = 0; i < sizeof expected / sizeof expected[0]; i++) {
        assert_int_equal(store_next_older(store, ride.id, &ride), RESULT_OK);
        assert_int_equal(ride.id, expected[i]);
    }
    assert_int_equal(store_next_older(store, ride.id, &ride), RESULT_NOT_FOUND);
    store_close(store);
}

static void test_those_alike(void **state)
{
    struct store *store = fixture_open();
    struct store_ride ride = ridden(1000, 1), like = ridden(9999, 1);
    (void)state;
    (void)add(store, &ride);
    ride = ridden(2000, 1);
    strcpy(ride.title, "Thirty on");
    (void)add(store, &ride);
    ride = ridden(3000, 1);
    strcpy(ride.bike, "unix:/b");
    (void)add(store, &ride);
    ride = ridden(4000, 1);
    ride.is_fresh = false;
    (void)add(store, &ride);
    ride = ridden(500, 1);
    (void)add(store, &ride);
    (void)fixture_begin(store); /* under way */
    ride.id = INT64_MAX;
    assert_int_equal(store_next_alike(store, &like, INT64_MAX, &ride), RESULT_OK);
    assert_int_equal(ride.id, 1);
    assert_int_equal(store_next_alike(store, &like, ride.id, &ride), RESULT_OK);
    assert_int_equal(ride.id, 5);
    assert_int_equal(store_next_alike(store, &like, ride.id, &ride), RESULT_NOT_FOUND);
    store_close(store);
}

static void test_all_or_nothing(void **state)
{
    struct store *store = fixture_open();
    struct store_ride ride = ridden(1000, 1);
    int64_t id = 0;
    (void)state;
    assert_int_equal(store_add_begin(store), RESULT_OK);
    assert_int_equal(store_add(store, &ride, JOURNAL, strlen(JOURNAL), &id), RESULT_OK);
    ride.rating.effort = 11;
    assert_int_equal(store_add(store, &ride, JOURNAL, strlen(JOURNAL), &id), RESULT_RANGE);
    assert_int_equal(store_add_end(store, false), RESULT_OK);
    assert_int_equal(store_next_older(store, INT64_MAX, &ride), RESULT_NOT_FOUND);
    assert_int_equal(fixture_ask(fixture_database, "SELECT count(*) FROM journal"), 0);
    store_close(store);
}

static void test_the_same_once_more(void **state)
{
    struct store *store = fixture_open();
    struct store_ride ride = ridden(1000, 1);
    int64_t id = 0;
    (void)state;
    (void)add(store, &ride);
    assert_int_equal(store_find_same(store, &ride, JOURNAL, strlen(JOURNAL), &id), RESULT_OK);
    assert_int_equal(id, 1);
    assert_int_equal(store_find_same(store, &ride, JOURNAL "x", strlen(JOURNAL) + 1, &id),
                     RESULT_NOT_FOUND);
    assert_int_equal(store_find_same(store, &ride, JOURNAL, strlen(JOURNAL) - 1, &id),
                     RESULT_NOT_FOUND);
    ride.started_unix_s++;
    assert_int_equal(store_find_same(store, &ride, JOURNAL, strlen(JOURNAL), &id),
                     RESULT_NOT_FOUND);
    ride = by_hand(1000);
    assert_int_equal(store_find_same(store, &ride, NULL, 0, &id), RESULT_NOT_FOUND);
    (void)add(store, &ride);
    assert_int_equal(store_find_same(store, &ride, NULL, 0, &id), RESULT_OK);
    assert_int_equal(id, 2);
    ride.summary.work_j++;
    assert_int_equal(store_find_same(store, &ride, NULL, 0, &id), RESULT_NOT_FOUND);
    store_close(store);
}

/* The plan of SQLite, not the clock: nothing that grows with the history is walked through. */
static void test_queries_use_an_index(void **state)
{
    struct store *store = fixture_open();
    sqlite3_stmt *statement = NULL;
    (void)state;
    for (sqlite3_stmt *at = NULL; (at = sqlite3_next_stmt(fixture_database, at)) != NULL;) {
        const char *sql = sqlite3_sql(at);
        char explained[2048];
        if (strncmp(sql, "SELECT id", 9) != 0)
            continue;
        snprintf(explained, sizeof explained, "EXPLAIN QUERY PLAN %s", sql);
        assert_int_equal(sqlite3_prepare_v2(fixture_database, explained, -1, &statement, NULL),
                         SQLITE_OK);
        while (sqlite3_step(statement) == SQLITE_ROW) {
            const char *detail = (const char *)sqlite3_column_text(statement, 3);
            if (strncmp(detail, "SCAN ride", 9) == 0 || strstr(detail, "TEMP B-TREE") != NULL)
                fail_msg("%s: %s", detail, sql);
        }
        sqlite3_finalize(statement);
    }
    store_close(store);
}

int main(void)
{
#define TEST(func) cmocka_unit_test_setup_teardown(func, fixture_set_up, fixture_tear_down)
    static const struct CMUnitTest tests[] = {
        TEST(test_all_of_it_comes_back), TEST(test_by_hand_there_is_no_journal),
        TEST(test_lists_go_by_time),     TEST(test_those_alike),
        TEST(test_all_or_nothing),       TEST(test_the_same_once_more),
        TEST(test_queries_use_an_index),
    };
#undef TEST
    return cmocka_run_group_tests_name("store: history", tests, NULL, NULL);
}
