/* What ends a hold, and what must not: the load comes back to a rider who wants it and pedals. */
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
    assert_int_equal(drive->load.value, 200);
}

static void fall_silent(struct drive *drive)
{
    drive->is_silent = true;
    drive_for(drive, 4000);
    assert_int_equal(drive->hold, HOLD_NO_DATA);
}

static void speak_again(struct drive *drive)
{
    drive->is_silent = false;
}

static void regain_link(struct drive *drive)
{
    speak_again(drive);
    drive_regain_link(drive);
}

static void press_hold(struct drive *drive)
{
    drive_key(drive, KEY_HOLD);
}

static void pause_at_machine(struct drive *drive)
{
    drive_status(drive, STATUS_PAUSED);
}

static void start_at_machine(struct drive *drive)
{
    drive_status(drive, STATUS_STARTED);
}

static int32_t most_load_in(struct drive *drive, uint32_t ms)
{
    int32_t most = 0;

    for (uint32_t passed = 0; passed < ms; passed += TICK_MS) {
        drive_for(drive, TICK_MS);
        if (drive->load.value > most)
            most = drive->load.value;
    }
    return most;
}

/* Whatever held and whatever ends it. */
static void legs_that_stand_in_a_hold_find_no_load(void **state)
{
    static const struct {
        void (*begin)(struct drive *drive);
        void (*end)(struct drive *drive);
    } holds[] = {{press_hold, press_hold},
                 {pause_at_machine, start_at_machine},
                 {pause_at_machine, press_hold},
                 {fall_silent, speak_again},
                 {drive_lose_link, regain_link}};

    (void)state;
    for (size_t i = 0; i < sizeof holds / sizeof holds[0]; i++) {
        struct drive drive;

        in_work(&drive);
        holds[i].begin(&drive);
        drive.cadence_rpm = drive.power_w = 0;
        drive_for(&drive, 5000);
        holds[i].end(&drive);
        assert_int_equal(most_load_in(&drive, 20000), 0);
        assert_int_equal(drive.hold, HOLD_CADENCE);
        drive.cadence_rpm = 55;
        drive_for(&drive, 4000);
        assert_int_equal(drive.phase, PHASE_RIDING);
        assert_int_equal(drive.load.value, 200);
    }
}

/* They need not be as fast as after a collapse. */
static void legs_that_turn_on_in_a_hold_find_the_load(void **state)
{
    struct drive drive;

    (void)state;
    in_work(&drive);
    press_hold(&drive);
    drive.cadence_rpm = 45;
    drive_for(&drive, 20000);
    press_hold(&drive);
    drive_for(&drive, 4000);
    assert_int_equal(drive.phase, PHASE_RIDING);
    assert_int_equal(drive.load.value, 200);
}

/* The clock runs on there, as if they had stopped in it. */
static void legs_that_stand_in_a_hold_may_go_on_standing_in_a_rest(void **state)
{
    struct drive drive;

    (void)state;
    drive_init(&drive);
    drive_to(&drive, REST_1_MS + 2000);
    press_hold(&drive);
    drive.cadence_rpm = drive.power_w = 0;
    drive_for(&drive, 5000);
    press_hold(&drive);
    assert_int_equal(most_load_in(&drive, 10000), 0);
    assert_int_equal(drive.phase, PHASE_RIDING);
    drive.cadence_rpm = 80;
    drive_for(&drive, 2000);
    assert_int_equal(drive.load.value, 80);
}

/* A machine that starts at our word may say so as if the rider had started it. */
static void a_pause_at_the_machine_outlasts_its_link(void **state)
{
    struct drive drive;

    (void)state;
    in_work(&drive);
    pause_at_machine(&drive);
    const unsigned starts = drive.commands[COMMAND_START];
    drive_lose_link(&drive);
    drive_for(&drive, 5000);
    regain_link(&drive);
    drive_for(&drive, 5000);
    assert_int_equal(drive.commands[COMMAND_REQUEST_CONTROL], 2);
    assert_int_equal(drive.commands[COMMAND_START], starts);
    assert_int_equal(drive.hold, HOLD_PAUSED);
    /* The rider's word for it is one. */
    press_hold(&drive);
    assert_int_equal(drive.commands[COMMAND_START], starts + 1);
    assert_int_equal(drive.phase, PHASE_RIDING);
}

/* Likewise where the machine was reset under the pause. */
static void a_pause_at_the_machine_outlasts_a_reset(void **state)
{
    struct drive drive;

    (void)state;
    in_work(&drive);
    pause_at_machine(&drive);
    const unsigned starts = drive.commands[COMMAND_START];
    drive_status(&drive, STATUS_RESET);
    drive_for(&drive, 5000);
    assert_int_equal(drive.commands[COMMAND_REQUEST_CONTROL], 2);
    assert_int_equal(drive.commands[COMMAND_START], starts);
    assert_int_equal(drive.hold, HOLD_PAUSED);
}

/* Asked for by hand or by a terminal that stops the program, whatever else holds: by itself nothing
 * goes on from there. */
static void a_hold_that_was_asked_for_does_not_end_itself(void **state)
{
    static const enum ride_key keys[] = {KEY_HOLD, KEY_PAUSE};
    static const struct {
        void (*begin)(struct drive *drive);
        void (*end)(struct drive *drive);
    } holds[] = {{fall_silent, speak_again}, {drive_lose_link, regain_link}};

    (void)state;
    for (size_t i = 0; i < 4; i++) {
        struct drive drive;

        in_work(&drive);
        holds[i / 2].begin(&drive);
        drive_key(&drive, keys[i % 2]);
        assert_int_equal(drive.hold, HOLD_RIDER);
        holds[i / 2].end(&drive);
        assert_int_equal(most_load_in(&drive, 20000), 0);
        assert_int_equal(drive.hold, HOLD_RIDER);
        drive_key(&drive, KEY_PAUSE);
        assert_int_equal(drive.hold, HOLD_RIDER);
        press_hold(&drive);
        drive_for(&drive, 4000);
        assert_int_equal(drive.load.value, 200);
    }
}

/* ---- while it is counted in ---- */

static void in_count_in(struct drive *drive)
{
    drive_init(drive);
    regain_link(drive);
    drive_for(drive, 1000);
    assert_int_equal(drive->phase, PHASE_COUNT_IN);
}

static void pause_by_signal(struct drive *drive)
{
    drive_key(drive, KEY_PAUSE);
}

/* Legs that go on turning start nothing then, until the rider says so. */
static void a_hold_in_the_count_in_is_one(void **state)
{
    static void (*const asks[])(struct drive * drive) = {press_hold, pause_by_signal,
                                                         pause_at_machine};

    (void)state;
    for (size_t i = 0; i < sizeof asks / sizeof asks[0]; i++) {
        struct drive drive;

        in_count_in(&drive);
        asks[i](&drive);
        drive_for(&drive, 20000);
        assert_int_equal(drive.phase, PHASE_READY);
        press_hold(&drive);
        drive_for(&drive, 4000);
        assert_int_equal(drive.phase, PHASE_RIDING);

        in_count_in(&drive);
        asks[i](&drive);
        drive.cadence_rpm = drive.power_w = 0;
        drive_for(&drive, 1000);
        drive.cadence_rpm = 90;
        drive_for(&drive, 4000);
        assert_int_equal(drive.phase, PHASE_RIDING);
    }
}

/* The three seconds passed while nobody heard them. */
static void a_clock_that_jumps_in_the_count_in_counts_anew(void **state)
{
    struct event data = {.kind = EVENT_TELEMETRY};
    struct drive drive;

    (void)state;
    in_count_in(&drive);
    drive.t_ms += 5250;
    data.telemetry = (struct telemetry){HAS_POWER | HAS_CADENCE, 100, 90, 0, 0};
    drive_event(&drive, &data);
    assert_int_equal(drive.phase, PHASE_COUNT_IN);
    drive_for(&drive, 2750);
    assert_int_equal(drive.phase, PHASE_COUNT_IN);
    drive_for(&drive, 250);
    assert_int_equal(drive.phase, PHASE_RIDING);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(legs_that_stand_in_a_hold_find_no_load),
        cmocka_unit_test(legs_that_turn_on_in_a_hold_find_the_load),
        cmocka_unit_test(legs_that_stand_in_a_hold_may_go_on_standing_in_a_rest),
        cmocka_unit_test(a_pause_at_the_machine_outlasts_its_link),
        cmocka_unit_test(a_pause_at_the_machine_outlasts_a_reset),
        cmocka_unit_test(a_hold_that_was_asked_for_does_not_end_itself),
        cmocka_unit_test(a_hold_in_the_count_in_is_one),
        cmocka_unit_test(a_clock_that_jumps_in_the_count_in_counts_anew),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
