/* Each machine and rider file shows its deviation, seen through the real client. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include "support/virtual_ride.h"
#include "wire/gatt.h"

static struct virtual_ride ride;

static void takes_no_commands(void **state)
{
    (void)state;
    ride_begin(&ride, "no-control", NULL, 1);
    ride_until(&ride, 30000);
    assert_true(ride.is_ready);
    assert_false(ride.machine.has_control_point);
    assert_false(ride.machine.takes_power || ride.machine.takes_level);
    assert_null(gatt_client_find(&ride.client.gatt, 0x1826, 0x2AD9));
    assert_true(ride_mean_power_w(&ride, 15000, 30000) > 100); /* at the knob */
}

/* By so many watts, in whole numbers, which are some 55 W at the rider's 88 rpm; and by the file.
 */
static void its_knob_is_turned(void **state)
{
    struct virtual_machine *machine = &ride.bike.machine;
    (void)state;

    ride_begin(&ride, "no-control", NULL, 1);
    assert_int_equal(virtual_machine_number(machine), 3);
    ride_until(&ride, 30000);
    const double before_w = ride_mean_power_w(&ride, 15000, 30000);
    virtual_machine_turn(machine, -110);
    assert_int_equal(virtual_machine_number(machine), 1);
    ride_until(&ride, 60000);
    assert_in_range(before_w - ride_mean_power_w(&ride, 45000, 60000), 80, 140);
    virtual_machine_turn_to(machine, 3);
    virtual_machine_turn_to(machine, 11);
    virtual_machine_turn_to(machine, -1);
    assert_int_equal(virtual_machine_number(machine), 3);
    virtual_machine_turn(machine, -5000);
    assert_int_equal(virtual_machine_number(machine), 0);
    machine->config.knob_then = 0.5;
    machine->config.knob_then_at_ms = 61000;
    ride_until(&ride, 62000);
    assert_int_equal(virtual_machine_number(machine), 5);
    ride_begin(&ride, "level", NULL, 1);
    assert_int_equal(virtual_machine_number(machine), -1);
}

static void takes_levels(void **state)
{
    (void)state;
    ride_begin(&ride, "level", NULL, 1);
    ride_start_at(&ride, 3000, FTMS_SET_RESISTANCE, 20);
    assert_false(ride.machine.takes_power);
    assert_true(ride.machine.takes_level);
    assert_int_equal(ride.machine.level_tenths.maximum, 200);
    ride_until(&ride, 30000);
    double easy_w = ride_mean_power_w(&ride, 15000, 30000);
    assert_int_equal(ride_command(&ride, FTMS_SET_RESISTANCE, 60), FTMS_SUCCESS);
    ride_until(&ride, 60000);
    assert_true(ride_mean_power_w(&ride, 45000, 60000) > 2 * easy_w);
    assert_int_equal(ride.records[ride.record_count - 1].level, 60);
    assert_int_equal(ride.machine.feature.machine & FTMS_HAS_RESISTANCE_LEVEL,
                     FTMS_HAS_RESISTANCE_LEVEL);
    assert_int_equal(ride_command(&ride, FTMS_SET_RESISTANCE, 201), FTMS_INVALID_PARAMETER);
}

static void splits_records(void **state)
{
    (void)state;
    ride_begin(&ride, "split", NULL, 1);
    ride_until(&ride, 21000);
    assert_int_equal(ride_records_between(&ride, 10000, 20000), 40);
    assert_int_equal(ride.odd_frame_count, 0);
    assert_in_range(ride.frame_count, 2 * ride.record_count, 2 * ride.record_count + 1);
    assert_int_equal(gatt_client_mtu(&ride.client.gatt), 23);
}

static void answers_late(void **state)
{
    struct ftms_command power = {.opcode = FTMS_SET_POWER, .value = 200};
    struct ftms_command release = {.opcode = FTMS_SET_POWER, .value = 0, .now = true};
    (void)state;
    ride_begin(&ride, "late", NULL, 1);
    ride_until(&ride, 3000);
    assert_int_equal(ride_command(&ride, FTMS_REQUEST_CONTROL, 0), FTMS_SUCCESS);
    assert_in_range(ride.answer_t_ms, 4490, 4520);
    assert_int_equal(ftms_client_command(&ride.client, &power), RESULT_OK);
    ride_until(&ride, 5000);
    assert_int_equal(ride.bike.machine.load_value, 200); /* obeyed, and not yet answered */
    assert_int_equal(ride.answer_count, 1);
    assert_int_equal(ftms_client_command(&ride.client, &release), RESULT_OK);
    ride_until(&ride, 10000);
    assert_int_equal(ride.bike.machine.load_value, 0); /* it got through in the end */
}

static void goes_silent(void **state)
{
    (void)state;
    ride_begin(&ride, "silent", NULL, 1);
    ride_until(&ride, 200000);
    assert_true(ride_records_between(&ride, 85000, 90000) == 20);
    assert_int_equal(ride_records_between(&ride, 90000, 200001), 0);
    assert_int_equal(ride_command(&ride, FTMS_REQUEST_CONTROL, 0), FTMS_SUCCESS);
}

static void goes_silent_for_a_while(void **state)
{
    (void)state;
    ride_begin(&ride, "pausing", NULL, 1);
    ride_until(&ride, 120000);
    assert_int_equal(ride_records_between(&ride, 90000, 102000), 0);
    assert_int_equal(ride_records_between(&ride, 102000, 112000), 40);
}

static void sends_garbage(void **state)
{
    (void)state;
    ride_begin(&ride, "garbage", NULL, 1);
    ride_until(&ride, 120000);
    assert_true(ride.is_ready && !ride.has_failed);
    assert_true(ride_records_between(&ride, 0, 120001) > 300);
    assert_in_range(ride.odd_frame_count + 480 - ride.record_count, 8, 80);
    assert_true(ride.client.gatt.stray_pdus > 0);
}

static void pulls_its_key(void **state)
{
    (void)state;
    ride_begin(&ride, "safety-key", NULL, 1);
    ride_start_at(&ride, 3000, FTMS_SET_POWER, 250);
    ride_until(&ride, 59900);
    assert_int_equal(ride.status_count[FTMS_STATUS_SAFETY_KEY], 0);
    ride_until(&ride, 60100);
    assert_int_equal(ride.status_count[FTMS_STATUS_SAFETY_KEY], 1);
    ride_until(&ride, 80000);
    assert_true(ride_mean_power_w(&ride, 70000, 80000) < 100);
    assert_int_equal(ride_command(&ride, FTMS_SET_POWER, 250), FTMS_OPERATION_FAILED);
    assert_int_equal(ride_command(&ride, FTMS_START_OR_RESUME, 0), FTMS_OPERATION_FAILED);
    ride.bike.machine.config.started_at_ms = 90000; /* somebody puts it back */
    ride_until(&ride, 91000);
    assert_int_equal(ride_command(&ride, FTMS_SET_POWER, 250), FTMS_SUCCESS);
}

static void is_stopped_and_started_at_its_console(void **state)
{
    (void)state;
    ride_begin(&ride, "stopped", NULL, 1);
    ride_start_at(&ride, 3000, FTMS_SET_POWER, 250);
    ride_until(&ride, 60100);
    assert_int_equal(ride.last_status.opcode, FTMS_STATUS_STOPPED_BY_USER);
    assert_int_equal(ride.last_status.parameter, 1);
    ride_until(&ride, 75100);
    assert_int_equal(ride.last_status.opcode, FTMS_STATUS_STARTED_BY_USER);
    assert_true(ride_mean_power_w(&ride, 68000, 75000) < 100);
    assert_int_equal(ride_command(&ride, FTMS_SET_POWER, 250), FTMS_SUCCESS);
}

static void takes_control_away(void **state)
{
    (void)state;
    ride_begin(&ride, "control-lost", NULL, 1);
    ride_start_at(&ride, 3000, FTMS_SET_POWER, 150);
    ride_until(&ride, 61000);
    assert_int_equal(ride.last_status.opcode, FTMS_STATUS_CONTROL_LOST);
    assert_int_equal(ride_command(&ride, FTMS_SET_POWER, 50), FTMS_CONTROL_NOT_PERMITTED);
    ride_until(&ride, 80000);
    assert_true(ride_mean_power_w(&ride, 70000, 80000) > 130); /* brakes as it was told */
    assert_int_equal(ride_command(&ride, FTMS_REQUEST_CONTROL, 0), FTMS_SUCCESS);
    assert_int_equal(ride_command(&ride, FTMS_SET_POWER, 50), FTMS_SUCCESS);
}

static void refuses(void **state)
{
    (void)state;
    ride_begin(&ride, "refusing", NULL, 1);
    ride_until(&ride, 3000);
    assert_int_equal(ride_command(&ride, FTMS_REQUEST_CONTROL, 0), FTMS_SUCCESS);
    assert_int_equal(ride_command(&ride, FTMS_START_OR_RESUME, 0), FTMS_OPERATION_FAILED);
    assert_int_equal(ride_command(&ride, FTMS_SET_POWER, 100), FTMS_OPERATION_FAILED);
}

static void is_mute(void **state)
{
    (void)state;
    ride_begin(&ride, "mute", NULL, 1);
    ride_until(&ride, 3000);
    assert_int_equal(ride_command(&ride, FTMS_REQUEST_CONTROL, 0), 0);
    assert_int_equal(ride.answer_count, 0);
    assert_true(ride_records_between(&ride, 3000, 6000) > 10);
}

static void drops_its_link_once(void **state)
{
    (void)state;
    ride_begin(&ride, "drops-link", NULL, 1);
    ride_until(&ride, 59990);
    assert_false(virtual_bike_wants_close(&ride.bike));
    ride_until(&ride, 60000);
    assert_true(virtual_bike_wants_close(&ride.bike));
    ride_reconnect(&ride);
    ride_until(&ride, 130000);
    assert_false(virtual_bike_wants_close(&ride.bike));
}

static void loses_its_strap(void **state)
{
    (void)state;
    ride_begin(&ride, "strap-lost", NULL, 1);
    ride_until(&ride, 70000);
    assert_in_range(ride.records[59 * 4].heart_bpm, 55, 120);
    assert_int_equal(ride.records[62 * 4].heart_bpm, 0);
}

static void has_no_features(void **state)
{
    (void)state;
    ride_begin(&ride, "featureless", NULL, 1);
    ride_until(&ride, 20000);
    assert_null(gatt_client_find(&ride.client.gatt, 0x1826, 0x2ACC));
    assert_true(ride.is_ready && ride.record_count > 50);
}

/* ---- riders ---- */

static void a_small_reserve_ends_in_a_collapse(void **state)
{
    (void)state;
    ride_begin(&ride, NULL, "fading", 1);
    ride_start_at(&ride, 10000, FTMS_SET_POWER, 60);
    ride_until(&ride, 20000);
    assert_int_equal(ride_command(&ride, FTMS_SET_POWER, 300), FTMS_SUCCESS);
    ride_until(&ride, 80000);
    assert_true(ride_mean_cadence_rpm(&ride, 24000, 27000) > 75);
    assert_true(ride_mean_cadence_rpm(&ride, 70000, 80000) < 55);
    assert_int_equal(ride_command(&ride, FTMS_SET_POWER, 60), FTMS_SUCCESS);
    ride_until(&ride, 110000);
    assert_true(ride_mean_cadence_rpm(&ride, 95000, 110000) > 80); /* and recovers */
    for (size_t i = 0; i < ride.record_count; i++)
        assert_true(ride.records[i].cadence_rpm < 110); /* without spinning up past all reason */
}

static void the_weak_hold_less_than_the_steady(void **state)
{
    (void)state;
    ride_begin(&ride, NULL, "weak", 1);
    ride_start_at(&ride, 10000, FTMS_SET_POWER, 190);
    ride_until(&ride, 420000);
    double weak_rpm = ride_mean_cadence_rpm(&ride, 400000, 420000);
    ride_begin(&ride, NULL, NULL, 1);
    ride_start_at(&ride, 10000, FTMS_SET_POWER, 190);
    ride_until(&ride, 420000);
    double steady_rpm = ride_mean_cadence_rpm(&ride, 400000, 420000);
    assert_true(weak_rpm < 60);
    assert_true(steady_rpm > 80);
}

static void the_heart_races(void **state)
{
    (void)state;
    ride_begin(&ride, NULL, "racing-heart", 1);
    ride_start_at(&ride, 10000, FTMS_SET_POWER, 230);
    ride_until(&ride, 130000);
    assert_in_range(ride.records[ride.record_count - 1].heart_bpm, 191, 220);
}

static void the_rider_stops_and_goes_on(void **state)
{
    (void)state;
    ride_begin(&ride, NULL, "stops-pedalling", 1);
    ride_start_at(&ride, 10000, FTMS_SET_POWER, 150);
    ride_until(&ride, 100000);
    assert_true(ride_mean_cadence_rpm(&ride, 50000, 60000) > 80);
    assert_true(ride_mean_cadence_rpm(&ride, 65000, 75000) < 1);
    assert_true(ride_mean_power_w(&ride, 65000, 75000) < 1);
    assert_true(ride_mean_cadence_rpm(&ride, 85000, 100000) > 80);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(takes_no_commands),
        cmocka_unit_test(its_knob_is_turned),
        cmocka_unit_test(takes_levels),
        cmocka_unit_test(splits_records),
        cmocka_unit_test(answers_late),
        cmocka_unit_test(goes_silent),
        cmocka_unit_test(goes_silent_for_a_while),
        cmocka_unit_test(sends_garbage),
        cmocka_unit_test(pulls_its_key),
        cmocka_unit_test(is_stopped_and_started_at_its_console),
        cmocka_unit_test(takes_control_away),
        cmocka_unit_test(refuses),
        cmocka_unit_test(is_mute),
        cmocka_unit_test(drops_its_link_once),
        cmocka_unit_test(loses_its_strap),
        cmocka_unit_test(has_no_features),
        cmocka_unit_test(a_small_reserve_ends_in_a_collapse),
        cmocka_unit_test(the_weak_hold_less_than_the_steady),
        cmocka_unit_test(the_heart_races),
        cmocka_unit_test(the_rider_stops_and_goes_on),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
