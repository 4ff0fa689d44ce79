/* A bike that tells 0 W, or no power, however the legs turn: nobody is judged by that. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include "support/drive.h"
#include "support/ears.h"

static void none_from_the_first_seconds_on(void **state)
{
    struct drive drive;

    (void)state;
    drive_init(&drive);
    drive.power_w = 0;
    drive_to(&drive, 2750);
    assert_false(ride_is_powerless(&drive.ride));
    drive_to(&drive, 3000);
    assert_true(ride_is_powerless(&drive.ride));
    drive_key(&drive, KEY_STOP);
    assert_int_equal(drive.ride.phase, PHASE_EASY);
    assert_true(ride_is_powerless(&drive.ride));
    drive.power_w = 1;
    drive_for(&drive, 250);
    assert_false(ride_is_powerless(&drive.ride));
}

/* As soon as the caution is due; legs that stand still have none to tell. */
static void none_any_more(void **state)
{
    struct drive drive;

    (void)state;
    drive_init(&drive);
    drive.ride.setup.is_watched = true;
    drive_to(&drive, WORK_1_MS + 1000);
    drive.power_w = 0;
    drive.cadence_rpm = 29;
    drive_for(&drive, 1750); /* in two seconds they count as stopped */
    assert_int_equal(drive.ride.phase, PHASE_RIDING);
    drive.cadence_rpm = 90;
    drive_for(&drive, WATCH_POWERLESS_MS - 250);
    assert_false(ride_is_powerless(&drive.ride));
    drive_for(&drive, 250);
    assert_true(ride_is_powerless(&drive.ride));
    assert_int_equal(drive.cautions[CAUTION_NO_POWER], 1);
    drive.power_w = 200;
    drive_for(&drive, 250);
    assert_false(ride_is_powerless(&drive.ride));
}

static void count_turns(void *user, const struct event *event, const struct effects *effects)
{
    unsigned *told = user;

    (void)event;
    for (size_t i = 0; i < effects->count; i++)
        if (effects->list[i].kind == EFFECT_KNOB && effects->list[i].knob.in_ms == 0)
            told[effects->list[i].knob.turn]++;
}

/* Before, legs in range were told to turn faster, all the time. */
static void a_hand_is_told_nothing_but_the_edges(void **state)
{
    unsigned told[KNOB_TURN_COUNT] = {0};
    struct drive drive;

    (void)state;
    drive_init(&drive);
    drive.ride.setup.tells_knob = true;
    drive.power_w = 0;
    drive_link(&drive, true);
    drive_event(&drive, &(struct event){.kind = EVENT_MACHINE});
    drive_to(&drive, 4000);
    drive.watch = count_turns;
    drive.user = told;
    drive_to(&drive, WORK_1_MS - 1000);
    assert_int_equal(drive.ride.knob.announced, KNOB_UP);
    drive_to(&drive, REST_1_MS + 20000);
    for (int turn = 0; turn < KNOB_TURN_COUNT; turn++)
        assert_int_equal(told[turn], 0);
}

/* Legs turn at 90 rpm. */
static void the_cadence_is_what_is_out_of_range(void **state)
{
    static struct ears ears;
    static struct drive drive;

    (void)state;
    drive_init(&drive);
    for (int low_rpm = 80; low_rpm <= 95; low_rpm += 15) {
        for (size_t i = 0; i < drive.ride.setup.plan.step_count; i++)
            drive.ride.setup.plan.steps[i].targets.cadence_rpm =
                (struct target_range){true, low_rpm, 110};
        ears_begin(&ears, &drive.ride.setup.plan);
        ears.is_powerless = true;
        ears_pass(&ears, 3500 + WORK_1_MS + 5000);
        ears.count = 0;
        ears_pass(&ears, 3900);
        assert_int_equal(ears.count, low_rpm > 90);
        assert_true(ears.count == 0 || ears.heard[0].cue == CUE_RANGE);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(none_from_the_first_seconds_on),
        cmocka_unit_test(none_any_more),
        cmocka_unit_test(a_hand_is_told_nothing_but_the_edges),
        cmocka_unit_test(the_cadence_is_what_is_out_of_range),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
