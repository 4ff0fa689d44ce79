/*
 * A ride second by second and step by step: whole, held, broken off, damaged.
 *
 * 30 s at 150 W, 180 s at 200 W, 10 s at 100 W, in readings once a second: what the seconds and
 * steps hold follows from that alone.
 */
#include "app/ride_series.h"

#include "support/store_fixture.h"

#include <stdlib.h>
#include <string.h>

#include "app/recorder.h"

enum { BEGUN_MS = 10000, WARM_UP_S = 30, WORK_S = 180, COOL_DOWN_S = 10 };

static struct store *store;
static struct recorder recorder;
static struct ride ride;
static uint64_t now_ms;
static int32_t power_w, heart_bpm;

static void post(struct event event)
{
    struct effects effects;

    event.t_ms = now_ms;
    recorder_event(&recorder, &event);
    ride_step(&ride, &event, &effects);
    recorder_effects(&recorder, &effects);
}

static void begin(void)
{
    static struct ride_setup setup;
    struct plan *plan = &setup.plan;

    setup = (struct ride_setup){.plan = {.title = "invented"}};
    plan->step_count = 3;
    plan->steps[0] = (struct plan_step){.kind = STEP_WARM_UP, .duration_ms = WARM_UP_S * 1000};
    plan->steps[1] = (struct plan_step){
        .kind = STEP_WORK, .duration_ms = WORK_S * 1000, .targets = {.power_w = {true, 190, 210}}};
    plan->steps[2] = (struct plan_step){.kind = STEP_COOL_DOWN, .duration_ms = COOL_DOWN_S * 1000};
    recorder = (struct recorder){.store = store};
    ride_init(&ride, &setup);
    assert_int_equal(recorder_begin(&recorder, &setup, &(struct store_ride){.bike = "virtual"}),
                     RESULT_OK);
    now_ms = BEGUN_MS;
    power_w = 150;
    heart_bpm = 0;
    post((struct event){.kind = EVENT_LINK, .link = {LINK_MACHINE, true}});
    post((struct event){.kind = EVENT_MACHINE});
}

/* Four ticks, the last of them at the whole second, and a reading right behind it. */
static void second(void)
{
    for (int i = 0; i < 4 && ride.phase != PHASE_ENDED; i++) {
        now_ms += TICK_MS;
        post((struct event){.kind = EVENT_TICK});
    }
    struct telemetry data = {.has = HAS_POWER | HAS_CADENCE, .power_w = power_w, .cadence_rpm = 90};
    if (heart_bpm > 0) {
        data.has |= HAS_HEART;
        data.heart_bpm = heart_bpm;
    }
    if (ride.phase != PHASE_ENDED)
        post((struct event){.kind = EVENT_TELEMETRY, .telemetry = data});
}

static void ride_to(uint32_t block_s)
{
    for (int i = 0; i < 1000 && ride.phase != PHASE_ENDED && ride.block_ms < block_s * 1000; i++)
        second();
}

static void ride_whole(void)
{
    begin();
    ride_to(WARM_UP_S);
    power_w = 200;
    ride_to(WARM_UP_S + WORK_S);
    power_w = 100;
    heart_bpm = 140;
    ride_to(WARM_UP_S + WORK_S + COOL_DOWN_S);
    assert_int_equal(ride.phase, PHASE_ENDED);
}

static int set_up(void **state)
{
    const int failed = fixture_set_up(state);
    store = failed ? NULL : fixture_open();
    return failed;
}

static int tear_down(void **state)
{
    recorder_free(&recorder);
    store_close(store);
    return fixture_tear_down(state);
}

static struct ride_series *read_series(enum result expected)
{
    struct ride_series *series = NULL;
    struct text_fault fault;

    assert_int_equal(store_commit(store), RESULT_OK);
    assert_int_equal(ride_series_read(store, recorder.ride_id, &series, &fault), expected);
    assert_int_equal(fault.line != 0, expected == RESULT_INVALID);
    return series;
}

/* ---- whole ---- */

static void there_is_a_point_for_every_second(void **state)
{
    (void)state;
    ride_whole();
    struct ride_series *series = read_series(RESULT_OK);
    assert_int_equal(series->point_count, WARM_UP_S + WORK_S + COOL_DOWN_S);
    assert_true(series->has_ended);
    assert_int_equal(series->before_ms, 4000); /* the first reading after 1 s, and 3 s counted in */
    assert_int_equal(series->summary.end, END_DONE);
    for (size_t i = 0; i < series->point_count; i++) {
        const struct ride_series_point *point = &series->points[i];
        assert_int_equal(point->second, i);
        assert_int_equal(point->block_ms, i * 1000 + 750); /* the last tick within it */
        assert_int_equal(point->phase, PHASE_RIDING);
        assert_int_equal(point->now.has & (HAS_POWER | HAS_CADENCE), HAS_POWER | HAS_CADENCE);
    }
    assert_int_equal(series->points[29].now.power_w, 150);
    assert_int_equal(series->points[29].step, 0);
    assert_int_equal(series->points[31].now.power_w, 200);
    assert_int_equal(series->points[31].step, 1);
    assert_int_equal(series->points[31].now.has & HAS_HEART, 0);
    assert_int_equal(series->points[215].now.power_w, 100);
    assert_int_equal(series->points[215].now.heart_bpm, 140);
    ride_series_free(series);
}

static void laps_add_up_to_the_ride(void **state)
{
    static const uint32_t seconds[] = {WARM_UP_S, WORK_S, COOL_DOWN_S};
    uint32_t at_ms = 0;
    int64_t work_j = 0;
    (void)state;
    ride_whole();
    struct ride_series *series = read_series(RESULT_OK);
    assert_int_equal(series->lap_count, 3);
    for (size_t i = 0; i < 3; i++) {
        const struct ride_series_lap *lap = &series->laps[i];
        assert_int_equal(lap->step, i);
        assert_int_equal(lap->begin_ms, at_ms);
        assert_int_equal(lap->begin.work_j, work_j);
        at_ms += seconds[i] * 1000;
        work_j = lap->end.work_j;
        assert_int_equal(lap->end_ms, at_ms);
        assert_int_equal(lap->end.block_ms, at_ms);
    }
    assert_int_equal(series->summary.work_j, work_j);
    /* 180 s at 200 W, less the second in which it rises from 150 and the one after the edge. */
    assert_in_range(series->laps[1].end.work_j - series->laps[1].begin.work_j, 35700, 36000);
    ride_series_free(series);
}

/* ---- not whole ---- */

static void a_hold_takes_time_and_no_block_time(void **state)
{
    (void)state;
    begin();
    ride_to(20);
    post((struct event){.kind = EVENT_KEY, .key = {KEY_HOLD}});
    for (int i = 0; i < 8; i++)
        second();
    post((struct event){.kind = EVENT_KEY, .key = {KEY_HOLD}});
    ride_to(40);
    struct ride_series *series = read_series(RESULT_OK);
    assert_false(series->has_ended);
    assert_int_equal(series->points[24].phase, PHASE_HELD);
    assert_int_equal(series->points[24].second, 24);
    assert_int_equal(series->points[24].block_ms, 20000);
    assert_int_equal(series->points[30].phase, PHASE_RIDING);
    assert_int_equal(series->points[30].block_ms, 22750);
    assert_int_equal(series->laps[0].end_ms, 38000);
    assert_int_equal(series->laps[0].end.block_ms, 30000);
    ride_series_free(series);
}

static void a_stop_ends_the_step_and_the_rest_is_ridden_out(void **state)
{
    (void)state;
    begin();
    ride_to(35);
    post((struct event){.kind = EVENT_KEY, .key = {KEY_STOP}});
    for (int i = 0; i < 5; i++)
        second();
    struct ride_series *series = read_series(RESULT_OK);
    assert_int_equal(series->lap_count, 2);
    assert_int_equal(series->laps[1].end_ms, 35000);
    assert_int_equal(series->points[38].phase, PHASE_EASY);
    ride_series_free(series);
}

static void a_ride_that_never_began_has_none(void **state)
{
    (void)state;
    begin();
    second();
    struct ride_series *series = read_series(RESULT_OK);
    assert_int_equal(series->point_count, 0);
    assert_int_equal(series->lap_count, 0);
    ride_series_free(series);
}

static void what_came_before_the_damage_is_given(void **state)
{
    (void)state;
    begin();
    ride_to(50);
    assert_int_equal(store_append(store, "> 1 junk\n", 9), RESULT_OK);
    struct ride_series *series = read_series(RESULT_INVALID);
    assert_non_null(series);
    assert_in_range(series->point_count, 50, 51);
    ride_series_free(series);
}

static void what_is_no_journal_gives_nothing(void **state)
{
    struct ride_series *series = NULL;
    struct text_fault fault;
    (void)state;
    const int64_t id = fixture_begin(store);
    fixture_append_line(store, 0);
    assert_int_equal(store_commit(store), RESULT_OK);
    assert_int_not_equal(ride_series_read(store, id, &series, &fault), RESULT_OK);
    assert_null(series);
    assert_int_equal(ride_series_read(store, id + 1, &series, &fault), RESULT_NOT_FOUND);
    assert_null(series);
    assert_int_equal(fault.line, 0);
}

int main(void)
{
    static const struct CMUnitTest tests[] = {
        cmocka_unit_test_setup_teardown(there_is_a_point_for_every_second, set_up, tear_down),
        cmocka_unit_test_setup_teardown(laps_add_up_to_the_ride, set_up, tear_down),
        cmocka_unit_test_setup_teardown(a_hold_takes_time_and_no_block_time, set_up, tear_down),
        cmocka_unit_test_setup_teardown(a_stop_ends_the_step_and_the_rest_is_ridden_out, set_up,
                                        tear_down),
        cmocka_unit_test_setup_teardown(a_ride_that_never_began_has_none, set_up, tear_down),
        cmocka_unit_test_setup_teardown(what_came_before_the_damage_is_given, set_up, tear_down),
        cmocka_unit_test_setup_teardown(what_is_no_journal_gives_nothing, set_up, tear_down),
    };
    return cmocka_run_group_tests_name("ride_series", tests, NULL, NULL);
}
