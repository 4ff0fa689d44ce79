/* Every fault that can come up in a ride: how it is seen, what follows, and how soon. */
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

/* Rides on in the fault until something is cut off; gives how long it took. */
static uint32_t until_cut_off(struct drive *drive, uint32_t at_most_ms)
{
    const uint64_t begin_ms = drive->t_ms;

    while (drive->cut_off == CUT_OFF_NONE && drive->t_ms - begin_ms < at_most_ms)
        drive_for(drive, TICK_MS);
    return (uint32_t)(drive->t_ms - begin_ms);
}

static void assert_cut_off(const struct drive *drive, enum cut_off cut_off)
{
    assert_int_equal(drive->cut_off, cut_off);
    assert_int_equal(drive->load.kind, LOAD_RELEASED);
    assert_int_equal(drive->phase, PHASE_EASY);
}

/* ---- stop ---- */

static void stop_is_obeyed_in_the_same_step(void **state)
{
    struct drive drive;

    (void)state;
    in_work(&drive);
    drive_key(&drive, KEY_STOP);
    assert_int_equal(drive.effects.list[0].kind, EFFECT_COMMAND);
    assert_int_equal(drive.effects.list[0].command.command, COMMAND_LOAD);
    assert_int_equal(drive.effects.list[0].command.load.kind, LOAD_RELEASED);
    assert_true(drive.effects.list[0].command.now);
}

static void leaving_releases_and_stops_the_machine(void **state)
{
    static const struct {
        enum ride_key key;
        enum end_reason reason;
    } rows[] = {{KEY_LEAVE, REASON_LEFT}, {KEY_UNGUARDED, REASON_UNGUARDED}};
    struct drive drive;

    (void)state;
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        in_work(&drive);
        drive_key(&drive, rows[i].key);
        assert_int_equal(drive.phase, PHASE_ENDED);
        assert_int_equal(drive.effects.list[0].command.load.kind, LOAD_RELEASED);
        assert_int_equal(drive.effects.list[1].command.command, COMMAND_STOP);
        assert_int_equal(drive.summary.reason, rows[i].reason);
    }
}

/* ---- readings ---- */

static void silence_holds_and_then_cuts_off(void **state)
{
    struct drive drive;

    (void)state;
    in_work(&drive);
    drive.is_silent = true;
    drive_for(&drive, 3000);
    assert_int_equal(drive.load.value, 200);
    drive_for(&drive, 250);
    assert_int_equal(drive.hold, HOLD_NO_DATA);
    assert_int_equal(drive.load.kind, LOAD_RELEASED);
    assert_in_range(until_cut_off(&drive, 20000), 10000, 10500); /* of the hold */
    assert_cut_off(&drive, CUT_OFF_NO_DATA);
}

static void readings_that_come_back_go_on_from_nothing(void **state)
{
    struct drive drive;

    (void)state;
    in_work(&drive);
    drive.is_silent = true;
    drive_for(&drive, 5000);
    assert_int_equal(drive.hold, HOLD_NO_DATA);
    drive.is_silent = false;
    drive_for(&drive, 250);
    assert_int_equal(drive.hold, HOLD_NONE);
    assert_true(drive.load.value < 200);
    drive_for(&drive, 3000);
    assert_int_equal(drive.load.value, 200);
}

static void readings_that_cannot_be_true_age_like_silence(void **state)
{
    static const struct {
        int32_t power_w, cadence_rpm;
    } rows[] = {{-51, 90}, {2501, 90}, {200, -1}, {200, 251}, {32767, 32767}};

    (void)state;
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        struct drive drive;
        in_work(&drive);
        drive.power_w = rows[i].power_w;
        drive.cadence_rpm = rows[i].cadence_rpm;
        drive_for(&drive, 3500);
        assert_int_equal(drive.hold, HOLD_NO_DATA);
        assert_int_equal(drive.load.kind, LOAD_RELEASED);
        assert_true(drive.cautions[CAUTION_DOUBTFUL] > 0);
    }
}

static void one_false_reading_does_no_harm(void **state)
{
    struct drive drive;

    (void)state;
    in_work(&drive);
    const int64_t half_mj = drive.ride.totals.work.half_mj;
    struct event data = {.kind = EVENT_TELEMETRY};
    data.telemetry = (struct telemetry){.has = HAS_POWER, .power_w = 20000};
    drive_event(&drive, &data);
    assert_false(drive_saw(&drive, EFFECT_SAMPLE));
    assert_true(drive.ride.totals.work.half_mj == half_mj);
    drive_for(&drive, 2000);
    assert_int_equal(drive.load.value, 200);
    assert_int_equal(drive.cut_off, CUT_OFF_NONE);
}

/* ---- cadence and power ---- */

static void cadence_that_collapses_under_load_is_let_go(void **state)
{
    struct drive drive;

    (void)state;
    in_work(&drive);
    drive.cadence_rpm = 39;
    drive_for(&drive, 2000);
    assert_int_equal(drive.load.value, 200);
    drive_for(&drive, 500);
    assert_int_equal(drive.load.kind, LOAD_RELEASED);
    assert_int_equal(drive.hold, HOLD_CADENCE);
    /* Not before the legs are well above where they gave in. */
    drive.cadence_rpm = 54;
    drive_for(&drive, 5000);
    assert_int_equal(drive.hold, HOLD_CADENCE);
    drive.cadence_rpm = 55;
    drive_for(&drive, 500);
    assert_int_equal(drive.hold, HOLD_NONE);
    assert_in_range(drive.load.value, 1, 75);
}

static void legs_may_rest_in_a_rest(void **state)
{
    struct drive drive;

    (void)state;
    drive_init(&drive);
    drive_to(&drive, REST_1_MS + 2000);
    drive.cadence_rpm = 0;
    drive_for(&drive, 10000);
    /* The load is gone, the clock runs. */
    assert_int_equal(drive.load.kind, LOAD_RELEASED);
    assert_int_equal(drive.phase, PHASE_RIDING);
    drive.cadence_rpm = 80;
    drive_for(&drive, 2000);
    assert_int_equal(drive.load.value, 80);
}

static void a_cadence_over_the_limit_cuts_off(void **state)
{
    struct drive drive;

    (void)state;
    in_work(&drive);
    drive.cadence_rpm = 150;
    drive_for(&drive, 5000);
    assert_int_equal(drive.cut_off, CUT_OFF_NONE);
    drive.cadence_rpm = 151;
    assert_in_range(until_cut_off(&drive, 10000), 3000, 3500);
    assert_cut_off(&drive, CUT_OFF_CADENCE);
}

static void a_power_over_the_limit_cuts_off(void **state)
{
    struct drive drive;

    (void)state;
    in_work(&drive);
    drive.power_w = 1501;
    drive_for(&drive, 2000);
    drive.power_w = 200; /* a short peak is no fault */
    drive_for(&drive, 1000);
    assert_int_equal(drive.cut_off, CUT_OFF_NONE);
    drive.power_w = 1501;
    assert_in_range(until_cut_off(&drive, 10000), 3000, 3500);
    assert_cut_off(&drive, CUT_OFF_POWER);
}

/* ---- heart ---- */

static void a_heart_over_the_limit_cuts_off(void **state)
{
    struct drive drive;

    (void)state;
    drive_init(&drive);
    drive.has_strap = true;
    drive.strap_bpm = 174;
    drive_to(&drive, WORK_1_MS + 10000);
    assert_int_equal(drive.cautions[CAUTION_HEART_NEAR], 0);
    drive.strap_bpm = 175; /* 180 where nothing is known of the rider, less 5 */
    drive_for(&drive, 2000);
    assert_int_equal(drive.cautions[CAUTION_HEART_NEAR], 1);
    drive.strap_bpm = 180;
    drive_for(&drive, 10000);
    assert_int_equal(drive.cut_off, CUT_OFF_NONE);
    drive.strap_bpm = 181;
    /* When more than half of the readings of 5 s are over it. */
    assert_in_range(until_cut_off(&drive, 10000), 2000, 4250);
    assert_cut_off(&drive, CUT_OFF_HEART);
}

static void one_high_reading_does_not_cut_off(void **state)
{
    struct drive drive;

    (void)state;
    drive_init(&drive);
    drive.has_strap = true;
    drive.strap_bpm = 176;
    drive_to(&drive, WORK_1_MS + 10000);
    drive.strap_bpm = 181;
    drive_for(&drive, 1000);
    drive.strap_bpm = 176;
    drive_for(&drive, 10000);
    assert_int_equal(drive.cut_off, CUT_OFF_NONE);
}

static void a_strap_lost_in_work_drops_to_rest_load(void **state)
{
    struct drive drive;

    (void)state;
    drive_init(&drive);
    drive.has_strap = true;
    drive.strap_bpm = 140;
    drive_to(&drive, WORK_1_MS + 10000);
    drive.has_strap = false;
    drive_for(&drive, 7000);
    assert_int_equal(drive.cautions[CAUTION_STRAP_LOST], 1);
    assert_int_equal(drive.load.value, 80);
    assert_int_equal(drive.phase, PHASE_RIDING);
    drive.has_strap = true;
    drive_for(&drive, 4000);
    assert_int_equal(drive.load.value, 200);
}

/* ---- the machine ---- */

static void what_the_machine_reports_cuts_off_at_once(void **state)
{
    static const struct {
        enum machine_status status;
        enum cut_off cut_off;
    } rows[] = {{STATUS_SAFETY_KEY, CUT_OFF_SAFETY_KEY},
                {STATUS_CONTROL_LOST, CUT_OFF_CONTROL_LOST}};

    (void)state;
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        struct drive drive;
        in_work(&drive);
        drive_status(&drive, rows[i].status);
        assert_int_equal(drive.cut_off, rows[i].cut_off);
        assert_int_equal(drive.phase, PHASE_EASY);
        drive_for(&drive, 30000);
        assert_true(drive.load.kind == LOAD_RELEASED || drive.load_t_ms < drive.t_ms - 30000);
    }
}

static void a_stop_at_the_machine_is_the_riders(void **state)
{
    struct drive drive;

    (void)state;
    in_work(&drive);
    drive_status(&drive, STATUS_STOPPED);
    assert_int_equal(drive.phase, PHASE_EASY);
    assert_int_equal(drive.load.kind, LOAD_RELEASED);
    drive_key(&drive, KEY_STOP);
    assert_int_equal(drive.summary.end, END_STOPPED);
    assert_int_equal(drive.summary.reason, REASON_MACHINE_STOP);
}

static void a_pause_at_the_machine_holds_until_it_is_started(void **state)
{
    struct drive drive;

    (void)state;
    in_work(&drive);
    drive_status(&drive, STATUS_PAUSED);
    assert_int_equal(drive.hold, HOLD_PAUSED);
    assert_int_equal(drive.load.kind, LOAD_RELEASED);
    drive_for(&drive, 10000);
    assert_int_equal(drive.hold, HOLD_PAUSED);
    drive_status(&drive, STATUS_STARTED);
    assert_int_equal(drive.phase, PHASE_RIDING);
}

static void a_link_that_is_lost_holds_and_then_cuts_off(void **state)
{
    struct drive drive;

    (void)state;
    in_work(&drive);
    drive_lose_link(&drive);
    assert_int_equal(drive.hold, HOLD_LINK);
    assert_int_equal(drive.cut_off, CUT_OFF_NONE);
    assert_in_range(until_cut_off(&drive, 100000), 60000, 60500);
    assert_int_equal(drive.cut_off, CUT_OFF_LINK_LOST);
}

static void a_link_that_comes_back_is_ridden_on_from_nothing(void **state)
{
    struct drive drive;

    (void)state;
    in_work(&drive);
    const uint32_t block_ms = drive.ride.block_ms;
    drive_lose_link(&drive);
    drive_for(&drive, 40000);
    drive_regain_link(&drive);
    assert_int_equal(drive.commands[COMMAND_REQUEST_CONTROL], 2);
    /* Not before there are readings, however long that takes. */
    drive_for(&drive, 15000);
    assert_int_equal(drive.hold, HOLD_LINK);
    assert_int_equal(drive.load.kind, LOAD_RELEASED);
    assert_int_equal(drive.ride.block_ms, block_ms);
    drive.is_silent = false;
    drive_for(&drive, 500);
    assert_int_equal(drive.phase, PHASE_RIDING);
    assert_in_range(drive.load.value, 1, 50);
    drive_for(&drive, 4000);
    assert_int_equal(drive.load.value, 200);
}

static void a_link_that_comes_and_goes_is_waited_for_once(void **state)
{
    struct drive drive;

    (void)state;
    in_work(&drive);
    for (int i = 0; i < 10 && drive.cut_off == CUT_OFF_NONE; i++) {
        drive_lose_link(&drive);
        drive_for(&drive, 5000);
        drive_regain_link(&drive);
        drive_for(&drive, 5000);
    }
    assert_int_equal(drive.cut_off, CUT_OFF_LINK_LOST);
}

static void a_link_lost_before_the_start_is_waited_for(void **state)
{
    struct drive drive;
    struct event machine = {.kind = EVENT_MACHINE};

    (void)state;
    drive_init(&drive);
    drive_link(&drive, true);
    drive_event(&drive, &machine);
    drive_lose_link(&drive);
    assert_int_equal(drive.phase, PHASE_CONNECTING);
    drive_for(&drive, 30000);
    drive_regain_link(&drive);
    assert_int_equal(drive.phase, PHASE_READY);
}

static void a_load_without_an_answer_is_repeated_once(void **state)
{
    struct drive drive;

    (void)state;
    in_work(&drive);
    drive.is_mute = true;
    drive_key(&drive, KEY_LESS);
    const unsigned loads = drive.commands[COMMAND_LOAD];
    drive_for(&drive, 2750);
    assert_int_equal(drive.commands[COMMAND_LOAD], loads);
    drive_for(&drive, 500);
    assert_int_equal(drive.commands[COMMAND_LOAD], loads + 1);
    assert_int_equal(drive.cut_off, CUT_OFF_NONE);
    assert_in_range(until_cut_off(&drive, 10000), 2500, 3250);
    assert_cut_off(&drive, CUT_OFF_UNANSWERED);
    /* The release goes on being repeated, for the machine may hear it yet. */
    const unsigned releases = drive.commands[COMMAND_LOAD];
    drive_for(&drive, 10000);
    assert_true(drive.commands[COMMAND_LOAD] >= releases + 3);
}

static void a_load_that_is_refused_twice_cuts_off(void **state)
{
    struct drive drive;

    (void)state;
    in_work(&drive);
    drive.answer = ANSWER_REFUSED;
    drive_key(&drive, KEY_LESS);
    drive_for(&drive, 500);
    assert_int_equal(drive.cautions[CAUTION_LOAD_REFUSED], 1);
    (void)until_cut_off(&drive, 2000);
    assert_cut_off(&drive, CUT_OFF_REFUSED);

    /* One that rose is said again at once, too: to repeat it raises nothing. */
    in_work(&drive);
    drive.answer = ANSWER_REFUSED;
    drive_key(&drive, KEY_MORE);
    assert_true(until_cut_off(&drive, 2000) <= TICK_MS);
}

static void control_is_asked_for_again_once(void **state)
{
    struct drive drive;

    (void)state;
    in_work(&drive);
    assert_int_equal(drive.commands[COMMAND_REQUEST_CONTROL], 1);
    drive_status(&drive, STATUS_RESET);
    drive_for(&drive, 5000);
    assert_int_equal(drive.commands[COMMAND_REQUEST_CONTROL], 2);
    assert_int_equal(drive.cut_off, CUT_OFF_NONE);
    assert_int_equal(drive.load.value, 200);
    drive_status(&drive, STATUS_RESET);
    drive_for(&drive, 250);
    assert_int_equal(drive.cut_off, CUT_OFF_CONTROL_LOST);
}

/* ---- time ---- */

static void a_clock_that_jumps_holds_and_is_not_ridden_time(void **state)
{
    struct drive drive;

    (void)state;
    in_work(&drive);
    const uint32_t block_ms = drive.ride.block_ms;
    drive.t_ms += 60000;
    const struct event tick = {.kind = EVENT_TICK};
    drive_event(&drive, &tick);
    assert_int_equal(drive.load.kind, LOAD_RELEASED);
    assert_int_equal(drive.ride.block_ms, block_ms);
    assert_int_equal(drive.hold, HOLD_CLOCK_JUMP);
    /* Readings are there again at once, and are no reason to go on. */
    drive_for(&drive, 5000);
    assert_int_equal(drive.load.kind, LOAD_RELEASED);
    drive_key(&drive, KEY_HOLD);
    drive_for(&drive, 4000);
    assert_int_equal(drive.load.value, 200);
}

static void a_ride_that_takes_far_too_long_is_cut_off(void **state)
{
    struct drive drive;

    (void)state;
    in_work(&drive);
    /* Held again and again, never too long at once. */
    while (drive.phase != PHASE_EASY && drive.phase != PHASE_ENDED) {
        drive_key(&drive, KEY_HOLD);
        drive_for(&drive, 115000);
        drive_key(&drive, KEY_HOLD);
        drive_for(&drive, 500);
    }
    assert_int_equal(drive.cut_off, CUT_OFF_TIME);
    /* Ten minutes more than the plan. */
    assert_in_range(drive.cut_off_t_ms - drive.ride.start_t_ms, 959000, 961000);
}

/* ---- latching ---- */

static void a_cut_off_stays_and_the_first_reason_is_kept(void **state)
{
    static const enum ride_key keys[] = {KEY_HOLD, KEY_MORE, KEY_LESS, KEY_SKIP, KEY_NONE};
    struct drive drive;

    (void)state;
    in_work(&drive);
    drive_status(&drive, STATUS_SAFETY_KEY);
    drive_link(&drive, true);
    for (size_t i = 0; i < sizeof keys / sizeof keys[0]; i++) {
        drive_key(&drive, keys[i]);
        drive_for(&drive, 2000);
        assert_int_equal(drive.load.kind, LOAD_RELEASED);
    }
    drive_status(&drive, STATUS_STARTED);
    drive.power_w = 1501;
    drive_for(&drive, 5000);
    drive_key(&drive, KEY_STOP);
    assert_int_equal(drive.summary.end, END_CUT_OFF);
    assert_int_equal(drive.summary.cut_off, CUT_OFF_SAFETY_KEY);
}

static void loads_stay_below_every_limit(void **state)
{
    static const struct {
        uint16_t rider_w;
        int32_t machine_w, most_w;
    } rows[] = {
        {0, 0, 800},     /* the program's */
        {0, 150, 150},   /* the machine's */
        {150, 600, 135}, /* nine tenths of the rider's */
        {1000, 0, 800},
    };

    (void)state;
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        const struct rider rider = {.power_limit_w = rows[i].rider_w};
        const struct machine machine = {.takes_power = true, .power_max_w = rows[i].machine_w};
        struct limits limits;
        limits_set(&rider, &machine, 0, &limits);
        assert_int_equal(limits.load_max_w, rows[i].most_w);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(stop_is_obeyed_in_the_same_step),
        cmocka_unit_test(leaving_releases_and_stops_the_machine),
        cmocka_unit_test(silence_holds_and_then_cuts_off),
        cmocka_unit_test(readings_that_come_back_go_on_from_nothing),
        cmocka_unit_test(readings_that_cannot_be_true_age_like_silence),
        cmocka_unit_test(one_false_reading_does_no_harm),
        cmocka_unit_test(cadence_that_collapses_under_load_is_let_go),
        cmocka_unit_test(legs_may_rest_in_a_rest),
        cmocka_unit_test(a_cadence_over_the_limit_cuts_off),
        cmocka_unit_test(a_power_over_the_limit_cuts_off),
        cmocka_unit_test(a_heart_over_the_limit_cuts_off),
        cmocka_unit_test(one_high_reading_does_not_cut_off),
        cmocka_unit_test(a_strap_lost_in_work_drops_to_rest_load),
        cmocka_unit_test(what_the_machine_reports_cuts_off_at_once),
        cmocka_unit_test(a_stop_at_the_machine_is_the_riders),
        cmocka_unit_test(a_pause_at_the_machine_holds_until_it_is_started),
        cmocka_unit_test(a_link_that_is_lost_holds_and_then_cuts_off),
        cmocka_unit_test(a_link_that_comes_back_is_ridden_on_from_nothing),
        cmocka_unit_test(a_link_that_comes_and_goes_is_waited_for_once),
        cmocka_unit_test(a_link_lost_before_the_start_is_waited_for),
        cmocka_unit_test(a_load_without_an_answer_is_repeated_once),
        cmocka_unit_test(a_load_that_is_refused_twice_cuts_off),
        cmocka_unit_test(control_is_asked_for_again_once),
        cmocka_unit_test(a_clock_that_jumps_holds_and_is_not_ridden_time),
        cmocka_unit_test(a_ride_that_takes_far_too_long_is_cut_off),
        cmocka_unit_test(a_cut_off_stays_and_the_first_reason_is_kept),
        cmocka_unit_test(loads_stay_below_every_limit),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
