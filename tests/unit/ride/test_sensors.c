/*
 * Power and cadence from several sources: which one counts, through the real step function. Ages
 * are those of ride/sensors.h, limits those of ride/limits.h; both common practice.
 */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include "support/drive.h"

static struct drive drive;

static void say(enum link_source source, uint32_t has, int32_t power_w, int32_t cadence_rpm)
{
    const struct event event = {
        .t_ms = drive.t_ms, .kind = EVENT_SENSOR, .sensor = {source, has, power_w, cadence_rpm}};
    drive_event(&drive, &event);
}

static void lose(enum link_source source)
{
    const struct event event = {.t_ms = drive.t_ms, .kind = EVENT_LINK, .link = {source, false}};
    drive_event(&drive, &event);
}

/* For so many seconds the pedals say so each second, while the machine says 100 W at 90. */
static void ride_with_pedals(uint32_t seconds, int32_t power_w, int32_t cadence_rpm)
{
    for (uint32_t second = 0; second < seconds; second++) {
        say(LINK_POWER, HAS_POWER | HAS_CADENCE, power_w, cadence_rpm);
        drive_for(&drive, 1000);
    }
}

static int set_up(void **state)
{
    (void)state;
    drive_init(&drive);
    drive_to(&drive, 10000);
    return 0;
}

static void expect(int32_t power_w, int32_t cadence_rpm)
{
    assert_int_equal(drive.ride.sensors.power_w.value, power_w);
    assert_int_equal(drive.ride.sensors.cadence_rpm.value, cadence_rpm);
}

static void a_sensor_goes_before_the_machine(void **state)
{
    (void)state;
    expect(100, 90);
    say(LINK_POWER, HAS_POWER, 140, 0);
    expect(140, 90);
    say(LINK_POWER, HAS_POWER | HAS_CADENCE, 141, 85);
    expect(141, 85);
    say(LINK_CADENCE, HAS_CADENCE, 0, 87);
    expect(141, 87);
    drive_for(&drive, 1000); /* the machine speaks four times */
    expect(141, 87);
}

static void what_is_silent_gives_way_and_comes_back(void **state)
{
    (void)state;
    say(LINK_CADENCE, HAS_CADENCE, 0, 87);
    say(LINK_POWER, HAS_POWER | HAS_CADENCE, 140, 85);
    drive_for(&drive, SENSOR_SPEAKS_MS);
    expect(140, 87);
    assert_int_equal(drive.cautions[CAUTION_POWER_SENSOR_LOST], 0);
    drive_for(&drive, 250);
    expect(100, 90);
    assert_int_equal(drive.cautions[CAUTION_POWER_SENSOR_LOST], 1);
    say(LINK_POWER, HAS_POWER, 150, 0);
    expect(150, 90);
    assert_int_equal(drive.phase, PHASE_RIDING);
}

/* No reading is as fresh as the link that brought it: the machine's count from the same moment. */
static void a_lost_link_gives_way_at_once(void **state)
{
    (void)state;
    say(LINK_CADENCE, HAS_CADENCE, 0, 87);
    say(LINK_POWER, HAS_POWER | HAS_CADENCE, 140, 85);
    lose(LINK_CADENCE);
    expect(140, 85);
    assert_int_equal(drive.cautions[CAUTION_CADENCE_SENSOR_LOST], 1);
    assert_int_equal(drive.cautions[CAUTION_POWER_SENSOR_LOST], 0);
    lose(LINK_POWER);
    expect(100, 90);
    assert_int_equal(drive.cautions[CAUTION_CADENCE_SENSOR_LOST], 1);
    assert_int_equal(drive.cautions[CAUTION_POWER_SENSOR_LOST], 1);
    assert_int_equal(drive.phase, PHASE_RIDING);
}

static void what_cannot_be_true_is_no_reading(void **state)
{
    static const struct {
        enum link_source source;
        uint32_t has;
        int32_t power_w, cadence_rpm;
    } rows[] = {
        {LINK_POWER, HAS_POWER, 2600, 0},
        {LINK_POWER, HAS_POWER, -60, 0},
        {LINK_POWER, HAS_POWER | HAS_CADENCE, 150, 260},
        {LINK_CADENCE, HAS_CADENCE, 0, -1},
        {LINK_CADENCE, HAS_POWER, 150, 0}, /* is asked for no power */
        {LINK_MACHINE, HAS_POWER, 150, 0}, /* does not come this way */
        {LINK_STRAP, HAS_POWER | HAS_CADENCE, 150, 60},
    };

    (void)state;
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        say(rows[i].source, rows[i].has, rows[i].power_w, rows[i].cadence_rpm);
        expect(100, 90);
    }
}

/* 10 s at 100 W, 20 s at 160 W, then 100 W again: the area under it, no more than two samples of a
 * quarter of a second off at each change. */
static void work_does_not_jump_where_the_source_changes(void **state)
{
    (void)state;
    const int64_t before_j = work_j(&drive.ride.totals.work);

    ride_with_pedals(20, 160, 90);
    lose(LINK_POWER);
    drive_for(&drive, 10000);
    assert_in_range(work_j(&drive.ride.totals.work) - before_j, 4200 - 30, 4200 + 30);
    assert_int_equal(drive.ride.totals.max_power_w, 160);
}

/* A machine that tells cadence alone: its records are still the samples. */
static void a_machine_without_power_is_ridden_by_the_pedals(void **state)
{
    const struct event data = {.kind = EVENT_TELEMETRY, .telemetry = {HAS_CADENCE, 0, 90, 0, 0}};

    (void)state;
    drive_init(&drive);
    drive.is_silent = true;
    drive_link(&drive, true);
    drive_event(&drive, &(struct event){.kind = EVENT_MACHINE, .machine.takes_power = true});
    for (uint32_t second = 0; second < 30; second++) {
        struct event now = data;
        now.t_ms = drive.t_ms;
        drive_event(&drive, &now);
        say(LINK_POWER, HAS_POWER, 200, 0);
        drive_for(&drive, 1000);
    }
    assert_int_equal(drive.phase, PHASE_RIDING);
    assert_true(work_j(&drive.ride.totals.work) > 4000);
    assert_int_equal(drive.ride.totals.max_power_w, 200);
}

/* `over_for_ms` 3000, and a tick. */
static void the_highest_power_is_held_against_the_limit(void **state)
{
    (void)state;
    ride_with_pedals(2, 1600, 90);
    assert_int_equal(drive.cut_off, CUT_OFF_NONE);
    ride_with_pedals(2, 1600, 90);
    assert_int_equal(drive.cut_off, CUT_OFF_POWER);

    (void)set_up(state);
    drive.power_w = 1600; /* the machine says so, the pedals do not */
    ride_with_pedals(4, 200, 90);
    assert_int_equal(drive.cut_off, CUT_OFF_POWER);
}

static void the_highest_cadence_is_held_against_the_limit(void **state)
{
    (void)state;
    for (unsigned second = 0; second < 4; second++) {
        say(LINK_CADENCE, HAS_CADENCE, 0, 160);
        drive_for(&drive, 1000);
    }
    assert_int_equal(drive.cut_off, CUT_OFF_CADENCE);

    (void)set_up(state);
    drive.cadence_rpm = 160;
    for (unsigned second = 0; second < 4; second++) {
        say(LINK_CADENCE, HAS_CADENCE, 0, 90);
        drive_for(&drive, 1000);
    }
    assert_int_equal(drive.cut_off, CUT_OFF_CADENCE);
}

/* Sensors that speak do not hide that the machine does not. */
static void a_silent_machine_holds_whatever_sensors_say(void **state)
{
    (void)state;
    drive.is_silent = true;
    ride_with_pedals(4, 150, 90);
    assert_int_equal(drive.hold, HOLD_NO_DATA);
    assert_int_equal(drive.load.kind, LOAD_RELEASED);
}

/* Loads are those of a ride without sensors, whatever these say of power. */
static void no_load_rises_by_what_a_sensor_says(void **state)
{
    (void)state;
    drive_to(&drive, WORK_1_MS + 10000);
    const struct load load = drive.load;

    ride_with_pedals(10, 20, 90);
    assert_int_equal(drive.load.kind, load.kind);
    assert_int_equal(drive.load.value, load.value);
}

/* 60 s by the machine and 60 by the pedals as well; an older program told of none of it. */
static void the_summary_says_who_measured(void **state)
{
    (void)state;
    for (int tells = 0; tells <= 1; tells++) {
        struct summary summary = {0};
        drive_init(&drive);
        drive.ride.setup.tells_sources = tells != 0;
        drive_to(&drive, 1000);
        drive_to(&drive, 61000);
        for (unsigned half = 0; half < 130; half++) {
            say(LINK_POWER, HAS_POWER, 95, 0);
            drive_for(&drive, 500);
        }
        totals_summary(&drive.ride.totals, &summary);
        assert_int_equal(drive.phase, PHASE_RIDING);
        if (tells != 0)
            assert_in_range(summary.sensor_pct, 48, 54);
        else
            assert_int_equal(summary.sensor_pct, 0);
        assert_int_equal(summary.difference_tenths, tells != 0 ? -50 : 0);
        assert_int_equal(summary.difference_error_tenths, tells);
    }
}

#define TEST(name) cmocka_unit_test_setup(name, set_up)

int main(void)
{
    const struct CMUnitTest tests[] = {
        TEST(a_sensor_goes_before_the_machine),
        TEST(what_is_silent_gives_way_and_comes_back),
        TEST(a_lost_link_gives_way_at_once),
        TEST(what_cannot_be_true_is_no_reading),
        TEST(work_does_not_jump_where_the_source_changes),
        TEST(a_machine_without_power_is_ridden_by_the_pedals),
        TEST(the_highest_power_is_held_against_the_limit),
        TEST(the_highest_cadence_is_held_against_the_limit),
        TEST(a_silent_machine_holds_whatever_sensors_say),
        TEST(no_load_rises_by_what_a_sensor_says),
        TEST(the_summary_says_who_measured),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
