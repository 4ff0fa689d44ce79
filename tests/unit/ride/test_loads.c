/* What a machine is told: watts, a level of the plan, or a level that holds the plan's watts. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>

#include "support/drive.h"

/* Takes levels 1 to 32, and no power. The legs find 13 W in each level, at any cadence. */
static const struct machine by_levels = {
    .takes_level = true, .level_min_tenths = 10, .level_max_tenths = 320, .level_step_tenths = 10};
#define W_A_LEVEL 13

static void link_up(struct drive *drive)
{
    const struct event machine = {.kind = EVENT_MACHINE, .machine = by_levels};

    drive_link(drive, true);
    drive_event(drive, &machine);
}

static void init(struct drive *drive, bool holds_power)
{
    drive_init(drive);
    drive->ride.setup.holds_power = holds_power;
    link_up(drive);
}

/* A second at a time, with the power that the level gives. */
static void ride_for(struct drive *drive, uint32_t seconds)
{
    for (uint32_t i = 0; i < seconds; i++) {
        drive->power_w = drive->load.kind == LOAD_LEVEL ? drive->load.value * W_A_LEVEL / 10 : 20;
        drive_for(drive, 1000);
    }
}

static void watts_are_held_by_levels(void **state)
{
    struct drive drive;
    (void)state;

    init(&drive, true);
    drive_to(&drive, 1000);
    ride_for(&drive, 30 + 55);
    /* Work at 190 to 210 W: levels 14.6 to 16.2. */
    assert_int_equal(drive.load.kind, LOAD_LEVEL);
    assert_in_range(drive.load.value, 146, 162);
    assert_int_equal(drive.cautions[CAUTION_NO_CONTROL], 0);
    ride_for(&drive, 25);
    /* Rest at 70 to 90 W: levels 5.4 to 6.9. */
    assert_in_range(drive.load.value, 54, 69);
}

/* As older programs did, whose journals are to give the same ride again. */
static void older_rides_left_such_a_machine_alone(void **state)
{
    struct drive drive;
    (void)state;

    init(&drive, false);
    drive_to(&drive, WORK_1_MS + 10000);
    assert_int_equal(drive.load.kind, LOAD_RELEASED);
    assert_int_equal(drive.commands[COMMAND_REQUEST_CONTROL], 0);
    assert_int_equal(drive.cautions[CAUTION_NO_CONTROL], 1);
}

static void a_machine_that_tells_no_levels_is_left_alone(void **state)
{
    const struct event machine = {.kind = EVENT_MACHINE, .machine = {.takes_level = true}};
    struct drive drive;
    (void)state;

    drive_init(&drive);
    drive.ride.setup.holds_power = true;
    drive_link(&drive, true);
    drive_event(&drive, &machine);
    drive_to(&drive, WORK_1_MS + 10000);
    assert_int_equal(drive.load.kind, LOAD_RELEASED);
    assert_int_equal(drive.cautions[CAUTION_NO_CONTROL], 1);
}

/* The rider's key works on the watts: a fifth more takes about a fifth more level. */
static void the_riders_shift_moves_the_watts(void **state)
{
    struct drive drive;
    (void)state;

    init(&drive, true);
    drive_to(&drive, 1000);
    ride_for(&drive, 30 + 30);
    for (int i = 0; i < 10; i++)
        drive_key(&drive, KEY_MORE);
    ride_for(&drive, 25);
    assert_in_range(drive.load.value, 175, 194); /* 228 to 252 W */
}

/* A link that comes back: the ramp begins anew, what was learned of the brake does not. */
static void a_new_link_does_not_forget_the_brake(void **state)
{
    struct drive drive;
    (void)state;

    init(&drive, true);
    drive_to(&drive, 1000);
    ride_for(&drive, 30 + 50);
    const struct brake_curve learned = brake_model_curve(&drive.ride.power_hold.brake);
    drive_link(&drive, false);
    drive_for(&drive, 2000);
    link_up(&drive);
    const struct brake_curve after = brake_model_curve(&drive.ride.power_hold.brake);
    assert_memory_equal(&after, &learned, sizeof learned);
    ride_for(&drive, 7);
    assert_int_equal(drive.load.kind, LOAD_LEVEL);
    assert_in_range(drive.load.value, 140, 168);
}

/* The curve of earlier rides begins the next: its first work step is in the range at once. */
static void a_known_brake_is_met_at_once(void **state)
{
    struct drive drive;
    (void)state;

    init(&drive, true);
    drive_to(&drive, 1000);
    ride_for(&drive, 29 + 90 + 90);
    const struct brake_curve learned = brake_model_curve(&drive.ride.power_hold.brake);
    drive_init(&drive);
    drive.ride.setup.holds_power = true;
    drive.ride.setup.brake = learned;
    link_up(&drive);
    drive_to(&drive, 1000);
    ride_for(&drive, 29 + 6);
    assert_in_range(drive.load.value, 146, 162);
}

/* A limit in watts binds also where watts are held by levels: nine tenths of the rider's 120 W, and
 * without a critical power 120 W in the first blocks (ride/limits.c). A known brake, since an
 * unknown one is met from below anyway. */
static void a_limit_in_watts_binds_levels_too(void **state)
{
    static const struct {
        struct rider rider;
        int32_t most_w;
    } rows[] = {{{.power_limit_w = 150}, 135}, {{.is_new = true}, 120}};
    struct drive drive;
    (void)state;

    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        drive_init(&drive);
        drive.ride.setup.holds_power = true;
        drive.ride.setup.rider = rows[i].rider;
        /* 13 W at the lowest of 32 levels, 403 W more at the highest: at the rider's 90 rpm. */
        drive.ride.setup.brake = (struct brake_curve){{11556, 358222, 0, 0}, 1000};
        link_up(&drive);
        drive_to(&drive, 1000);
        ride_for(&drive, 30 + 55);
        assert_int_equal(drive.phase, PHASE_RIDING);
        assert_int_equal(drive.load.kind, LOAD_LEVEL);
        /* And a level of 13 W to round to. */
        assert_in_range(drive.load.value * W_A_LEVEL / 10, rows[i].most_w - 27, rows[i].most_w);
        assert_int_equal(drive.cautions[CAUTION_LOWERED], 1);
        /* The key does not lift it. */
        for (int k = 0; k < 10; k++)
            drive_key(&drive, KEY_MORE);
        ride_for(&drive, 10);
        assert_true(drive.load.value * W_A_LEVEL / 10 <= rows[i].most_w);
    }
}

/* ---- with a power sensor beside a machine that takes levels ---- */

/* What each tells of the legs' power, in per cent; 0: the machine tells 0 W, the sensor nothing. */
static void ride_told(struct drive *drive, uint32_t seconds, int32_t machine_pct,
                      int32_t sensor_pct)
{
    for (uint32_t i = 0; i < seconds; i++) {
        const int32_t legs_w =
            drive->load.kind == LOAD_LEVEL ? drive->load.value * W_A_LEVEL / 10 : 20;
        drive->power_w = legs_w * machine_pct / 100;
        drive->sensor_w = legs_w * sensor_pct / 100;
        drive_for(drive, 1000);
    }
}

/* A sensor that reads half, or half as much again, or says nothing any more. */
static void where_the_machine_tells_power_no_sensor_moves_the_level(void **state)
{
    static const int32_t told_pct[] = {0, 50, 150};
    struct drive drive;
    (void)state;

    for (size_t i = 0; i < sizeof told_pct / sizeof told_pct[0]; i++) {
        init(&drive, true);
        drive_to(&drive, 1000);
        ride_told(&drive, 30 + 30, 100, told_pct[i]);
        ride_told(&drive, 25, 100, i % 2 == 0 ? told_pct[i] : 0);
        assert_int_equal(drive.phase, PHASE_RIDING);
        assert_in_range(drive.load.value, 146, 162);
    }
}

/* Where it is the only ruler there is, a fifth too low is a fourth more for the legs, a fourth too
 * high a fifth less. Nobody can see that. */
static void a_sensor_alone_is_the_ruler(void **state)
{
    static const int32_t told_pct[] = {80, 100, 125};
    struct drive drive;
    (void)state;

    for (size_t i = 0; i < sizeof told_pct / sizeof told_pct[0]; i++) {
        init(&drive, true);
        drive.power_w = 0;
        drive_to(&drive, 1000);
        ride_told(&drive, 30 + 55, 0, told_pct[i]);
        assert_int_equal(drive.load.kind, LOAD_LEVEL);
        assert_in_range(drive.load.value * W_A_LEVEL / 10 * told_pct[i] / 100, 180, 220);
    }
}

/* And once it is silent there is none: the level stays, whatever the machine's 0 W seem to say. */
static void a_sensor_that_falls_silent_leaves_the_level(void **state)
{
    struct drive drive;
    (void)state;

    init(&drive, true);
    drive.power_w = 0;
    drive_to(&drive, 1000);
    ride_told(&drive, 30 + 30, 0, 100);
    const int32_t before = drive.load.value;
    for (int second = 0; second < 25; second++) {
        ride_told(&drive, 1, 0, 0);
        assert_true(drive.load.value <= before);
    }
    assert_int_equal(drive.phase, PHASE_RIDING);
    assert_int_equal(drive.load.kind, LOAD_LEVEL);
    assert_int_equal(drive.cautions[CAUTION_POWER_SENSOR_LOST], 1);
}

/* Eight levels of 50 W: the one nearest to what is asked for, 114 W, would be above the limit. */
static void a_level_is_not_rounded_up_above_the_limit(void **state)
{
    static const struct machine coarse = {.takes_level = true,
                                          .level_min_tenths = 10,
                                          .level_max_tenths = 80,
                                          .level_step_tenths = 10};
    const struct event machine = {.kind = EVENT_MACHINE, .machine = coarse};
    struct drive drive;
    (void)state;

    drive_init(&drive);
    drive.ride.setup.holds_power = true;
    drive.ride.setup.rider.is_new = true;
    /* 30 W at the lowest level and 350 W more at the highest, whatever the cadence. */
    drive.ride.setup.brake = (struct brake_curve){{26667, 311111, 0, 0}, 1000};
    drive_link(&drive, true);
    drive_event(&drive, &machine);
    drive_to(&drive, 1000);
    for (int i = 0; i < 85; i++) {
        drive.power_w = drive.load.kind == LOAD_LEVEL ? 30 + (drive.load.value - 10) * 5 : 20;
        drive_for(&drive, 1000);
        assert_true(drive.load.kind == LOAD_RELEASED || drive.load.value <= 20);
    }
    assert_int_equal(drive.load.kind, LOAD_LEVEL);
    assert_in_range(drive.load.value, 20, 29);
}

/* A quarter of the levels a second, as 100 W are of the usual 400, and half of that at once. */
static void few_levels_are_climbed_as_slowly_as_many(void **state)
{
    static const int32_t ranges_tenths[] = {1000, 320, 200, 80, 20, 8};
    struct drive drive;
    (void)state;

    for (size_t i = 0; i < sizeof ranges_tenths / sizeof ranges_tenths[0]; i++) {
        const int32_t most_tenths = ranges_tenths[i];
        const struct event machine = {
            .kind = EVENT_MACHINE,
            .machine = {.takes_level = true, .level_max_tenths = most_tenths}};
        int32_t before = 0;
        uint32_t ms = 0;

        drive_init(&drive);
        for (size_t k = 0; k < drive.ride.setup.plan.step_count; k++)
            drive.ride.setup.plan.steps[k].targets =
                (struct step_targets){.level_tenths = {true, most_tenths, most_tenths}};
        drive_link(&drive, true);
        drive_event(&drive, &machine);
        while (drive.load.value < most_tenths && ms < 20000) {
            drive_for(&drive, TICK_MS);
            ms += drive.phase == PHASE_RIDING ? TICK_MS : 0;
            assert_true(drive.load.value - before <= most_tenths / 8);
            before = drive.load.value;
        }
        assert_in_range(ms, most_tenths == 1000 ? 9500 : 3000, most_tenths == 1000 ? 11500 : 5500);
    }
}

/* Watts on their way up, and a step that asks for a level: the watts go at once, whether or not the
 * machine has answered. */
static void a_load_of_another_kind_lets_go_first(void **state)
{
    const struct event machine = {
        .kind = EVENT_MACHINE,
        .machine = {.takes_power = true, .takes_level = true, .level_max_tenths = 200}};
    struct drive drive;
    (void)state;

    drive_init(&drive);
    drive.ride.setup.plan.steps[2].targets = (struct step_targets){.level_tenths = {true, 30, 30}};
    drive_link(&drive, true);
    drive_event(&drive, &machine);
    drive_to(&drive, WORK_1_MS + 500);
    assert_int_equal(drive.load.kind, LOAD_POWER);
    assert_true(drive.load.value < 200);
    drive.is_mute = true;
    drive_for(&drive, TICK_MS);
    drive.t_ms += TICK_MS / 2;
    drive_key(&drive, KEY_SKIP);
    assert_int_equal(drive.load.kind, LOAD_RELEASED);
    drive.is_mute = false;
    drive_for(&drive, 5000);
    assert_int_equal(drive.load.kind, LOAD_LEVEL);
    assert_int_equal(drive.load.value, 30);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(watts_are_held_by_levels),
        cmocka_unit_test(older_rides_left_such_a_machine_alone),
        cmocka_unit_test(a_machine_that_tells_no_levels_is_left_alone),
        cmocka_unit_test(the_riders_shift_moves_the_watts),
        cmocka_unit_test(a_new_link_does_not_forget_the_brake),
        cmocka_unit_test(a_known_brake_is_met_at_once),
        cmocka_unit_test(a_limit_in_watts_binds_levels_too),
        cmocka_unit_test(where_the_machine_tells_power_no_sensor_moves_the_level),
        cmocka_unit_test(a_sensor_alone_is_the_ruler),
        cmocka_unit_test(a_sensor_that_falls_silent_leaves_the_level),
        cmocka_unit_test(a_level_is_not_rounded_up_above_the_limit),
        cmocka_unit_test(few_levels_are_climbed_as_slowly_as_many),
        cmocka_unit_test(a_load_of_another_kind_lets_go_first),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
