/* The phases of a ride, from the first link to the summary. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include "support/drive.h"

#define PLAN_MS 360000u /* the plan of drive_init() */

static void waits_for_pedalling_and_counts_in(void **state)
{
    struct drive drive;

    (void)state;
    drive_init(&drive);
    drive.cadence_rpm = 0;
    drive.power_w = 0;
    struct event machine = {.kind = EVENT_MACHINE};
    machine.machine.takes_power = true;
    drive_link(&drive, true);
    drive_event(&drive, &machine);
    assert_int_equal(drive.phase, PHASE_READY);
    drive_for(&drive, 60000);
    assert_int_equal(drive.phase, PHASE_READY);
    drive.cadence_rpm = 70;
    drive_for(&drive, TICK_MS);
    assert_int_equal(drive.phase, PHASE_COUNT_IN);
    drive_for(&drive, 2500);
    assert_int_equal(drive.phase, PHASE_COUNT_IN);
    assert_int_equal(drive.load.kind, LOAD_RELEASED);
    drive_for(&drive, 500);
    assert_int_equal(drive.phase, PHASE_RIDING);
    drive_for(&drive, 500);
    assert_int_equal(drive.load.kind, LOAD_POWER);
}

static void legs_that_stop_in_the_count_in_wait_again(void **state)
{
    struct drive drive;

    (void)state;
    drive_init(&drive);
    drive_to(&drive, 0);
    drive_init(&drive);
    struct event machine = {.kind = EVENT_MACHINE};
    machine.machine.takes_power = true;
    drive_link(&drive, true);
    drive_event(&drive, &machine);
    drive_for(&drive, 1000);
    assert_int_equal(drive.phase, PHASE_COUNT_IN);
    drive.cadence_rpm = 0;
    drive_for(&drive, TICK_MS);
    assert_int_equal(drive.phase, PHASE_READY);
}

static void rides_the_plan_to_its_end(void **state)
{
    struct drive drive;

    (void)state;
    drive_init(&drive);
    drive_to(&drive, PLAN_MS);
    assert_int_equal(drive.phase, PHASE_ENDED);
    assert_int_equal(drive.summaries, 1);
    assert_int_equal(drive.summary.end, END_DONE);
    assert_int_equal(drive.summary.reason, REASON_PLAN_DONE);
    assert_int_equal(drive.summary.duration_ms, PLAN_MS);
    assert_int_equal(drive.summary.work_s, 180);
    /* 100 W for 360 s; what lies before the first and after the last sample is not known. */
    assert_in_range(drive.summary.work_j, 35900, 36000);
    assert_int_equal(drive.summary.average_power_w, 100);
    /* 100 W is never in 190..210 W. */
    assert_int_equal(drive.summary.in_range_s, 0);
    assert_int_equal(drive.load.kind, LOAD_RELEASED);
    assert_int_equal(drive.commands[COMMAND_STOP], 1);
}

static void nothing_comes_after_the_end(void **state)
{
    struct drive drive;

    (void)state;
    drive_init(&drive);
    drive_to(&drive, PLAN_MS);
    const unsigned loads = drive.commands[COMMAND_LOAD];
    drive_for(&drive, 10000);
    drive_key(&drive, KEY_STOP);
    drive_status(&drive, STATUS_SAFETY_KEY);
    drive_link(&drive, false);
    assert_int_equal(drive.effects.count, 0);
    assert_int_equal(drive.commands[COMMAND_LOAD], loads);
    assert_int_equal(drive.summaries, 1);
}

static void load_is_the_middle_of_the_step(void **state)
{
    struct drive drive;

    (void)state;
    drive_init(&drive);
    drive_to(&drive, WORK_1_MS - 1000);
    assert_int_equal(drive.load.value, 100);
    drive_to(&drive, WORK_1_MS + 5000);
    assert_int_equal(drive.load.value, 200);
    drive_to(&drive, REST_1_MS + 1000);
    assert_int_equal(drive.load.value, 80);
}

static void going_down_is_at_once_and_going_up_is_ramped(void **state)
{
    struct drive drive;

    (void)state;
    drive_init(&drive);
    drive_to(&drive, WORK_1_MS + 250);
    /* 100 W a second from 100 W: not yet there. */
    assert_true(drive.load.value < 150);
    drive_to(&drive, REST_1_MS - 250);
    assert_int_equal(drive.load.value, 200);
    drive_to(&drive, REST_1_MS);
    assert_int_equal(drive.load.value, 80);
}

static void load_answer(struct drive *drive, enum answer answer, int32_t power_w)
{
    const struct event event = {.t_ms = drive->t_ms,
                                .kind = EVENT_ANSWER,
                                .answer = {COMMAND_LOAD, answer, {LOAD_POWER, power_w}}};
    drive_event(drive, &event);
}

/* Garbage, or a machine that answers what nobody asked: the next step is still one step. */
static void an_answer_to_no_load_of_ours_is_not_climbed_from(void **state)
{
    struct drive drive;

    (void)state;
    drive_init(&drive);
    drive_to(&drive, WORK_1_MS - 250);
    assert_int_equal(drive.load.value, 100);
    drive.is_mute = true;
    drive_to(&drive, WORK_1_MS + 2000);
    const int32_t sent_w = drive.load.value;
    assert_in_range(sent_w, 101, 150); /* the ramp is up by now, and it waits */
    load_answer(&drive, ANSWER_ACCEPTED, 1000000);
    load_answer(&drive, ANSWER_REFUSED, sent_w);
    drive_for(&drive, 1000);
    assert_in_range(drive.load.value, 101, 150);
}

static void hold_stops_the_block_clock(void **state)
{
    struct drive drive;

    (void)state;
    drive_init(&drive);
    drive_to(&drive, WORK_1_MS + 10000);
    drive_key(&drive, KEY_HOLD);
    assert_int_equal(drive.phase, PHASE_HELD);
    assert_int_equal(drive.load.kind, LOAD_RELEASED);
    const uint32_t block_ms = drive.ride.block_ms;
    const int64_t half_mj = drive.ride.totals.work.half_mj;
    drive_for(&drive, 20000);
    assert_int_equal(drive.ride.block_ms, block_ms);
    assert_true(drive.ride.totals.work.half_mj == half_mj);
    drive_key(&drive, KEY_HOLD);
    assert_int_equal(drive.phase, PHASE_RIDING);
    drive_for(&drive, 250);
    /* From nothing again. */
    assert_true(drive.load.value <= 50);
    drive_for(&drive, 5000);
    assert_int_equal(drive.load.value, 200);
}

static void held_for_too_long_ends(void **state)
{
    struct drive drive;

    (void)state;
    drive_init(&drive);
    drive_to(&drive, WORK_1_MS);
    drive_key(&drive, KEY_HOLD);
    drive_for(&drive, 119000);
    assert_int_equal(drive.phase, PHASE_HELD);
    drive_for(&drive, 2000);
    assert_int_equal(drive.phase, PHASE_ENDED);
    assert_int_equal(drive.summary.reason, REASON_HELD_TOO_LONG);
}

static void stop_rides_out_and_then_leaves(void **state)
{
    struct drive drive;

    (void)state;
    drive_init(&drive);
    drive_to(&drive, WORK_1_MS + 10000);
    drive_key(&drive, KEY_STOP);
    assert_int_equal(drive.load.kind, LOAD_RELEASED);
    assert_int_equal(drive.phase, PHASE_EASY);
    assert_int_equal(drive.cautions[CAUTION_KEEP_TURNING], 1);
    drive_for(&drive, 20000);
    assert_int_equal(drive.phase, PHASE_EASY);
    assert_int_equal(drive.load.kind, LOAD_RELEASED);
    drive_key(&drive, KEY_STOP);
    assert_int_equal(drive.phase, PHASE_ENDED);
    assert_int_equal(drive.summary.end, END_STOPPED);
    assert_int_equal(drive.summary.reason, REASON_STOP_KEY);
    assert_in_range(drive.summary.duration_ms, WORK_1_MS + 29000, WORK_1_MS + 31000);
}

static void riding_out_ends_when_the_legs_stop(void **state)
{
    struct drive drive;

    (void)state;
    drive_init(&drive);
    drive_to(&drive, WORK_1_MS + 10000);
    drive_key(&drive, KEY_STOP);
    drive.cadence_rpm = 0;
    drive_for(&drive, 11000);
    assert_int_equal(drive.phase, PHASE_ENDED);
}

static void riding_out_has_an_end_of_its_own(void **state)
{
    struct drive drive;

    (void)state;
    drive_init(&drive);
    drive_to(&drive, WORK_1_MS + 10000);
    drive_key(&drive, KEY_STOP);
    drive_for(&drive, 179000);
    assert_int_equal(drive.phase, PHASE_EASY);
    drive_for(&drive, 2000);
    assert_int_equal(drive.phase, PHASE_ENDED);
}

static void a_plan_without_cool_down_rides_out(void **state)
{
    struct drive drive;
    struct ride_setup setup;

    (void)state;
    drive_init(&drive);
    setup = drive.ride.setup;
    setup.plan.step_count--; /* the cool-down */
    ride_init(&drive.ride, &setup);
    drive_to(&drive, PLAN_MS);
    assert_int_equal(drive.phase, PHASE_EASY);
    assert_int_equal(drive.load.kind, LOAD_RELEASED);
    drive_key(&drive, KEY_STOP);
    assert_int_equal(drive.summary.end, END_DONE);
}

static void keys_shift_and_skip(void **state)
{
    struct drive drive;

    (void)state;
    drive_init(&drive);
    drive_to(&drive, WORK_1_MS + 10000);
    drive_key(&drive, KEY_LESS);
    assert_int_equal(drive.load.value, 196);
    drive_key(&drive, KEY_MORE);
    drive_key(&drive, KEY_MORE);
    drive_for(&drive, 1000);
    assert_int_equal(drive.load.value, 204);
    for (int i = 0; i < 100; i++)
        drive_key(&drive, KEY_MORE);
    drive_for(&drive, 5000);
    assert_int_equal(drive.load.value, 240); /* a fifth more and no further */
    drive_key(&drive, KEY_SKIP);
    assert_true(drive_saw(&drive, EFFECT_STEP));
    assert_int_equal(drive.load.value, 80 * 120 / 100);
}

/* Else the next ride would be a harder one than that of which half was too much: 100 W are not the
 * plan's 190..210 W. */
static void a_shift_is_not_in_the_plan(void **state)
{
    struct drive drive;

    (void)state;
    drive_init(&drive);
    drive_to(&drive, WORK_1_MS + 10000);
    for (int i = 0; i < 25; i++)
        drive_key(&drive, KEY_LESS);
    drive_to(&drive, PLAN_MS);
    assert_int_equal(drive.summary.in_range_s, 0);
}

static void nobody_pedals(void **state)
{
    struct drive drive;

    (void)state;
    drive_init(&drive);
    struct event machine = {.kind = EVENT_MACHINE};
    drive_link(&drive, true);
    drive_event(&drive, &machine);
    drive.cadence_rpm = 0;
    drive_for(&drive, 301000);
    assert_int_equal(drive.summary.reason, REASON_NOT_STARTED);
    assert_int_equal(drive.summary.duration_ms, 0);
}

static void the_machine_never_becomes_ready(void **state)
{
    struct drive drive;

    (void)state;
    drive_init(&drive);
    drive_link(&drive, true);
    drive.is_silent = true;
    drive_for(&drive, 61000);
    assert_int_equal(drive.summary.reason, REASON_NO_MACHINE);
}

static void a_machine_without_control_is_never_commanded(void **state)
{
    struct drive drive;

    (void)state;
    drive_init(&drive);
    struct event machine = {.kind = EVENT_MACHINE};
    drive_link(&drive, true);
    drive_event(&drive, &machine);
    drive_to(&drive, PLAN_MS);
    assert_int_equal(drive.summary.end, END_DONE);
    assert_int_equal(drive.cautions[CAUTION_NO_CONTROL], 1);
    for (size_t i = 0; i <= COMMAND_STOP; i++)
        assert_int_equal(drive.commands[i], 0);
}

static void a_level_is_commanded_where_the_plan_has_levels(void **state)
{
    struct drive drive;
    struct ride_setup setup;

    (void)state;
    drive_init(&drive);
    setup = drive.ride.setup;
    for (size_t i = 0; i < setup.plan.step_count; i++)
        setup.plan.steps[i].targets.level_tenths = (struct target_range){true, 40, 60};
    ride_init(&drive.ride, &setup);
    struct event machine = {.kind = EVENT_MACHINE};
    machine.machine.takes_level = true;
    machine.machine.level_max_tenths = 45;
    drive_link(&drive, true);
    drive_event(&drive, &machine);
    drive_to(&drive, WORK_1_MS);
    assert_int_equal(drive.load.kind, LOAD_LEVEL);
    assert_int_equal(drive.load.value, 45); /* the machine's most, below the middle of the range */
    assert_int_equal(drive.cautions[CAUTION_LOWERED], 1);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(waits_for_pedalling_and_counts_in),
        cmocka_unit_test(legs_that_stop_in_the_count_in_wait_again),
        cmocka_unit_test(rides_the_plan_to_its_end),
        cmocka_unit_test(nothing_comes_after_the_end),
        cmocka_unit_test(load_is_the_middle_of_the_step),
        cmocka_unit_test(going_down_is_at_once_and_going_up_is_ramped),
        cmocka_unit_test(an_answer_to_no_load_of_ours_is_not_climbed_from),
        cmocka_unit_test(hold_stops_the_block_clock),
        cmocka_unit_test(held_for_too_long_ends),
        cmocka_unit_test(stop_rides_out_and_then_leaves),
        cmocka_unit_test(riding_out_ends_when_the_legs_stop),
        cmocka_unit_test(riding_out_has_an_end_of_its_own),
        cmocka_unit_test(a_plan_without_cool_down_rides_out),
        cmocka_unit_test(keys_shift_and_skip),
        cmocka_unit_test(a_shift_is_not_in_the_plan),
        cmocka_unit_test(nobody_pedals),
        cmocka_unit_test(the_machine_never_becomes_ready),
        cmocka_unit_test(a_machine_without_control_is_never_commanded),
        cmocka_unit_test(a_level_is_commanded_where_the_plan_has_levels),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
