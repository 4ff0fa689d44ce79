/* What to ask next time, out of rides in a store. Rides and riders are invented. */
#include "support/store_fixture.h"

#include <stdio.h>
#include <string.h>

#include "app/next_time.h"
#include "support/ridden.h"

static const struct rider rider;
static struct next_time next;

/* After a ride like that, and after that again. */
static const struct progress *after(const struct ridden *how)
{
    struct store *store = fixture_open();
    struct store_ride now;
    assert_int_equal(store_get(store, ridden(store, how), &now), RESULT_OK);
    next_time_after(store, &now, &rider, &next);
    store_close(store);
    return &next.progress;
}

static void goes_by_two_comparable_rides(void **state)
{
    const struct ridden full = {.asked_w = 210, .power_w = 210};
    const struct ridden fresh = {.asked_w = 210, .power_w = 210, .is_fresh = true};
    const struct ridden elsewhere = {.asked_w = 210, .power_w = 210, .bike = "unix:/tmp/bike"};
    const struct ridden other = {.asked_w = 210, .power_w = 210, .title = "Another"};
    (void)state;
    assert_int_equal(after(&full)->reason, PROGRESS_FIRST_FULL);
    assert_int_equal(next.count, 1);
    assert_int_equal(after(&fresh)->reason, PROGRESS_FIRST_FULL);
    assert_int_equal(after(&elsewhere)->reason, PROGRESS_FIRST_FULL);
    assert_int_equal(after(&other)->reason, PROGRESS_FIRST_FULL);
    assert_int_equal(after(&full)->reason, PROGRESS_TWO_FULL);
    assert_int_equal(next.count, 2);
    assert_int_equal(next.ids[0], 1);
    assert_int_equal(next.ids[1], 5);
    assert_int_equal(next.blocks[1].asked, 210);
    assert_int_equal(next.blocks[1].length_s, 180);
    assert_int_equal(next.progress.asked, 216); /* 3 % more */
}

/* In range by one may not be so by the other. */
static void goes_by_one_source_of_power(void **state)
{
    const struct ridden by_bike = {.asked_w = 210, .power_w = 210};
    const struct ridden by_pedals = {
        .asked_w = 210, .power_w = 210, .power_sensor = "pedals", .sensor_told_pct = 102};
    char line[VERDICT_LINE_MAX];
    (void)state;
    (void)after(&by_bike);
    assert_int_equal(after(&by_pedals)->reason, PROGRESS_FIRST_FULL);
    assert_int_equal(next.count, 1);
    next_time_reckon(&next, line, sizeof line);
    assert_non_null(strstr(line, "; ride 1 was measured by another source of power"));
    assert_int_equal(after(&by_pedals)->reason, PROGRESS_TWO_FULL);
    next_time_reckon(&next, line, sizeof line);
    assert_null(strstr(line, "source"));
}

static void misses_step_back(void **state)
{
    const struct ridden missed = {.asked_w = 210, .power_w = 150};
    const struct ridden stopped = {.asked_w = 210, .power_w = 210, .stops = true};
    (void)state;
    assert_int_equal(after(&missed)->reason, PROGRESS_ONE_MISSED);
    assert_int_equal(after(&stopped)->ask, PROGRESS_STEP_BACK);
    assert_int_equal(next.progress.asked, 200); /* 5 % less */
    assert_false(next.blocks[1].is_done);
}

/* Not in range, and not missed: a bike that tells 0 W said nothing of either. */
static void what_nothing_measured_is_asked_again(void **state)
{
    const struct ridden blind = {.asked_w = 210, .power_w = 210, .bike_has_no_power = true};
    char line[VERDICT_LINE_MAX];
    (void)state;
    assert_int_equal(after(&blind)->reason, PROGRESS_UNMEASURED);
    assert_int_equal(after(&blind)->ask, PROGRESS_REPEAT);
    assert_int_equal(next.count, 2);
    assert_int_equal(next.progress.asked, 210);
    next_time_reckon(&next, line, sizeof line);
    assert_non_null(strstr(line, "ride 2, no power told at 210 W, "));
}

/* By 10 %, to 231 W of 210 W: over the plan's range all the time. */
static void what_was_shifted_up_is_not_missed(void **state)
{
    const struct ridden harder = {.asked_w = 210, .power_w = 231, .shifts_up = 5};
    const struct ridden weak = {.asked_w = 210, .power_w = 180, .shifts_up = 5};
    const struct ridden by_one = {.asked_w = 210, .power_w = 214, .shifts_up = 1};
    char line[VERDICT_LINE_MAX];
    (void)state;
    assert_int_equal(after(&harder)->reason, PROGRESS_SHIFTED_UP);
    assert_int_equal(after(&harder)->ask, PROGRESS_REPEAT);
    assert_int_equal(next.count, 2);
    next_time_reckon(&next, line, sizeof line);
    assert_non_null(strstr(line, " at 210 W, shifted up, "));
    assert_int_equal(after(&weak)->reason, PROGRESS_ONE_MISSED);
    assert_int_equal(after(&by_one)->reason, PROGRESS_FIRST_FULL);
}

/* The same as before it, though work came: see ride/watch.h. */
static void a_heart_that_warned_is_found_in_the_journal(void **state)
{
    const struct ridden flat = {.asked_w = 210, .power_w = 210, .strap_bpm = RIDDEN_EASY_BPM};
    (void)state;
    assert_int_equal(after(&flat)->reason, PROGRESS_HAS_WARNED);
    assert_true(next.blocks[0].has_warned);
    assert_int_equal(after(&flat)->reason, PROGRESS_HAS_WARNED);
}

/* 190 bpm are over the 180 of a rider of whom nothing is known. */
static void a_cut_off_is_one(void **state)
{
    const struct ridden racing = {.asked_w = 210, .power_w = 210, .strap_bpm = 190};
    (void)state;
    (void)after(&(struct ridden){.asked_w = 210, .power_w = 210});
    assert_int_equal(after(&racing)->ask, PROGRESS_REPEAT);
    assert_int_equal(next.progress.reason, PROGRESS_WAS_CUT_OFF);
    assert_true(next.blocks[1].is_cut_off);
}

/* 197.4 W were asked, which are 94 % of 210 W. */
static void bad_legs_are_taken_off_again(void **state)
{
    const struct ridden eased = {.asked_w = 197, .power_w = 197, .feel = 1};
    (void)state;
    assert_int_equal(after(&eased)->reason, PROGRESS_WAS_EASED);
    assert_int_equal(next.progress.asked, 210);
}

static void levels_are_not_watts(void **state)
{
    const struct ridden watts = {.asked_w = 210, .power_w = 210};
    const struct ridden level = {.level = 100, .power_w = 210};
    char line[VERDICT_LINE_MAX];
    (void)state;
    (void)after(&watts);
    assert_int_equal(after(&level)->asked, 100);
    assert_int_equal(next.count, 1);
    assert_int_equal(next.unit, VERDICT_LEVEL_TENTHS);
    next_time_say(&next, line, sizeof line);
    assert_memory_equal(line, "Next time the same again, level 10.0: ", 38);
    const struct asked written = {VERDICT_WATTS, 210};
    assert_int_equal(next_time_load_pct(&next, &written), 0);
}

/* 3 % of 210 W are 6 W, 3 % of level 10.0 are 0.3. */
static void a_rise_is_no_less_than_a_step_of_the_brake(void **state)
{
    static const struct {
        struct ridden how;
        enum progress_reason reason;
        uint32_t asked;
    } rows[] = {
        {{.asked_w = 210, .power_w = 210, .level_step_tenths = 1}, PROGRESS_TWO_FULL, 216},
        {{.asked_w = 210, .power_w = 210, .level_step_tenths = 10}, PROGRESS_TWO_FULL_BY_LEGS, 216},
        {{.asked_w = 210, .power_w = 210, .knob = 6}, PROGRESS_TWO_FULL_BY_LEGS, 216},
        {{.level = 100, .power_w = 210, .level_step_tenths = 1}, PROGRESS_TWO_FULL, 103},
        {{.level = 100, .power_w = 210, .level_step_tenths = 10}, PROGRESS_TWO_FULL_COARSE, 100},
    };
    static const char *const bikes[] = {"a", "b", "c", "d", "e"};
    char line[VERDICT_LINE_MAX];
    (void)state;
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        struct ridden how = rows[i].how;
        how.bike = bikes[i];
        (void)after(&how);
        assert_int_equal(after(&how)->reason, rows[i].reason);
        assert_int_equal(next.progress.asked, rows[i].asked);
        next_time_say(&next, line, sizeof line);
        assert_int_equal(strstr(line, "the brake has no step") != NULL,
                         rows[i].reason != PROGRESS_TWO_FULL);
    }
}

static void what_was_overruled_is_told(void **state)
{
    const struct ridden full = {.asked_w = 210, .power_w = 210};
    const struct ridden chosen = {.asked_w = 210, .power_w = 210, .proposed = 216};
    char line[VERDICT_LINE_MAX];
    (void)state;
    (void)after(&full);
    assert_int_equal(after(&chosen)->reason, PROGRESS_FIRST_FULL);
    next_time_say(&next, line, sizeof line);
    assert_non_null(strstr(line, "for the last you chose 210 W over the 216 W proposed"));
}

static void as_a_share_of_what_is_written(void **state)
{
    static const struct {
        uint32_t asked, written;
        int32_t pct;
    } rows[] = {{216, 210, 3},  {210, 210, 0},  {200, 210, -5}, {0, 210, 0},  {210, 0, 0},
                {400, 100, 50}, {10, 100, -50}, {213, 210, 1},  {211, 210, 0}};
    (void)state;
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        const struct next_time then = {.progress.asked = rows[i].asked};
        const struct asked written = {.value = rows[i].written};
        assert_int_equal(next_time_load_pct(&then, &written), rows[i].pct);
    }
}

static void for_a_ride_to_come(void **state)
{
    const struct store_ride like = {.id = INT64_MAX, .title = "Invented", .bike = "virtual"};
    const struct store_ride fresh = {
        .id = INT64_MAX, .title = "Invented", .bike = "virtual", .is_fresh = true};
    const struct ridden full = {.asked_w = 210, .power_w = 210};
    char line[VERDICT_LINE_MAX];
    (void)state;
    (void)after(&full);
    (void)after(&full);
    struct store *store = fixture_open();
    next_time_for(store, &like, &rider, &next);
    assert_int_equal(next.progress.ask, PROGRESS_RAISE);
    next_time_for(store, &fresh, &rider, &next);
    assert_int_equal(next.count, 0);
    next_time_say(&next, line, sizeof line);
    assert_string_equal(line, "");
    next_time_reckon(&next, line, sizeof line);
    assert_string_equal(line, "");
    store_close(store);
}

#define TEST(name) cmocka_unit_test_setup_teardown(name, fixture_set_up, fixture_tear_down)

int main(void)
{
    const struct CMUnitTest tests[] = {
        TEST(goes_by_two_comparable_rides),
        TEST(goes_by_one_source_of_power),
        TEST(misses_step_back),
        TEST(what_nothing_measured_is_asked_again),
        TEST(what_was_shifted_up_is_not_missed),
        TEST(a_heart_that_warned_is_found_in_the_journal),
        TEST(a_cut_off_is_one),
        TEST(bad_legs_are_taken_off_again),
        TEST(levels_are_not_watts),
        TEST(a_rise_is_no_less_than_a_step_of_the_brake),
        TEST(what_was_overruled_is_told),
        TEST(as_a_share_of_what_is_written),
        TEST(for_a_ride_to_come),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
