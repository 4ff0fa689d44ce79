/* A ride against those before it: which are comparable, and what is said. Rides are invented. */
#include "support/store_fixture.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "app/against.h"
#include "app/beat.h"
#include "support/ridden.h"

static const struct rider rider;

static struct store_ride ride_like(struct store *store, const struct ridden *how)
{
    struct store_ride ride;
    assert_int_equal(store_get(store, ridden(store, how), &ride), RESULT_OK);
    return ride;
}

static struct against said_of(const struct ridden *how, const struct rider *who)
{
    struct store *store = fixture_open();
    struct against against;
    const struct store_ride ride = ride_like(store, how);
    against_find(store, &ride, who, &against);
    store_close(store);
    return against;
}

static void only_like_is_compared_with_like(void **state)
{
    static const struct ridden all[] = {
        {.power_w = 210},
        {.power_w = 211, .is_fresh = true},
        {.power_w = 212, .bike = "unix:/tmp/bike"},
        {.power_w = 213, .title = "Another"},
        {.power_w = 214, .stops = true},
        {.power_w = 215, .work_s = 240},
    };
    struct store *store = fixture_open();
    struct earlier earlier;
    (void)state;
    for (size_t i = 0; i < sizeof all / sizeof all[0]; i++)
        (void)ridden(store, &all[i]);
    const struct store_ride now = ride_like(store, &(struct ridden){.power_w = 220});
    assert_int_equal(earlier_find(store, &now, &earlier), RESULT_OK);
    assert_int_equal(earlier.history.count, 2);
    assert_int_equal(earlier.history.blocks[0].id, 1);
    assert_int_equal(earlier.history.blocks[1].id, 6);
    assert_int_equal(earlier.history.blocks[1].length_s, 240);
    assert_int_equal(earlier.last.id, 6);
    assert_true(earlier_typical_error_pct(&earlier) == 3.0);
    store_close(store);
}

/* 210 W over 180 s and 50 W over 15 s are 38.55 kJ, but for the edges. */
static void one_sentence_after_every_ride(void **state)
{
    const struct ridden how = {.power_w = 210}, better = {.power_w = 240};
    const struct ridden stopped = {.power_w = 210, .stops = true};
    (void)state;
    struct against said = said_of(&how, &rider);
    assert_string_equal(said.facts, "");
    assert_string_equal(said.verdict,
                        "Too early to compare: the first two blocks of a kind are learning");
    assert_string_equal(said.reckoning, "");
    said = said_of(&how, &rider);
    assert_memory_equal(said.facts, "+0.0 kJ, +0 m, +0 W in the work on last time (", 46);
    assert_string_equal(said.verdict,
                        "Too early to compare: the first two blocks of a kind are learning");
    said = said_of(&how, &rider);
    assert_string_equal(said.verdict, "Too early to compare: there is no block that it can stand "
                                      "beside, the first two left out");
    said = said_of(&how, &rider);
    assert_string_equal(said.verdict,
                        "+0.0 % on the one before is within the noise (50 % for better)");
    said = said_of(&stopped, &rider);
    assert_string_equal(said.verdict, "Not ridden to its end, so it is not compared");
    assert_string_equal(said.reckoning, "");
    /* 5.4 kJ of 38.6 are 14 %, over an error of 3 sqrt(1 + 1 / 2) = 3.67 %: 3.8 of them. */
    said = said_of(&better, &rider);
    assert_string_equal(said.verdict, "Better than the 2 before by 14.0 %, with 100 % certainty");
    assert_non_null(strstr(said.reckoning, "the mean of rides 3 ("));
    assert_non_null(strstr(said.reckoning, "error of the change 3.67 %"));
}

/* 60 s more along a line of 200 W are 12 kJ. */
static void other_lengths_need_critical_power(void **state)
{
    const struct ridden how = {.power_w = 210}, longer = {.power_w = 210, .work_s = 240};
    const struct ridden known = {.power_w = 210, .work_s = 240, .critical_power_w = 200};
    (void)state;
    for (int i = 0; i < 3; i++)
        (void)said_of(&how, &rider);
    struct against said = said_of(&longer, &rider);
    assert_non_null(strstr(said.verdict, "there is no block that it can stand beside"));
    assert_memory_equal(said.facts, "+0 W in the work on last time (", 31);
    said = said_of(&known, &rider); /* of that ride, not of today */
    assert_non_null(strstr(said.reckoning, "1 taken to this length at 200 W; typical"));
}

/* ---- who measured the power ---- */

#define PEDALS "C0:12:34:56:78:9A"

/* The legs are the same, the pedals read a tenth more than the bike. */
static void another_ruler_is_no_progress(void **state)
{
    const struct ridden by_bike = {.power_w = 210};
    const struct ridden by_pedals = {
        .power_w = 210, .power_sensor = PEDALS, .sensor_told_pct = 110};
    (void)state;
    for (int i = 0; i < 3; i++)
        (void)said_of(&by_bike, &rider);
    struct against said = said_of(&by_pedals, &rider);
    assert_string_equal(said.verdict,
                        "+0.0 % on the one before is within the noise (50 % for better)");
    assert_non_null(strstr(said.reckoning, ", 1 taken to this source of power; typical"));
    assert_non_null(strstr(said.facts, ", taken to this source of power)"));
    assert_memory_equal(said.facts, "+0.0 kJ, +0 W in the work on last time (", 40);
    said = said_of(&by_bike, &rider);
    assert_non_null(strstr(said.verdict, "0.0 % on the 2 before is within the noise"));
    said = said_of(&by_pedals, &rider);
    assert_non_null(strstr(said.reckoning, ", 2 taken to this source of power; typical"));
}

/* What is known of the two of a ride is stored: 10.0 %, and nothing of readings that never moved.
 */
static void the_difference_is_kept(void **state)
{
    struct store *store = fixture_open();
    const struct store_ride both = ride_like(
        store, &(struct ridden){.power_w = 200, .power_sensor = PEDALS, .sensor_told_pct = 110});
    const struct store_ride mute =
        ride_like(store, &(struct ridden){.power_w = 200, .power_sensor = PEDALS});
    const struct store_ride bike = ride_like(store, &(struct ridden){.power_w = 200});
    (void)state;
    assert_string_equal(both.power_sensor, PEDALS);
    assert_int_equal(both.summary.sensor_pct, 100);
    assert_int_equal(both.summary.difference_tenths, 100);
    assert_int_equal(both.summary.difference_error_tenths, 1);
    assert_string_equal(mute.power_sensor, PEDALS);
    assert_int_equal(mute.summary.sensor_pct, 0);
    assert_int_equal(mute.summary.difference_error_tenths, 0);
    assert_string_equal(bike.power_sensor, "");
    store_close(store);
}

static void an_unknown_difference_is_not_compared(void **state)
{
    const struct ridden by_bike = {.power_w = 210};
    const struct ridden by_pedals = {
        .power_w = 210, .power_sensor = PEDALS, .sensor_told_pct = 110, .bike_has_no_power = true};
    const struct ridden by_turns = {.power_w = 210,
                                    .power_sensor = PEDALS,
                                    .sensor_told_pct = 110,
                                    .sensor_falls_silent = true};
    const struct ridden mute = {.power_w = 210, .power_sensor = PEDALS};
    (void)state;
    for (int i = 0; i < 3; i++)
        (void)said_of(&by_bike, &rider);
    struct against said = said_of(&by_pedals, &rider);
    assert_string_equal(said.verdict, "Not compared: the blocks before it were measured by "
                                      "another source of power");
    assert_string_equal(said.facts, "");
    assert_string_equal(said.reckoning, "");
    said = said_of(&by_turns, &rider);
    assert_string_equal(said.verdict, "Not compared: its power was measured by the sensor and by "
                                      "the bike in turn");
    /* Of a sensor that was never heard the bike's power counts. */
    said = said_of(&mute, &rider);
    assert_non_null(strstr(said.verdict, "+0.0 % on the one before is within the noise"));
    assert_null(strstr(said.reckoning, "source of power"));
}

static void the_mark_is_by_the_same_source(void **state)
{
    struct store *store = fixture_open();
    struct store_ride like = {
        .id = INT64_MAX, .title = "Invented", .bike = "virtual", .power_sensor = PEDALS};
    static struct ride_setup setup;
    struct beat beat = {0};
    (void)state;
    setup.plan.step_count = 1;
    setup.plan.steps[0] = (struct plan_step){.kind = STEP_WORK, .duration_ms = 180000};
    (void)ridden(store, &(struct ridden){.power_w = 200});
    assert_false(beat_find(&beat, store, &like, MARK_WORK, &setup));
    assert_int_equal(beat_power_w(store, &like), 200);
    const struct store_ride last = ride_like(
        store, &(struct ridden){.power_w = 210, .power_sensor = PEDALS, .sensor_told_pct = 110});
    assert_true(beat_find(&beat, store, &like, MARK_WORK, &setup));
    assert_int_equal(mark_end(&beat.mark).work_j, last.summary.work_j);
    /* A share of the mark is asked of the bike: the pedals' tenth is not to come on top each time.
     */
    assert_in_range(last.summary.work_power_w, 230, 232);
    assert_int_equal(beat_power_w(store, &like), 210);
    beat_free(&beat);
    store_close(store);
}

/* ---- the mark ---- */

static void a_curve_is_the_ride_second_by_second(void **state)
{
    struct store *store = fixture_open();
    const struct store_ride ride = ride_like(store, &(struct ridden){.power_w = 210});
    struct mark_curve *curve = load_curve(store, ride.id);
    (void)state;
    assert_non_null(curve);
    assert_int_equal(curve->before_ms, 10000);
    assert_int_equal(curve->length_ms, 180000);
    assert_int_equal(curve->end.work_j, ride.summary.work_j);
    assert_int_equal(curve->end.distance_m, ride.summary.distance_m);
    for (uint32_t second = 1; second <= curve->seconds; second++)
        assert_true(curve->work_j[second] >= curve->work_j[second - 1]);
    assert_in_range(curve->work_j[150] - curve->work_j[50], 20999, 21001);
    free(curve);
    assert_null(load_curve(store, ride.id + 1));
    store_close(store);
}

static void the_last_whole_one_is_the_mark(void **state)
{
    struct store *store = fixture_open();
    struct store_ride like = {.id = INT64_MAX, .title = "Invented", .bike = "virtual"};
    static struct ride_setup setup;
    struct beat beat = {0};
    (void)state;
    setup.plan.step_count = 1;
    setup.plan.steps[0] = (struct plan_step){.kind = STEP_WORK, .duration_ms = 180000};
    assert_false(beat_find(&beat, store, &like, MARK_WORK, &setup));
    assert_false(beat_find(&beat, NULL, &like, MARK_WORK, &setup));
    (void)ridden(store, &(struct ridden){.power_w = 200});
    const struct store_ride last = ride_like(store, &(struct ridden){.power_w = 210});
    (void)ridden(store, &(struct ridden){.power_w = 220, .stops = true});
    (void)ridden(store, &(struct ridden){.power_w = 230, .is_fresh = true});
    assert_true(beat_find(&beat, store, &like, MARK_DISTANCE, &setup));
    assert_int_equal(mark_end(&beat.mark).work_j, last.summary.work_j);
    assert_int_equal(beat.mark.measure, MARK_DISTANCE);
    beat_free(&beat);
    assert_null(beat.curve);
    store_close(store);
}

#define TEST(name) cmocka_unit_test_setup_teardown(name, fixture_set_up, fixture_tear_down)

int main(void)
{
    const struct CMUnitTest tests[] = {
        TEST(only_like_is_compared_with_like),
        TEST(one_sentence_after_every_ride),
        TEST(other_lengths_need_critical_power),
        TEST(a_curve_is_the_ride_second_by_second),
        TEST(the_last_whole_one_is_the_mark),
        TEST(another_ruler_is_no_progress),
        TEST(the_difference_is_kept),
        TEST(an_unknown_difference_is_not_compared),
        TEST(the_mark_is_by_the_same_source),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
