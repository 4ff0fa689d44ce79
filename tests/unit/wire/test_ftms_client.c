/*
 * The machine client, in conversation with a scripted peer. What must be asked and written is taken
 * from Fitness Machine Service 1.0.1 and Fitness Machine Profile 1.0; how machines deviate, from
 * public issue threads of general libraries and, where nothing is named, common practice.
 */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#include "support/bike_talk.h"

#define SETUP_LOG "2AD9c=02 00|2ADAc=01 00|2AD3c=01 00|2AD2c=01 00|2ACC?|2AD6?|2AD8?|"

/* ---- setup ---- */

static void asks_in_order(void **state)
{
    (void)state;
    meet();
    expect_log(SETUP_LOG);
    struct ftms_machine machine = expect_event(FTMS_CLIENT_READY).machine;
    assert_true(machine.has_control_point && machine.takes_power && machine.takes_level);
    assert_true(machine.has_power_range && machine.has_level_range);
    assert_int_equal(machine.power_w.minimum, 1);
    assert_int_equal(machine.power_w.maximum, 1000);
    assert_int_equal(machine.power_w.increment, 5);
    assert_int_equal(machine.level_tenths.maximum, 1000);
    assert_int_equal(machine.feature.machine, 0x7480);
    expect_no_event();
}

static void says_why_it_is_no_bike(void **state)
{
    (void)state;
    peer.service = 0x180D;
    meet();
    expect_failed("this device is not a fitness machine");

    peer = whole_bike;
    peer.characteristics[BIKE_DATA].number = 0x2AD1;
    meet();
    expect_failed("this fitness machine is not a bike");

    peer = whole_bike;
    peer.characteristics[BIKE_DATA].properties = 0;
    meet();
    expect_failed("this bike has no way to turn its data on");
}

static void has_data_only_without_control(void **state)
{
    (void)state;
    struct ftms_command start = {.opcode = FTMS_START_OR_RESUME};
    static const uint8_t gone[] = {FEATURE, CONTROL};
    for (size_t i = 0; i < sizeof gone; i++) {
        peer = whole_bike;
        peer.characteristics[gone[i]].number = 0x2B00;
        struct ftms_machine machine = meet_ready();
        assert_false(machine.has_control_point || machine.takes_power || machine.takes_level);
        assert_int_equal(ftms_client_command(&client, &start), RESULT_UNSUPPORTED);
        notify(0x2AD2, "44 00 A8 0C B4 00 C8 00");
        assert_int_equal(expect_event(FTMS_CLIENT_DATA).data.power_w, 200);
    }
}

static void takes_what_the_feature_bits_say(void **state)
{
    (void)state;
    peer.characteristics[FEATURE].value = "00 00 00 00 04 00 00 00";
    struct ftms_machine machine = meet_ready();
    assert_true(machine.takes_level && !machine.takes_power);
    peer.characteristics[FEATURE].value = "00 00 00 00 08 00 00 00";
    machine = meet_ready();
    assert_true(machine.takes_power && !machine.takes_level);
    peer.characteristics[FEATURE].value = "00 00 00 00 08 00"; /* cut short */
    assert_false(meet_ready().has_control_point);
}

static void does_without_ranges(void **state)
{
    (void)state;
    peer.characteristics[LEVEL_RANGE].number = 0x2B00;
    peer.characteristics[POWER_RANGE].value = "E8 03 01 00 05 00"; /* the wrong way round */
    struct ftms_machine machine = meet_ready();
    assert_true(machine.takes_power && machine.takes_level);
    assert_false(machine.has_level_range || machine.has_power_range);
    peer.characteristics[POWER_RANGE].value = NULL; /* may not be read */
    assert_false(meet_ready().has_power_range);
}

static void tolerates_refused_subscriptions(void **state)
{
    (void)state;
    static const uint8_t optional[] = {STATUS, TRAINING};
    for (size_t i = 0; i < sizeof optional; i++) {
        peer = whole_bike;
        peer.characteristics[optional[i]].config_error = 0x03;
        peer.characteristics[optional[i]].config_errors = 9;
        assert_true(meet_ready().takes_power);
    }
    peer = whole_bike;
    peer.characteristics[CONTROL].config_error = 0x03;
    peer.characteristics[CONTROL].config_errors = 9;
    assert_false(meet_ready().has_control_point);

    peer = whole_bike;
    peer.characteristics[BIKE_DATA].config_error = 0x03;
    peer.characteristics[BIKE_DATA].config_errors = 9;
    meet();
    expect_failed("this bike refuses to send its data");
}

static void says_that_it_needs_pairing(void **state)
{
    (void)state;
    static const uint8_t where[] = {CONTROL, STATUS, BIKE_DATA};
    static const uint8_t errors[] = {0x05, 0x0F, 0x0C};
    for (size_t i = 0; i < sizeof where; i++) {
        peer = whole_bike;
        peer.characteristics[where[i]].config_error = errors[i];
        peer.characteristics[where[i]].config_errors = 1;
        meet();
        expect_failed("this machine needs pairing first");
        notify(0x2AD2, "44 00 A8 0C B4 00 C8 00");
        expect_no_event();
    }
}

static void repeats_a_subscription_once(void **state)
{
    (void)state;
    peer.characteristics[CONTROL].config_error = 0x80;
    peer.characteristics[CONTROL].config_errors = 1;
    meet();
    expect_log("2AD9c=02 00|");
    wait_ms(299);
    expect_log("");
    wait_ms(1);
    expect_log(SETUP_LOG);
    assert_true(expect_event(FTMS_CLIENT_READY).machine.takes_power);

    peer.characteristics[CONTROL].config_errors = 2;
    meet();
    wait_ms(300);
    wait_ms(300);
    assert_false(expect_event(FTMS_CLIENT_READY).machine.has_control_point);
}

static void keeps_data_that_come_before_the_answer(void **state)
{
    (void)state;
    early_data = "44 00 A8 0C B4 00 C8 00";
    meet();
    assert_int_equal(expect_event(FTMS_CLIENT_DATA).data.power_w, 200);
    assert_int_equal(expect_event(FTMS_CLIENT_RECORD).data.speed_ckmh, 3240);
    (void)expect_event(FTMS_CLIENT_READY);
}

static void gives_up_a_machine_that_never_answers(void **state)
{
    (void)state;
    uint8_t pdu[ATT_MTU_MAX];
    struct ftms_command start = {.opcode = FTMS_START_OR_RESUME};
    ftms_client_start(&client, 0);
    assert_int_equal(ftms_client_command(&client, &start), RESULT_BUSY);
    assert_true(ftms_client_next_pdu(&client, pdu) > 0);
    for (uint64_t t_ms = 0; t_ms <= 31000; t_ms += 1000)
        ftms_client_tick(&client, t_ms);
    expect_failed("the machine has stopped answering");
    assert_int_equal(ftms_client_command(&client, &start), RESULT_CLOSED);
}

/* ---- what comes by itself ---- */

static void hands_on_parts_and_records(void **state)
{
    (void)state;
    (void)meet_ready();
    notify(0x2AD2, "55 00 B4 00 10 27 00 C8 00");
    assert_int_equal(expect_event(FTMS_CLIENT_DATA).data.power_w, 200);
    expect_no_event();
    notify(0x2AD2, "00 0B A8 0C FF FF FF FF FF 00 58 02");
    assert_int_equal(expect_event(FTMS_CLIENT_DATA).data.elapsed_s, 600);
    struct ftms_bike_data record = expect_event(FTMS_CLIENT_RECORD).data;
    assert_int_equal(record.power_w, 200);
    assert_int_equal(record.elapsed_s, 600);
    notify(0x2AD2, "44");
    notify(0x2AD2, "");
    expect_no_event();
}

static void hands_on_status_and_training(void **state)
{
    (void)state;
    (void)meet_ready();
    notify(0x2ADA, "02 02");
    struct ftms_status status = expect_event(FTMS_CLIENT_STATUS).status;
    assert_int_equal(status.opcode, FTMS_STATUS_STOPPED_BY_USER);
    assert_int_equal(status.parameter, FTMS_PAUSE);
    notify(0x2ADA, "FF");
    assert_int_equal(expect_event(FTMS_CLIENT_STATUS).status.opcode, FTMS_STATUS_CONTROL_LOST);
    notify(0x2AD3, "01 02 57 61 72 6D");
    assert_int_equal(expect_event(FTMS_CLIENT_TRAINING).training_status, 2);
    notify(0x2ADA, "");
    notify(0x2AD3, "01");
    expect_no_event();
}

static void ignores_the_handle_of_what_is_missing(void **state)
{
    (void)state;
    peer.characteristics[TRAINING].number = 0x2B00;
    (void)meet_ready();
    receive("1B 00 00 01 02");
    expect_no_event();
}

static void loses_no_failure_when_nobody_drains(void **state)
{
    (void)state;
    (void)meet_ready();
    for (unsigned i = 0; i < 20; i++)
        notify(0x2ADA, "04");
    assert_int_equal(client.lost_events, 20 - FTMS_CLIENT_EVENTS_MAX);
    peer.is_silent = true;
    command(FTMS_SET_POWER, 100);
    pump();
    wait_ms(0);
    wait_ms(31000);
    for (unsigned i = 0; i < FTMS_CLIENT_EVENTS_MAX; i++)
        (void)expect_event(FTMS_CLIENT_STATUS);
    expect_failed("the machine has stopped answering");
}

static uint32_t noise = 1826;

static uint8_t next_octet(void)
{
    noise = noise * 1664525u + 1013904223u; /* Numerical Recipes' generator */
    return (uint8_t)(noise >> 24);
}

/* Notifications and indications of any content, at any handle near ours, with commands between. */
static void survives_any_octets(void **state)
{
    (void)state;
    struct ftms_client_event event;
    (void)meet_ready();
    for (unsigned round = 0; round < 20000; round++) {
        size_t length = 3 + next_octet() % 29u;
        uint8_t *pdu = malloc(length);
        for (size_t i = 0; i < length; i++)
            pdu[i] = next_octet();
        pdu[0] = pdu[0] % 2 == 0 ? ATT_NOTIFICATION : ATT_INDICATION;
        pdu[1] %= 26;
        pdu[2] = 0;
        ftms_client_receive(&client, ++now_ms, pdu, length);
        free(pdu);
        if (round % 3 == 0)
            command_now(round % 2 == 0 ? FTMS_SET_RESISTANCE : FTMS_STOP_OR_PAUSE, 1);
        peer.log[0] = '\0';
        peer.write_errors[0] = round % 5 == 0 ? ATT_PROCEDURE_IN_PROGRESS : 0;
        peer.write_error = 0;
        wait_ms(100);
        while (ftms_client_next_event(&client, &event))
            assert_true(event.kind != FTMS_CLIENT_FAILED);
        assert_true(client.control.open_count <= FTMS_PROCEDURES_MAX);
    }
    assert_int_equal(client.lost_events, 0);
}

#define TEST(name) cmocka_unit_test_setup(name, set_up)

int main(void)
{
    const struct CMUnitTest tests[] = {
        TEST(asks_in_order),
        TEST(says_why_it_is_no_bike),
        TEST(has_data_only_without_control),
        TEST(takes_what_the_feature_bits_say),
        TEST(does_without_ranges),
        TEST(tolerates_refused_subscriptions),
        TEST(says_that_it_needs_pairing),
        TEST(repeats_a_subscription_once),
        TEST(keeps_data_that_come_before_the_answer),
        TEST(gives_up_a_machine_that_never_answers),
        TEST(hands_on_parts_and_records),
        TEST(hands_on_status_and_training),
        TEST(ignores_the_handle_of_what_is_missing),
        TEST(loses_no_failure_when_nobody_drains),
        TEST(survives_any_octets),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
