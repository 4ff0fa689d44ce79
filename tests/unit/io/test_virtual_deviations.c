/*
 * What machines do with the control point, the attribute table and the data that the standard does
 * not say (issue threads of general libraries, and common practice): each file of tests/machines
 * shows it, and the real client gets along.
 */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include "support/virtual_ride.h"
#include "wire/gatt.h"

static struct virtual_ride ride;

static void meet(const char *machine)
{
    ride_begin(&ride, machine, NULL, 1);
    ride_until(&ride, 3000);
    assert_true(ride.is_ready);
}

static unsigned set_power(int16_t power_w)
{
    return ride_command(&ride, FTMS_SET_POWER, power_w);
}

/* Three commands, and a write more than that, as one was refused. */
static void moody_is_asked_again(void **state)
{
    (void)state;
    meet("moody");
    assert_int_equal(ride_command(&ride, FTMS_REQUEST_CONTROL, 0), FTMS_SUCCESS);
    assert_int_equal(ride_command(&ride, FTMS_START_OR_RESUME, 0), FTMS_SUCCESS);
    assert_int_equal(ride.bike.control.writes, 2);
    assert_int_equal(set_power(150), FTMS_SUCCESS);
    assert_int_equal(ride.bike.control.writes, 4);
    assert_int_equal(ride.bike.machine.load_value, 150);
}

static void wants_to_be_started(void **state)
{
    (void)state;
    meet("needs-start");
    assert_int_equal(ride_command(&ride, FTMS_REQUEST_CONTROL, 0), FTMS_SUCCESS);
    assert_int_equal(set_power(150), FTMS_OPERATION_FAILED);
    assert_int_equal(ride_command(&ride, FTMS_START_OR_RESUME, 0), FTMS_SUCCESS);
    assert_int_equal(set_power(150), FTMS_SUCCESS);
}

static void runs_by_itself(void **state)
{
    (void)state;
    meet("no-start");
    assert_int_equal(ride_command(&ride, FTMS_REQUEST_CONTROL, 0), FTMS_SUCCESS);
    assert_int_equal(ride_command(&ride, FTMS_START_OR_RESUME, 0), FTMS_OPERATION_FAILED);
    assert_int_equal(set_power(150), FTMS_SUCCESS);
    assert_int_equal(ride.bike.machine.load_value, 150);
}

static void says_yes_and_does_nothing(void **state)
{
    (void)state;
    meet("deaf");
    assert_int_equal(ride_command(&ride, FTMS_REQUEST_CONTROL, 0), FTMS_SUCCESS);
    assert_int_equal(set_power(150), FTMS_SUCCESS);
    assert_int_equal(ride.bike.machine.load, VIRTUAL_LOAD_RELEASED);
    assert_int_equal(ride.status_count[FTMS_STATUS_POWER_CHANGED], 0);
}

/* Plain while one command is open. With two open it answers neither, and nothing is guessed. */
static void lone_results_count_when_they_are_plain(void **state)
{
    const struct ftms_command loads[] = {{.opcode = FTMS_SET_POWER, .value = 150},
                                         {.opcode = FTMS_SET_POWER, .value = 0, .now = true}};
    (void)state;
    meet("terse");
    assert_int_equal(ride_command(&ride, FTMS_REQUEST_CONTROL, 0), FTMS_SUCCESS);
    assert_int_equal(set_power(120), FTMS_SUCCESS);
    const unsigned before = ride.answer_count;
    assert_int_equal(ftms_client_command(&ride.client, &loads[0]), RESULT_OK);
    assert_int_equal(ftms_client_command(&ride.client, &loads[1]), RESULT_OK);
    ride_until(&ride, ride.t_ms + 2000);
    assert_int_equal(ride.bike.machine.load_value, 0);
    assert_true(ride.answer_count <= before + 1);
}

static void what_is_said_twice_counts_once(void **state)
{
    (void)state;
    meet("twice");
    assert_int_equal(ride_command(&ride, FTMS_REQUEST_CONTROL, 0), FTMS_SUCCESS);
    for (int16_t power_w = 100; power_w < 110; power_w++) {
        assert_int_equal(set_power(power_w), FTMS_SUCCESS);
        assert_int_equal(ride.answer.command.value, power_w);
        ride_until(&ride, ride.t_ms + 500);
    }
    assert_int_equal(ride.answer_count, 11);
    assert_true(ride.bike.control.request_before == FTMS_SET_POWER);
}

static void commands_go_out_the_one_way_there_is(void **state)
{
    (void)state;
    meet("command-only");
    assert_int_equal(gatt_client_find(&ride.client.gatt, 0x1826, 0x2AD9)->properties,
                     GATT_WRITE_NO_RESPONSE | GATT_INDICATE);
    assert_int_equal(ride_command(&ride, FTMS_REQUEST_CONTROL, 0), FTMS_SUCCESS);
    assert_int_equal(set_power(150), FTMS_SUCCESS);
    assert_int_equal(ride.bike.machine.load_value, 150);
}

static void what_is_missing_is_not_missed(void **state)
{
    (void)state;
    meet("bare");
    assert_null(gatt_client_find(&ride.client.gatt, 0x1826, 0x2AD3));
    assert_int_equal(gatt_client_find(&ride.client.gatt, 0x1826, 0x2ADA)->client_config_handle, 0);
    assert_int_equal(ride_command(&ride, FTMS_REQUEST_CONTROL, 0), FTMS_SUCCESS);
    assert_int_equal(set_power(150), FTMS_SUCCESS);
    ride_until(&ride, 20000);
    assert_int_equal(ride.status_count[FTMS_STATUS_POWER_CHANGED], 0); /* nobody can ask for it */
    assert_int_equal(ride.frame.has & (FTMS_BIKE_SPEED | FTMS_BIKE_POWER), FTMS_BIKE_POWER);
    assert_true(ride.frame.power_w > 75);
}

static void other_services_are_left_alone(void **state)
{
    (void)state;
    meet("crowded");
    const struct gatt_characteristic *power = gatt_client_find(&ride.client.gatt, 0x1818, 0x2A63);
    assert_non_null(power);
    assert_non_null(gatt_client_find(&ride.client.gatt, 0x1816, 0x2A5B));
    assert_false(gatt_server_is_subscribed(&ride.bike.server, power->value_handle));
    ride_until(&ride, 21000);
    assert_int_equal(ride_records_between(&ride, 10000, 20000), 40);
}

/* Octets as in table 4.12 of Fitness Machine Service 1.0.1; nothing in the standard allows these.
 */
static void ranges_that_cannot_be_meant(void **state)
{
    (void)state;
    meet("zero-ranges");
    assert_int_equal(ride.machine.power_w.maximum, 0);
    assert_int_equal(ride_command(&ride, FTMS_REQUEST_CONTROL, 0), FTMS_SUCCESS);
    assert_int_equal(set_power(150), FTMS_SUCCESS);
    meet("swapped-ranges");
    assert_false(ride.machine.has_power_range);
    assert_int_equal(ride_command(&ride, FTMS_REQUEST_CONTROL, 0), FTMS_SUCCESS);
    assert_int_equal(set_power(150), FTMS_SUCCESS);
}

/* 11 octets: flags, speed, cadence, distance, power; heart rate and time are promised. */
static void whole_fields_of_a_cut_frame_count(void **state)
{
    (void)state;
    meet("cut");
    ride_until(&ride, 21000);
    assert_true(ride.frame.is_short);
    assert_int_equal(ride.frame.has & (FTMS_BIKE_POWER | FTMS_BIKE_HEART_RATE), FTMS_BIKE_POWER);
    assert_true(ride.frame.power_w > 0 && ride.frame.cadence_half_rpm > 120);
    assert_int_equal(ride.odd_frame_count, ride.frame_count);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(moody_is_asked_again),
        cmocka_unit_test(wants_to_be_started),
        cmocka_unit_test(runs_by_itself),
        cmocka_unit_test(says_yes_and_does_nothing),
        cmocka_unit_test(lone_results_count_when_they_are_plain),
        cmocka_unit_test(what_is_said_twice_counts_once),
        cmocka_unit_test(commands_go_out_the_one_way_there_is),
        cmocka_unit_test(what_is_missing_is_not_missed),
        cmocka_unit_test(other_services_are_left_alone),
        cmocka_unit_test(ranges_that_cannot_be_meant),
        cmocka_unit_test(whole_fields_of_a_cut_frame_count),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
