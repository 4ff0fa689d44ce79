/* A bike that takes levels, and nobody who measures what they cost: the rider's keys set them. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>

#include "support/drive.h"

/* Levels 1 to 32, as numbers 0 to 31. */
static const struct machine by_levels = {
    .takes_level = true, .level_min_tenths = 10, .level_max_tenths = 320, .level_step_tenths = 10};

#define FEEL_AFTER_MS 3000u

static void link_up(struct drive *drive, const struct machine *machine)
{
    const struct event event = {.kind = EVENT_MACHINE, .machine = *machine};

    drive_link(drive, true);
    drive_event(drive, &event);
}

/* Before the link: what is known of this bike may be set. */
static void begin(struct drive *drive)
{
    drive_init(drive);
    drive->ride.setup.holds_power = drive->ride.setup.tells_knob = true;
    drive->power_w = 0;
}

static void init(struct drive *drive, const struct machine *machine)
{
    begin(drive);
    link_up(drive, machine);
}

/* A press a second. */
static void press(struct drive *drive, enum ride_key key, int times)
{
    for (int i = 0; i < times; i++) {
        drive_key(drive, key);
        drive_for(drive, 1000);
    }
}

static void assert_level(const struct drive *drive, int32_t level_tenths)
{
    assert_int_equal(drive->phase, PHASE_RIDING);
    assert_int_equal(drive->load.kind, LOAD_LEVEL);
    assert_int_equal(drive->load.value, level_tenths);
}

static void it_is_told_and_the_least_level_stays(void **state)
{
    struct drive drive;
    (void)state;

    init(&drive, &by_levels);
    drive_to(&drive, FEEL_AFTER_MS - 500);
    assert_int_equal(drive.cautions[CAUTION_BY_FEEL], 0);
    drive_to(&drive, REST_1_MS - 1000);
    assert_level(&drive, 10);
    assert_int_equal(drive.cautions[CAUTION_BY_FEEL], 1);
    assert_int_equal(drive.cautions[CAUTION_NO_POWER], 0);
    assert_true(ride_goes_by_feel(&drive.ride));
    assert_false(ride_asked(&drive.ride).power_w.set);
}

/* Work begins where the warm-up was; each has its own level from then on, and keeps it. */
static void a_key_moves_work_or_what_is_not(void **state)
{
    struct drive drive;
    (void)state;

    init(&drive, &by_levels);
    drive_to(&drive, 10000);
    press(&drive, KEY_MORE, 4);
    assert_level(&drive, 50);
    press(&drive, KEY_LESS, 1);
    assert_level(&drive, 40);
    drive_to(&drive, WORK_1_MS + 2000);
    assert_level(&drive, 50);
    press(&drive, KEY_MORE, 9);
    assert_level(&drive, 140);
    drive_to(&drive, REST_1_MS + 2000);
    assert_level(&drive, 40);
    press(&drive, KEY_LESS, 2);
    assert_level(&drive, 20);
    drive_to(&drive, REST_1_MS + 30000 + 5000);
    assert_level(&drive, 140);
    assert_int_equal(drive.ride.shift_pct, 0);
}

/* Down to a level below that of the rest: that follows. */
static void work_is_never_easier_than_rest(void **state)
{
    struct drive drive;
    (void)state;

    init(&drive, &by_levels);
    drive_to(&drive, 10000);
    press(&drive, KEY_MORE, 6);
    drive_to(&drive, WORK_1_MS + 2000);
    press(&drive, KEY_LESS, 4);
    assert_level(&drive, 30);
    drive_to(&drive, REST_1_MS + 2000);
    assert_level(&drive, 30);
    press(&drive, KEY_LESS, 9);
    assert_level(&drive, 10);
}

/* Ten presses in a quarter of a second are one, down each counts. */
static void a_key_held_down_rises_no_faster_than_it_is_felt(void **state)
{
    struct drive drive;
    (void)state;

    init(&drive, &by_levels);
    drive_to(&drive, 10000);
    for (int i = 0; i < 10; i++)
        drive_key(&drive, KEY_MORE);
    drive_for(&drive, 1000);
    assert_level(&drive, 20);
    press(&drive, KEY_MORE, 5);
    assert_level(&drive, 70);
    for (int i = 0; i < 3; i++)
        drive_key(&drive, KEY_LESS);
    drive_for(&drive, 250);
    assert_level(&drive, 40);
}

/* The limit is 180 bpm, a caution comes 5 below it. */
static void it_does_not_rise_close_to_the_limit_of_the_heart(void **state)
{
    struct drive drive;
    (void)state;

    init(&drive, &by_levels);
    drive.has_strap = true;
    drive.strap_bpm = 170;
    drive_to(&drive, 10000);
    press(&drive, KEY_MORE, 2);
    assert_level(&drive, 30);
    drive.strap_bpm = 177;
    drive_for(&drive, 6000);
    assert_int_equal(drive.cautions[CAUTION_HEART_NEAR], 1);
    press(&drive, KEY_MORE, 3);
    assert_level(&drive, 30);
    press(&drive, KEY_LESS, 1);
    assert_level(&drive, 20);
}

static void a_strap_lost_in_work_leads_to_the_level_of_the_rest(void **state)
{
    struct drive drive;
    (void)state;

    init(&drive, &by_levels);
    drive.has_strap = true;
    drive.strap_bpm = 120;
    drive_to(&drive, WORK_1_MS + 2000);
    press(&drive, KEY_MORE, 9);
    assert_level(&drive, 100);
    drive.has_strap = false;
    drive_for(&drive, 6000);
    assert_level(&drive, 10);
    press(&drive, KEY_MORE, 3);
    assert_level(&drive, 10);
}

static void legs_that_cannot_turn_it_are_let_go(void **state)
{
    struct drive drive;
    (void)state;

    init(&drive, &by_levels);
    drive_to(&drive, WORK_1_MS + 2000);
    press(&drive, KEY_MORE, 9);
    drive.cadence_rpm = 35;
    drive_for(&drive, 2500);
    assert_int_equal(drive.hold, HOLD_CADENCE);
    assert_int_equal(drive.load.kind, LOAD_RELEASED);
    /* Nobody feels what is added there. */
    press(&drive, KEY_MORE, 3);
    press(&drive, KEY_LESS, 4);
    drive.cadence_rpm = 90;
    drive_for(&drive, 5000);
    assert_level(&drive, 60);
}

/* Pedals that wake up late: the levels are measured from the least on, and held. */
static void a_power_that_comes_ends_it(void **state)
{
    struct drive drive;
    (void)state;

    init(&drive, &by_levels);
    drive_to(&drive, WORK_1_MS + 2000);
    press(&drive, KEY_MORE, 9);
    for (int i = 0; i < 46; i++) {
        drive.sensor_w = drive.load.value * 13 / 10;
        assert_true(i < 2 || drive.load.value * 13 / 10 <= 250);
        drive_for(&drive, 1000);
    }
    assert_false(ride_goes_by_feel(&drive.ride));
    assert_in_range(drive.load.value, 140, 168); /* 182 to 218 W */
    drive_key(&drive, KEY_MORE);
    assert_int_equal(drive.ride.shift_pct, 2);
}

/* What earlier rides measured is gone by, as on a machine that tells power. */
static void a_brake_that_is_known_is_not_ridden_by_feel(void **state)
{
    struct drive drive;
    (void)state;

    begin(&drive);
    drive.ride.setup.brake = (struct brake_curve){{11556, 358222, 0, 0}, 1000};
    link_up(&drive, &by_levels);
    drive_to(&drive, WORK_1_MS + 20000);
    assert_false(ride_goes_by_feel(&drive.ride));
    assert_in_range(drive.load.value, 140, 168);
}

/* ---- from ride to ride ---- */

/* Work where it was left, what is not at a third of it; on another scale, from the least. */
static void the_next_ride_begins_where_this_one_was(void **state)
{
    static const struct {
        int32_t position, top;
        bool is_new;
        int32_t easy_tenths, work_tenths;
    } rows[] = {
        {15, 31, false, 60, 160},
        {31, 31, false, 110, 320},
        {15, 40, false, 10, 10},
        {31, 31, true, 110, 160}, /* half of the levels in first blocks */
    };
    struct drive drive;
    (void)state;

    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        begin(&drive);
        drive.ride.setup.rider.is_new = rows[i].is_new;
        drive.ride.setup.knob = (struct knob_place){true, rows[i].position, rows[i].top};
        link_up(&drive, &by_levels);
        drive_to(&drive, WORK_1_MS - 1000);
        assert_level(&drive, rows[i].easy_tenths);
        drive_to(&drive, WORK_1_MS + 5000);
        assert_level(&drive, rows[i].work_tenths);
        assert_int_equal(drive.cautions[CAUTION_LOWERED], 0);
    }
}

/* ---- levels ---- */

/* A press is a level of the machine where there are few, else one of some forty. */
static void a_press_can_be_felt_on_every_machine(void **state)
{
    static const struct {
        int32_t min_tenths, max_tenths, step_tenths, first, second, last, top;
    } rows[] = {
        {10, 160, 10, 10, 20, 160, 15}, {0, 200, 5, 5, 10, 200, 39},
        {0, 200, 1, 5, 10, 200, 39},    {0, 1000, 5, 25, 50, 1000, 39},
        {10, 320, 10, 10, 20, 320, 31}, {0, 200, 0, 5, 10, 200, 39},
        {10, 20, 10, 10, 20, 20, 1},    {100, 1000, 10, 100, 120, 1000, 45},
    };
    struct drive drive;
    (void)state;

    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        const struct machine machine = {.takes_level = true,
                                        .level_min_tenths = rows[i].min_tenths,
                                        .level_max_tenths = rows[i].max_tenths,
                                        .level_step_tenths = rows[i].step_tenths};

        init(&drive, &machine);
        drive_to(&drive, 10000);
        assert_level(&drive, rows[i].first);
        press(&drive, KEY_MORE, 1);
        drive_for(&drive, 5000);
        assert_level(&drive, rows[i].second);
        drive_to(&drive, WORK_1_MS + 1000);
        press(&drive, KEY_MORE, 50);
        assert_level(&drive, rows[i].last);
        assert_int_equal(drive.ride.knob.place.position, rows[i].top);
        assert_int_equal(drive.ride.knob.place.top, rows[i].top);
        press(&drive, KEY_LESS, 1);
        assert_true(drive.load.value < rows[i].last);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(it_is_told_and_the_least_level_stays),
        cmocka_unit_test(a_key_moves_work_or_what_is_not),
        cmocka_unit_test(work_is_never_easier_than_rest),
        cmocka_unit_test(a_key_held_down_rises_no_faster_than_it_is_felt),
        cmocka_unit_test(it_does_not_rise_close_to_the_limit_of_the_heart),
        cmocka_unit_test(a_strap_lost_in_work_leads_to_the_level_of_the_rest),
        cmocka_unit_test(legs_that_cannot_turn_it_are_let_go),
        cmocka_unit_test(a_power_that_comes_ends_it),
        cmocka_unit_test(a_brake_that_is_known_is_not_ridden_by_feel),
        cmocka_unit_test(the_next_ride_begins_where_this_one_was),
        cmocka_unit_test(a_press_can_be_felt_on_every_machine),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
