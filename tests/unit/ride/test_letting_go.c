/* Getting the load off, whatever the machine answers; and the faults that come in disguise. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include "support/drive.h"

static void in_work(struct drive *drive)
{
    drive_init(drive);
    drive_to(drive, WORK_1_MS + 10000);
    assert_int_equal(drive->phase, PHASE_RIDING);
    assert_int_equal(drive->load.value, 200);
}

static void answer(struct drive *drive, enum machine_command command, enum answer how,
                   struct load load)
{
    struct event event = {.kind = EVENT_ANSWER};

    event.answer.command = command;
    event.answer.answer = how;
    event.answer.load = load;
    drive_event(drive, &event);
}

static unsigned releases_in(struct drive *drive, uint32_t ms)
{
    const unsigned before = drive->commands[COMMAND_LOAD];

    drive_for(drive, ms);
    return drive->commands[COMMAND_LOAD] - before;
}

/* ---- releases ---- */

static void a_refused_release_is_said_until_it_is_taken(void **state)
{
    struct drive drive;

    (void)state;
    in_work(&drive);
    drive.answer = ANSWER_REFUSED;
    drive_key(&drive, KEY_STOP);
    assert_int_equal(drive.load.kind, LOAD_RELEASED);
    assert_in_range(releases_in(&drive, 30000), 9, 12); /* soon, then every 3 s */
    assert_int_equal(drive.commands[COMMAND_STOP], 1);  /* where it will not have a release */
    assert_int_equal(drive.cut_off, CUT_OFF_NONE);
    drive.answer = ANSWER_ACCEPTED;
    drive_for(&drive, 4000);
    assert_int_equal(releases_in(&drive, 10000), 0);
}

static void an_unanswered_release_is_said_to_the_end(void **state)
{
    struct drive drive;

    (void)state;
    in_work(&drive);
    drive.is_mute = true;
    drive_key(&drive, KEY_STOP);
    assert_in_range(releases_in(&drive, 60000), 18, 21);
}

static void a_machine_that_was_reset_is_released_with_and_without_control(void **state)
{
    const struct load load = {LOAD_POWER, 200};
    struct drive drive;

    (void)state;
    in_work(&drive);
    drive.is_mute = true;
    drive_status(&drive, STATUS_RESET);
    assert_int_equal(drive.load.kind, LOAD_RELEASED);
    assert_int_equal(drive.commands[COMMAND_REQUEST_CONTROL], 2);
    /* The answer to a load that was out at the reset does not count as a second time. */
    answer(&drive, COMMAND_LOAD, ANSWER_NOT_PERMITTED, load);
    answer(&drive, COMMAND_LOAD, ANSWER_NOT_PERMITTED, (struct load){0});
    assert_int_equal(drive.cut_off, CUT_OFF_NONE);
    assert_true(releases_in(&drive, 3500) >= 1);
}

static void a_machine_that_another_program_took_is_released_all_the_same(void **state)
{
    struct drive drive;

    (void)state;
    in_work(&drive);
    drive.answer = ANSWER_NOT_PERMITTED;
    drive_status(&drive, STATUS_CONTROL_LOST);
    assert_int_equal(drive.cut_off, CUT_OFF_CONTROL_LOST);
    assert_int_equal(drive.load.kind, LOAD_RELEASED);
    assert_true(releases_in(&drive, 20000) >= 5);
    assert_int_equal(drive.commands[COMMAND_REQUEST_CONTROL], 1);
}

static void nothing_is_started_again_after_the_safety_key(void **state)
{
    struct drive drive;

    (void)state;
    in_work(&drive);
    drive_status(&drive, STATUS_SAFETY_KEY);
    const unsigned starts = drive.commands[COMMAND_START];
    drive_status(&drive, STATUS_RESET);
    drive_for(&drive, 10000);
    assert_int_equal(drive.commands[COMMAND_START], starts);
    assert_int_equal(drive.load.kind, LOAD_RELEASED);
}

/* ---- leaving ---- */

static void leaving_waits_for_the_machine(void **state)
{
    struct drive drive;

    (void)state;
    in_work(&drive);
    drive.is_mute = true;
    drive_key(&drive, KEY_LEAVE);
    assert_int_equal(drive.phase, PHASE_LEAVING);
    drive_for(&drive, 1500);
    assert_int_equal(drive.phase, PHASE_LEAVING);
    answer(&drive, COMMAND_LOAD, ANSWER_ACCEPTED, (struct load){0});
    assert_int_equal(drive.phase, PHASE_LEAVING);
    answer(&drive, COMMAND_STOP, ANSWER_REFUSED, (struct load){0});
    assert_int_equal(drive.phase, PHASE_ENDED);
    assert_false(drive.summary.unreleased);
}

static void leaving_does_not_wait_for_ever_and_says_so(void **state)
{
    struct drive drive;

    (void)state;
    in_work(&drive);
    drive.is_mute = true;
    drive_key(&drive, KEY_LEAVE);
    drive_for(&drive, 5500);
    assert_int_equal(drive.phase, PHASE_LEAVING);
    assert_true(drive.commands[COMMAND_STOP] >= 2);
    drive_for(&drive, 1000);
    assert_int_equal(drive.phase, PHASE_ENDED);
    assert_true(drive.summary.unreleased);
}

static void leaving_twice_is_leaving_once(void **state)
{
    struct drive drive;

    (void)state;
    in_work(&drive);
    drive.is_mute = true;
    drive_key(&drive, KEY_LEAVE);
    drive_key(&drive, KEY_LEAVE);
    drive_key(&drive, KEY_STOP);
    assert_int_equal(drive.phase, PHASE_LEAVING);
}

/* ---- the machine's range ---- */

static void less_than_the_machine_can_is_a_release(void **state)
{
    struct drive drive;
    struct event machine = {.kind = EVENT_MACHINE};

    (void)state;
    drive_init(&drive);
    machine.machine = (struct machine){.takes_power = true, .power_min_w = 90, .power_max_w = 600};
    drive_link(&drive, true);
    drive_event(&drive, &machine);
    drive_to(&drive, WORK_1_MS + 10000);
    assert_int_equal(drive.load.value, 200);
    drive_to(&drive, REST_1_MS + 10000); /* 80 W are asked for */
    assert_int_equal(drive.phase, PHASE_RIDING);
    assert_int_equal(drive.load.kind, LOAD_RELEASED);
}

/* ---- legs and silence ---- */

static void a_bike_that_is_quiet_in_a_hold_may_go_on(void **state)
{
    struct drive drive;

    (void)state;
    in_work(&drive);
    drive_key(&drive, KEY_HOLD);
    drive.is_silent = true;
    drive_for(&drive, 30000);
    drive_key(&drive, KEY_HOLD);
    drive_for(&drive, 5000);
    assert_int_equal(drive.cut_off, CUT_OFF_NONE);
    assert_int_equal(drive.load.kind, LOAD_RELEASED);
    drive.is_silent = false;
    drive_for(&drive, 5000);
    assert_int_equal(drive.load.value, 200);
}

static void a_bike_that_is_quiet_when_nobody_pedals_is_waited_for(void **state)
{
    struct drive drive;

    (void)state;
    in_work(&drive);
    drive.cadence_rpm = 0;
    drive.power_w = 0;
    drive_for(&drive, 3000);
    assert_int_equal(drive.hold, HOLD_CADENCE);
    drive.is_silent = true;
    drive_for(&drive, 60000);
    assert_int_equal(drive.hold, HOLD_CADENCE);
    assert_int_equal(drive.cut_off, CUT_OFF_NONE);
}

static void telemetry(struct drive *drive, uint32_t has, int32_t power_w, uint32_t for_ms)
{
    const struct event tick = {.kind = EVENT_TICK};

    drive->is_silent = true;
    for (uint32_t ms = 0; ms < for_ms; ms += TICK_MS) {
        struct event data = {.kind = EVENT_TELEMETRY};
        data.telemetry = (struct telemetry){.has = has, .power_w = power_w, .cadence_rpm = 90};
        drive->t_ms += TICK_MS;
        drive_event(drive, &data);
        drive_event(drive, &tick);
    }
}

static void a_cadence_that_vanishes_is_not_believed_for_ever(void **state)
{
    struct drive drive;

    (void)state;
    in_work(&drive);
    telemetry(&drive, HAS_POWER, 200, 20000);
    assert_int_equal(drive.load.value, 200);
    telemetry(&drive, HAS_POWER, 0, 6000);
    assert_int_equal(drive.load.kind, LOAD_RELEASED);
    assert_int_equal(drive.hold, HOLD_CADENCE);
    telemetry(&drive, HAS_POWER, 40, 3000);
    assert_int_equal(drive.hold, HOLD_NONE);
    assert_int_equal(drive.load.kind, LOAD_POWER);
}

static void one_high_reading_and_silence_is_no_excess(void **state)
{
    struct drive drive;

    (void)state;
    in_work(&drive);
    telemetry(&drive, HAS_POWER | HAS_CADENCE, 1600, TICK_MS);
    drive_for(&drive, 5000);
    assert_int_equal(drive.cut_off, CUT_OFF_NONE);
    assert_int_equal(drive.hold, HOLD_NO_DATA);
}

static void a_heart_that_is_heard_seldom_cuts_off_all_the_same(void **state)
{
    struct drive drive;
    struct event heart = {.kind = EVENT_HEART};

    (void)state;
    in_work(&drive);
    for (int32_t bpm = 150; drive.cut_off == CUT_OFF_NONE && bpm < 250; bpm += 10) {
        heart.heart.heart_bpm = bpm < 190 ? bpm : 190;
        drive_event(&drive, &heart);
        drive_for(&drive, 3000);
    }
    assert_int_equal(drive.cut_off, CUT_OFF_HEART);
    assert_int_equal(drive.load.kind, LOAD_RELEASED);
}

/* ---- at the console ---- */

static void a_pause_at_the_machine_stands_before_a_hold_that_ends_itself(void **state)
{
    struct drive drive;

    (void)state;
    in_work(&drive);
    drive.cadence_rpm = 0;
    drive_for(&drive, 3000);
    drive_status(&drive, STATUS_PAUSED);
    drive.cadence_rpm = 80;
    drive_for(&drive, 5000);
    assert_int_equal(drive.hold, HOLD_PAUSED);
    assert_int_equal(drive.load.kind, LOAD_RELEASED);
    /* By key: then the machine has to be started again. */
    const unsigned starts = drive.commands[COMMAND_START];
    drive_key(&drive, KEY_HOLD);
    drive_for(&drive, 500);
    assert_int_equal(drive.commands[COMMAND_START], starts + 1);
}

static void a_stop_at_the_machine_while_counting_in_waits_for_rest(void **state)
{
    struct drive drive;
    struct event machine = {.kind = EVENT_MACHINE};

    (void)state;
    drive_init(&drive);
    machine.machine.takes_power = true;
    drive_link(&drive, true);
    drive_event(&drive, &machine);
    drive_for(&drive, 1000);
    assert_int_equal(drive.phase, PHASE_COUNT_IN);
    drive_status(&drive, STATUS_STOPPED);
    drive_for(&drive, 20000);
    assert_int_equal(drive.phase, PHASE_READY);
    drive.cadence_rpm = 0;
    drive_for(&drive, 500);
    drive.cadence_rpm = 80;
    drive_for(&drive, 500);
    assert_int_equal(drive.phase, PHASE_COUNT_IN);
}

static void the_pause_key_never_brings_the_load_back(void **state)
{
    struct drive drive;

    (void)state;
    in_work(&drive);
    drive_key(&drive, KEY_PAUSE);
    assert_int_equal(drive.phase, PHASE_HELD);
    drive_key(&drive, KEY_PAUSE);
    assert_int_equal(drive.phase, PHASE_HELD);
}

/* ---- a link that was lost under a load ---- */

/* Nobody knows what the machine made of that: the load may still be on it when it is back. */
static void lose_link_in_work(struct drive *drive)
{
    in_work(drive);
    drive->is_silent = true;
    drive_link(drive, false);
    drive_for(drive, 2000);
}

static void bring_link_back(struct drive *drive)
{
    const struct event machine = {.kind = EVENT_MACHINE,
                                  .machine = {.takes_power = true, .power_max_w = 800}};

    drive_link(drive, true);
    drive_event(drive, &machine);
    drive->is_silent = false;
}

static void a_link_that_is_back_after_a_stop_is_used_to_let_go(void **state)
{
    struct drive drive;

    (void)state;
    lose_link_in_work(&drive);
    drive_key(&drive, KEY_STOP);
    const unsigned releases = drive.commands[COMMAND_LOAD];
    bring_link_back(&drive);
    drive_for(&drive, 4000);
    assert_true(drive.commands[COMMAND_LOAD] > releases);
    assert_int_equal(drive.load.kind, LOAD_RELEASED);
    assert_int_equal(drive.phase, PHASE_EASY);
    drive_key(&drive, KEY_LEAVE);
    drive_for(&drive, 7000);
    assert_false(drive.summary.unreleased);
}

static void leaving_before_control_is_back_waits_for_the_release(void **state)
{
    struct drive drive;

    (void)state;
    lose_link_in_work(&drive);
    drive.is_mute = true;
    bring_link_back(&drive);
    drive_for(&drive, 500);
    drive_key(&drive, KEY_LEAVE);
    assert_int_equal(drive.phase, PHASE_LEAVING);
    drive.is_mute = false;
    drive_for(&drive, 7000);
    assert_int_equal(drive.phase, PHASE_ENDED);
    assert_int_equal(drive.commands[COMMAND_STOP], 1);
    assert_false(drive.summary.unreleased);
}

static void a_release_is_said_also_where_control_is_refused(void **state)
{
    struct drive drive;

    (void)state;
    lose_link_in_work(&drive);
    drive.is_mute = true;
    const unsigned releases = drive.commands[COMMAND_LOAD];
    bring_link_back(&drive);
    answer(&drive, COMMAND_REQUEST_CONTROL, ANSWER_REFUSED, (struct load){0});
    drive.is_mute = false;
    drive_for(&drive, 10000);
    assert_int_equal(drive.cut_off, CUT_OFF_REFUSED);
    assert_true(drive.commands[COMMAND_LOAD] > releases);
    assert_int_equal(drive.load.kind, LOAD_RELEASED);
}

static void a_link_that_stays_away_is_told_of(void **state)
{
    struct drive drive;

    (void)state;
    lose_link_in_work(&drive);
    drive_key(&drive, KEY_STOP);
    drive_key(&drive, KEY_LEAVE);
    drive_for(&drive, 7000);
    assert_int_equal(drive.phase, PHASE_ENDED);
    assert_true(drive.summary.unreleased);
}

/* Riding out with a release that nobody took: as long as a link that is lost in the block. */
static void a_release_waits_for_a_link_lost_while_riding_out(void **state)
{
    struct drive drive;

    (void)state;
    in_work(&drive);
    drive.is_mute = true;
    drive_key(&drive, KEY_STOP);
    assert_int_equal(drive.phase, PHASE_EASY);
    drive.is_silent = true;
    drive_link(&drive, false);
    drive_for(&drive, 55000);
    assert_int_equal(drive.phase, PHASE_EASY);
    const unsigned releases = drive.commands[COMMAND_LOAD];
    drive.is_mute = false;
    bring_link_back(&drive);
    drive_for(&drive, 4000);
    assert_true(drive.commands[COMMAND_LOAD] > releases);
    assert_int_equal(drive.load.kind, LOAD_RELEASED);
    assert_false(ride_may_be_loaded(&drive.ride));
    drive_key(&drive, KEY_LEAVE);
    drive_for(&drive, 7000);
    assert_false(drive.summary.unreleased);
    assert_int_equal(drive.summary.end, END_STOPPED);
}

static void a_link_that_stays_away_while_riding_out_is_told_of(void **state)
{
    struct drive drive;

    (void)state;
    in_work(&drive);
    drive.is_mute = drive.is_silent = true;
    drive_key(&drive, KEY_STOP);
    drive_link(&drive, false);
    drive_for(&drive, 61000);
    assert_int_equal(drive.phase, PHASE_ENDED);
    assert_true(drive.summary.unreleased);
    assert_int_equal(drive.summary.end,
                     END_STOPPED); /* which it was: nothing is cut off any more */
}

/* With the load off it is the record alone that a link is missed for. */
static void riding_out_goes_on_over_a_short_loss(void **state)
{
    struct drive drive;

    (void)state;
    in_work(&drive);
    drive_key(&drive, KEY_STOP);
    drive_for(&drive, 5000);
    assert_false(ride_may_be_loaded(&drive.ride));
    drive.is_silent = true;
    drive_link(&drive, false);
    drive_for(&drive, 6000);
    assert_int_equal(drive.phase, PHASE_EASY);
    bring_link_back(&drive);
    drive_for(&drive, 20000);
    assert_int_equal(drive.phase, PHASE_EASY);
    drive.is_silent = true;
    drive_link(&drive, false);
    drive_for(&drive, 11000);
    assert_int_equal(drive.phase, PHASE_ENDED);
    assert_false(drive.summary.unreleased);
}

static void a_link_that_is_back_while_leaving_is_used_to_let_go(void **state)
{
    struct drive drive;

    (void)state;
    in_work(&drive);
    drive.is_mute = drive.is_silent = true;
    drive_key(&drive, KEY_LEAVE);
    drive_for(&drive, 1000);
    drive_link(&drive, false);
    drive_for(&drive, 3000);
    assert_int_equal(drive.phase, PHASE_LEAVING);
    drive.is_mute = false;
    bring_link_back(&drive);
    drive_for(&drive, 2000);
    assert_int_equal(drive.phase, PHASE_ENDED);
    assert_int_equal(drive.load.kind, LOAD_RELEASED);
    assert_true(drive.commands[COMMAND_STOP] > 0);
    assert_false(drive.summary.unreleased);
}

/* Refused is not unheard: there is no answer to wait for, and the load is on meanwhile. */
static void a_refused_release_is_said_again_soon(void **state)
{
    struct drive drive;

    (void)state;
    drive_init(&drive);
    drive_to(&drive, WORK_1_MS + 10000);
    drive.answer = ANSWER_REFUSED;
    drive_key(&drive, KEY_HOLD);
    assert_int_equal(drive.load.kind, LOAD_RELEASED);
    drive.answer = ANSWER_ACCEPTED;
    const unsigned said = drive.commands[COMMAND_LOAD];
    drive_for(&drive, 750);
    assert_int_equal(drive.commands[COMMAND_LOAD], said + 1);
    assert_false(ride_may_be_loaded(&drive.ride));
    drive_for(&drive, 5000);
    assert_int_equal(drive.commands[COMMAND_LOAD], said + 1);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_refused_release_is_said_until_it_is_taken),
        cmocka_unit_test(an_unanswered_release_is_said_to_the_end),
        cmocka_unit_test(a_machine_that_was_reset_is_released_with_and_without_control),
        cmocka_unit_test(a_machine_that_another_program_took_is_released_all_the_same),
        cmocka_unit_test(nothing_is_started_again_after_the_safety_key),
        cmocka_unit_test(leaving_waits_for_the_machine),
        cmocka_unit_test(leaving_does_not_wait_for_ever_and_says_so),
        cmocka_unit_test(leaving_twice_is_leaving_once),
        cmocka_unit_test(less_than_the_machine_can_is_a_release),
        cmocka_unit_test(a_bike_that_is_quiet_in_a_hold_may_go_on),
        cmocka_unit_test(a_bike_that_is_quiet_when_nobody_pedals_is_waited_for),
        cmocka_unit_test(a_cadence_that_vanishes_is_not_believed_for_ever),
        cmocka_unit_test(one_high_reading_and_silence_is_no_excess),
        cmocka_unit_test(a_heart_that_is_heard_seldom_cuts_off_all_the_same),
        cmocka_unit_test(a_pause_at_the_machine_stands_before_a_hold_that_ends_itself),
        cmocka_unit_test(a_stop_at_the_machine_while_counting_in_waits_for_rest),
        cmocka_unit_test(the_pause_key_never_brings_the_load_back),
        cmocka_unit_test(a_link_that_is_back_after_a_stop_is_used_to_let_go),
        cmocka_unit_test(leaving_before_control_is_back_waits_for_the_release),
        cmocka_unit_test(a_release_is_said_also_where_control_is_refused),
        cmocka_unit_test(a_link_that_stays_away_is_told_of),
        cmocka_unit_test(a_release_waits_for_a_link_lost_while_riding_out),
        cmocka_unit_test(a_link_that_stays_away_while_riding_out_is_told_of),
        cmocka_unit_test(riding_out_goes_on_over_a_short_loss),
        cmocka_unit_test(a_link_that_is_back_while_leaving_is_used_to_let_go),
        cmocka_unit_test(a_refused_release_is_said_again_soon),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
