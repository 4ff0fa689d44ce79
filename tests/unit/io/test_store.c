/*
 * What goes into the store comes out of it, and what strangers put there does no harm.
 */
#include "support/store_fixture.h"

#include <stdlib.h>
#include <string.h>

/* ---- what goes in comes out ---- */

static const struct store_summary full_summary = {
    .ending = STORE_ENDING_CUT_OFF,
    .reason = "heart rate above the limit",
    .duration_s = 421,
    .work_j = 61234,
    .average_power_w = 243,
    .work_s = 160,
    .work_power_w = 281,
    .distance_m = 3120,
    .calories_kcal = 62,
    .calories_low_kcal = 55,
    .calories_high_kcal = 70,
    .has_in_range = true,
    .in_range_pct = 0,
    .average_heart_bpm = 148,
    .max_heart_bpm = 181,
    .heart_fall_bpm = -3,
    .best_5s_w = 702,
    .best_30s_w = 401,
    .best_60s_w = 322,
    .best_180s_w = 254,
};

static void assert_summaries_equal(const struct store_summary *a, const struct store_summary *b)
{
    assert_int_equal(a->ending, b->ending);
    assert_string_equal(a->reason, b->reason);
    assert_int_equal(a->has_in_range, b->has_in_range);
    assert_int_equal(a->duration_s, b->duration_s);
    assert_int_equal(a->work_j, b->work_j);
    assert_int_equal(a->average_power_w, b->average_power_w);
    assert_int_equal(a->work_s, b->work_s);
    assert_int_equal(a->work_power_w, b->work_power_w);
    assert_int_equal(a->heart_fall_bpm, b->heart_fall_bpm);
    assert_int_equal(a->distance_m, b->distance_m);
    assert_int_equal(a->calories_kcal, b->calories_kcal);
    assert_int_equal(a->calories_low_kcal, b->calories_low_kcal);
    assert_int_equal(a->calories_high_kcal, b->calories_high_kcal);
    assert_int_equal(a->in_range_pct, b->in_range_pct);
    assert_int_equal(a->average_heart_bpm, b->average_heart_bpm);
    assert_int_equal(a->max_heart_bpm, b->max_heart_bpm);
    assert_int_equal(a->best_5s_w, b->best_5s_w);
    assert_int_equal(a->best_30s_w, b->best_30s_w);
    assert_int_equal(a->best_60s_w, b->best_60s_w);
    assert_int_equal(a->best_180s_w, b->best_180s_w);
}

static void test_round_trip(void **state)
{
    static const struct store_summary nothing = {0};
    const struct store_summary *summaries[] = {&full_summary, &nothing};
    (void)state;
    for (size_t i = 0; i < 2; i++) {
        struct store *store = fixture_open();
        struct store_ride ride = {0};
        int64_t id = fixture_begin(store);
        assert_int_equal(store_end(store, id, STORE_FINISHED, summaries[i]), RESULT_OK);
        store_close(store);
        store = fixture_open();
        assert_int_equal(store_get(store, id, &ride), RESULT_OK);
        assert_int_equal(ride.id, (int64_t)i + 1);
        assert_int_equal(ride.started_unix_s, 1750000000);
        assert_string_equal(ride.title, "Twenty on, ten off");
        assert_string_equal(ride.bike, "virtual");
        assert_string_equal(ride.profile, "");
        assert_int_equal(ride.length_ms, 0);
        assert_int_equal(ride.feel, 0);
        assert_false(ride.is_fresh);
        assert_int_equal(ride.proposed, 0);
        assert_int_equal(ride.proposed_length_ms, 0);
        assert_false(ride.rating.has_effort);
        assert_string_equal(ride.rating.note, "");
        assert_int_equal(ride.state, STORE_FINISHED);
        assert_summaries_equal(&ride.summary, summaries[i]);
        store_close(store);
    }
}

static void test_what_it_was_made_from(void **state)
{
    const struct store_ride begun = {.title = "invented",
                                     .bike = "virtual",
                                     .profile = "/somewhere/invented.profile",
                                     .length_ms = 270000,
                                     .feel = 2,
                                     .is_fresh = true,
                                     .proposed = 258,
                                     .proposed_length_ms = 300000};
    struct store_ride ride = {0};
    int64_t id = 0;
    (void)state;
    struct store *store = fixture_open();
    assert_int_equal(store_begin(store, &begun, &id), RESULT_OK);
    assert_int_equal(store_get(store, id, &ride), RESULT_OK);
    assert_string_equal(ride.profile, begun.profile);
    assert_int_equal(ride.length_ms, 270000);
    assert_int_equal(ride.feel, 2);
    assert_int_equal(ride.proposed, 258);
    assert_int_equal(ride.proposed_length_ms, 300000);
    assert_true(ride.is_fresh);
    store_close(store);
}

static void assert_rating(struct store *store, int64_t id, bool has_effort, uint32_t effort,
                          const char *note)
{
    struct store_ride ride = {0};
    assert_int_equal(store_get(store, id, &ride), RESULT_OK);
    assert_int_equal(ride.rating.has_effort, has_effort);
    assert_int_equal(ride.rating.effort, effort);
    assert_string_equal(ride.rating.note, note);
}

static void test_rate(void **state)
{
    char note[STORE_NOTE_MAX + 2] = "";
    (void)state;
    struct store *store = fixture_open();
    int64_t id = fixture_begin(store);
    assert_int_equal(store_rate(store, id, 3, "too early"), RESULT_NOT_FOUND);
    assert_int_equal(store_end(store, id, STORE_FINISHED, &full_summary), RESULT_OK);
    assert_int_equal(store_rate(store, 7, 3, NULL), RESULT_NOT_FOUND);
    assert_rating(store, id, false, 0, "");
    assert_int_equal(store_rate(store, id, 0, NULL), RESULT_OK);
    assert_rating(store, id, true, 0, "");
    assert_int_equal(store_rate(store, id, -1, "like wood\x1b[2J"), RESULT_OK);
    assert_rating(store, id, true, 0, "like wood?[2J");
    assert_int_equal(store_rate(store, id, 10, NULL), RESULT_OK);
    assert_rating(store, id, true, 10, "like wood?[2J");
    assert_int_equal(store_rate(store, id, -1, ""), RESULT_OK);
    assert_rating(store, id, true, 10, "");
    assert_int_equal(store_rate(store, id, 11, NULL), RESULT_RANGE);
    memset(note, 'x', STORE_NOTE_MAX + 1);
    assert_int_equal(store_rate(store, id, 5, note), RESULT_RANGE);
    assert_rating(store, id, true, 10, "");
    note[STORE_NOTE_MAX] = '\0';
    assert_int_equal(store_rate(store, id, 5, note), RESULT_OK);
    assert_rating(store, id, true, 5, note);
    store_close(store);
}

/* What ended without a second ridden is nobody's block; what still goes on, or broke off, is. */
static void test_lists_what_was_ridden(void **state)
{
    static const struct store_summary nothing = {0};
    struct store_ride ride = {0};
    (void)state;
    struct store *store = fixture_open();
    assert_int_equal(store_end(store, fixture_begin(store), STORE_RECOVERED, &nothing), RESULT_OK);
    assert_int_equal(store_end(store, fixture_begin(store), STORE_FINISHED, &nothing), RESULT_OK);
    assert_int_equal(fixture_begin(store), 3);
    assert_int_equal(store_next_older(store, INT64_MAX, &ride), RESULT_OK);
    assert_int_equal(ride.id, 3);
    assert_int_equal(store_next_older(store, 3, &ride), RESULT_OK);
    assert_int_equal(ride.id, 1);
    assert_int_equal(store_get(store, 2, &ride), RESULT_OK);
    store_close(store);
}

/* 5 minutes, 4 lines 4 times a second, a commit a second. */
static void test_five_minutes(void **state)
{
    enum { LINES = 300 * 16 };
    struct store_ride ride = {0};
    (void)state;
    struct store *store = fixture_open();
    int64_t id = fixture_begin(store);
    for (size_t n = 0; n < LINES; n++) {
        fixture_append_line(store, n);
        if (n % 16 == 15)
            assert_int_equal(store_commit(store), RESULT_OK);
    }
    assert_int_equal(fixture_count_lines(store, id), LINES);
    assert_int_equal(store_end(store, id, STORE_FINISHED, &full_summary), RESULT_OK);
    assert_int_equal(fixture_count_lines(store, id), LINES);
    assert_int_equal(fixture_ask(fixture_database, "SELECT count(*) FROM journal_chunk"), 0);
    assert_true(fixture_ask(fixture_database, "SELECT length(packed) FROM journal") < LINES * 20);
    assert_int_equal(store_next_unfinished(store, 0, &ride), RESULT_NOT_FOUND);
    store_close(store);
    store = fixture_open();
    assert_int_equal(fixture_count_lines(store, id), LINES);
    store_close(store);
}

static void test_walks_both_ways(void **state)
{
    struct store_ride ride = {0};
    (void)state;
    struct store *store = fixture_open();
    assert_int_equal(store_next_older(store, INT64_MAX, &ride), RESULT_NOT_FOUND);
    for (int64_t id = 1; id <= 4; id++) {
        assert_int_equal(fixture_begin(store), id);
        if (id % 2 == 0)
            assert_int_equal(store_end(store, id, STORE_FINISHED, &full_summary), RESULT_OK);
        store_close(store);
        store = fixture_open();
    }
    ride.id = INT64_MAX;
    for (int64_t id = 4; id >= 1; id--) {
        assert_int_equal(store_next_older(store, ride.id, &ride), RESULT_OK);
        assert_int_equal(ride.id, id);
    }
    assert_int_equal(store_next_older(store, ride.id, &ride), RESULT_NOT_FOUND);
    assert_int_equal(store_next_unfinished(store, 0, &ride), RESULT_OK);
    assert_int_equal(ride.id, 1);
    assert_int_equal(store_next_unfinished(store, 1, &ride), RESULT_OK);
    assert_int_equal(ride.id, 3);
    assert_int_equal(store_next_unfinished(store, 3, &ride), RESULT_NOT_FOUND);
    assert_int_equal(store_end(store, 3, STORE_RECOVERED, &full_summary), RESULT_OK);
    assert_int_equal(store_get(store, 3, &ride), RESULT_OK);
    assert_int_equal(ride.state, STORE_RECOVERED);
    store_close(store);
}

static void test_no_such_ride(void **state)
{
    struct store_ride ride = {0};
    char *text = NULL;
    size_t length = 0;
    (void)state;
    struct store *store = fixture_open();
    int64_t id = fixture_begin(store);
    assert_int_equal(store_end(store, id, STORE_FINISHED, &full_summary), RESULT_OK);
    assert_int_equal(store_end(store, id, STORE_RECOVERED, &full_summary), RESULT_NOT_FOUND);
    assert_int_equal(store_end(store, 7, STORE_RECOVERED, &full_summary), RESULT_NOT_FOUND);
    assert_int_equal(store_get(store, 7, &ride), RESULT_NOT_FOUND);
    assert_int_equal(store_journal(store, 7, &text, &length), RESULT_NOT_FOUND);
    assert_null(text);
    assert_int_equal(store_get(store, id, &ride), RESULT_OK);
    assert_int_equal(ride.state, STORE_FINISHED);
    store_close(store);
}

static void test_buffer_is_bounded(void **state)
{
    static char megabyte[1u << 20];
    char *text = NULL;
    size_t length = 0;
    (void)state;
    memset(megabyte, 'x', sizeof megabyte);
    struct store *store = fixture_open();
    int64_t id = fixture_begin(store);
    assert_int_equal(store_append(store, megabyte, sizeof megabyte), RESULT_OK);
    assert_int_equal(store_append(store, megabyte, sizeof megabyte), RESULT_OK);
    assert_int_equal(store_append(store, "x", 1), RESULT_FULL);
    assert_int_equal(store_commit(store), RESULT_OK);
    assert_int_equal(store_append(store, "x", 1), RESULT_OK);
    assert_int_equal(store_end(store, id, STORE_FINISHED, &full_summary), RESULT_OK);
    assert_int_equal(store_journal(store, id, &text, &length), RESULT_OK);
    assert_int_equal(length, 2 * sizeof megabyte + 1);
    free(text);
    store_close(store);
}

/* ---- hostile text ---- */

struct text_row {
    const char *name, *in, *out;
};

/* Sequences from RFC 3629, sections 3 and 4; U+009B is CSI in ECMA-48. */
static struct text_row text_rows[] = {
    {"quotes", "Robert'); DROP TABLE ride;-- \"x\" `y`", "Robert'); DROP TABLE ride;-- \"x\" `y`"},
    {"two, three and four octets", "\xC3\xA9 \xE2\x82\xAC \xF0\x9F\x9A\xB4",
     "\xC3\xA9 \xE2\x82\xAC \xF0\x9F\x9A\xB4"},
    {"first and last of each length",
     "\xC2\xA0\xDF\xBF\xE0\xA0\x80\xEF\xBF\xBF\xF0\x90\x80\x80\xF4\x8F\xBF\xBF",
     "\xC2\xA0\xDF\xBF\xE0\xA0\x80\xEF\xBF\xBF\xF0\x90\x80\x80\xF4\x8F\xBF\xBF"},
    {"escape", "\x1B[2J\x7F\t", "?[2J??"},
    {"eight-bit control",
     "\xC2\x9B"
     "2J",
     "??2J"},
    {"overlong", "\xC0\xAF \xE0\x80\xAF \xF0\x80\x80\xAF", "?? ??? ????"},
    {"surrogate", "\xED\xA0\x80", "???"},
    {"above U+10FFFF", "\xF4\x90\x80\x80", "????"},
    {"cut short", "a\xE2\x82", "a??"},
    {"bare tail", "\x80\xBF", "??"},
    {"per cent", "%s%n", "%s%n"},
    {"empty", "", ""},
};

static void test_text(void **state)
{
    const struct text_row *row = *state;
    struct store_ride ride = {.started_unix_s = -1};
    int64_t id = 0;
    fixture_set_up(NULL);
    struct store *store = fixture_open();
    strcpy(ride.title, row->in);
    strcpy(ride.bike, row->in);
    assert_int_equal(store_begin(store, &ride, &id), RESULT_OK);
    memset(&ride, 0, sizeof ride);
    assert_int_equal(store_get(store, id, &ride), RESULT_OK);
    assert_int_equal(ride.started_unix_s, -1);
    assert_string_equal(ride.title, row->out);
    assert_string_equal(ride.bike, row->out);
    store_close(store);
    fixture_tear_down(NULL);
}

/* A stranger's hand in our table: text too long, numbers out of range, a journal that lies. */
static void test_hostile_row(void **state)
{
    struct store_ride ride = {0};
    char *text = NULL;
    size_t length = 0;
    (void)state;
    store_close(fixture_open());
    fixture_execute("INSERT INTO ride (started_unix_s, title, bike, state, work_j, distance_m)"
                    " VALUES (0, printf('%.*c', 59, 'x') || char(8364), '', 1, -5, 99999999999);"
                    "INSERT INTO journal VALUES (1, 1000000000000, x'789c4b0400006200620a')");
    struct store *store = fixture_open();
    assert_int_equal(store_get(store, 1, &ride), RESULT_OK);
    assert_int_equal(strlen(ride.title), 59); /* the euro sign would be cut in two */
    assert_int_equal(ride.summary.work_j, 0);
    assert_int_equal(ride.summary.distance_m, UINT32_MAX);
    fixture_execute("UPDATE ride SET effort = -1, feel = 6, heart_fall_bpm = 1000,"
                    " note = printf('%.*c', 300, 'x')");
    assert_int_equal(store_get(store, 1, &ride), RESULT_OK);
    assert_int_equal(ride.feel, 0);
    assert_int_equal(ride.summary.heart_fall_bpm, 0);
    assert_int_equal(strlen(ride.rating.note), STORE_NOTE_MAX);
    fixture_execute("UPDATE ride SET effort = 11");
    assert_int_equal(store_get(store, 1, &ride), RESULT_OK);
    assert_false(ride.rating.has_effort);
    assert_int_equal(store_journal(store, 1, &text, &length), RESULT_INVALID);
    fixture_execute("UPDATE journal SET length = 2");
    assert_int_equal(store_journal(store, 1, &text, &length), RESULT_INVALID);
    fixture_execute("UPDATE journal SET length = 0");
    assert_int_equal(store_journal(store, 1, &text, &length), RESULT_INVALID);
    assert_null(text);
    fixture_execute(
        "UPDATE journal SET packed = x'789c4b040000620062', length = 1"); /* zlib: "a" */
    assert_int_equal(store_journal(store, 1, &text, &length), RESULT_OK);
    assert_string_equal(text, "a");
    free(text);
    fixture_execute("DELETE FROM journal");
    assert_int_equal(store_journal(store, 1, &text, &length), RESULT_INVALID);
    store_close(store);
}

int main(void)
{
    enum { TEXTS = sizeof text_rows / sizeof text_rows[0] };
    static const struct CMUnitTest plain[] = {
#define TEST(func) cmocka_unit_test_setup_teardown(func, fixture_set_up, fixture_tear_down)
        TEST(test_round_trip),   TEST(test_what_it_was_made_from),
        TEST(test_rate),         TEST(test_lists_what_was_ridden),
        TEST(test_five_minutes), TEST(test_walks_both_ways),
        TEST(test_no_such_ride), TEST(test_buffer_is_bounded),
        TEST(test_hostile_row),
#undef TEST
    };
    struct CMUnitTest texts[TEXTS] = {{0}};
    for (size_t i = 0; i < TEXTS; i++)
        texts[i] = (struct CMUnitTest){
            .name = text_rows[i].name, .test_func = test_text, .initial_state = &text_rows[i]};
    int failed = cmocka_run_group_tests_name("store", plain, NULL, NULL);
    return failed + cmocka_run_group_tests_name("store: text", texts, NULL, NULL);
}
