/*
 * The client of straps and sensors, in conversation with a scripted peer. Frames from Heart Rate
 * Service 1.0, Cycling Power Service 1.1, Cycling Speed and Cadence Service 1.0; deviations are
 * common practice.
 */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include "support/octets.h"
#include "support/scripted_peer.h"
#include "wire/sensor_client.h"

static struct sensor_client client;
static struct scripted_peer peer;

static const struct scripted_peer strap = {
    .service = 0x180D,
    .characteristics =
        {
            {.number = 0x2A38, .properties = 0x02, .value = "01"},
            {.number = 0x2A37, .properties = 0x10},
        },
};
enum { LOCATION, MEASUREMENT };

static int set_up(void **state)
{
    (void)state;
    peer = strap;
    return 0;
}

static const struct scripted_peer pedals = {
    .service = 0x1818,
    .characteristics =
        {
            {.number = 0x2A65, .properties = 0x02, .value = "08 00 00 00"},
            {.number = 0x2A63, .properties = 0x10},
        },
};

static const struct scripted_peer crank = {
    .service = 0x1816,
    .characteristics =
        {
            {.number = 0x2A5C, .properties = 0x02, .value = "02 00"},
            {.number = 0x2A5B, .properties = 0x10},
        },
};

static void notify_at(uint64_t t_ms, const char *text)
{
    uint16_t handle = scripted_value_handle(&peer, peer.characteristics[MEASUREMENT].number);
    uint8_t pdu[64] = {ATT_NOTIFICATION, (uint8_t)handle, (uint8_t)(handle >> 8)};
    size_t length = octets_from_text(text, pdu + 3, sizeof pdu - 3);
    sensor_client_receive(&client, t_ms, pdu, 3 + length);
}

static void notify(const char *text)
{
    notify_at(0, text);
}

/* A new link; the frame arrives before the subscription is answered. */
static void meet_sensor(enum sensor_kind sensor, const char *early)
{
    uint8_t pdu[ATT_MTU_MAX], answer[64];
    size_t length;
    sensor_client_start(&client, sensor, 0);
    while ((length = sensor_client_next_pdu(&client, pdu)) > 0) {
        size_t answer_length = scripted_peer_answer(&peer, pdu, length, answer);
        if (early != NULL && pdu[0] == ATT_WRITE_REQUEST)
            notify(early);
        sensor_client_receive(&client, 0, answer, answer_length);
    }
}

static void meet(const char *early)
{
    meet_sensor(SENSOR_STRAP, early);
}

static struct sensor_client_event expect_event(enum sensor_client_event_kind kind)
{
    struct sensor_client_event event = {0};
    assert_true(sensor_client_next_event(&client, &event));
    assert_int_equal(event.kind, kind);
    return event;
}

static void expect_no_event(void)
{
    struct sensor_client_event event;
    assert_false(sensor_client_next_event(&client, &event));
}

static void expect_failed(const char *reason)
{
    assert_string_equal(expect_event(SENSOR_CLIENT_FAILED).reason, reason);
    expect_no_event();
}

static void subscribes_and_hands_on(void **state)
{
    (void)state;
    meet(NULL);
    assert_string_equal(peer.log, "2A37c=01 00|");
    (void)expect_event(SENSOR_CLIENT_READY);
    expect_no_event();
    notify("16 3C 00 04 E8 03");
    struct heart_rate heart = expect_event(SENSOR_CLIENT_HEART).heart;
    assert_int_equal(heart.heart_bpm, 60);
    assert_int_equal(heart.contact, HEART_CONTACT_GOOD);
    assert_int_equal(heart.rr_count, 2);
    assert_int_equal(heart.rr_1024[1], 1000);
    notify("01 50"); /* cut short */
    notify("");
    expect_no_event();
}

static void keeps_data_that_come_before_the_answer(void **state)
{
    (void)state;
    meet("00 50");
    assert_int_equal(expect_event(SENSOR_CLIENT_HEART).heart.heart_bpm, 80);
    (void)expect_event(SENSOR_CLIENT_READY);
}

static void ignores_other_handles(void **state)
{
    (void)state;
    static const uint8_t at_zero[] = {ATT_NOTIFICATION, 0, 0, 0, 80};
    static const uint8_t at_location[] = {ATT_NOTIFICATION, 3, 0, 0, 80};
    sensor_client_start(&client, SENSOR_STRAP, 0);
    sensor_client_receive(&client, 0, at_zero, sizeof at_zero);
    expect_no_event();
    meet(NULL);
    (void)expect_event(SENSOR_CLIENT_READY);
    sensor_client_receive(&client, 0, at_location, sizeof at_location);
    expect_no_event();
}

static void says_why_it_is_no_strap(void **state)
{
    (void)state;
    peer.service = 0x1826;
    meet(NULL);
    expect_failed("this device measures no heart rate");

    peer = strap;
    peer.characteristics[MEASUREMENT].properties = 0;
    meet(NULL);
    expect_failed("this strap has no way to turn its data on");
}

static void says_why_it_is_refused(void **state)
{
    (void)state;
    static const struct {
        uint8_t error;
        const char *reason;
    } rows[] = {
        {0x05, "this strap needs pairing first"},
        {0x0F, "this strap needs pairing first"},
        {0x0C, "this strap needs pairing first"},
        {0x03, "this strap refuses to send its data"},
    };
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        peer = strap;
        peer.characteristics[MEASUREMENT].config_error = rows[i].error;
        peer.characteristics[MEASUREMENT].config_errors = 1;
        meet(NULL);
        expect_failed(rows[i].reason);
    }
}

static void gives_up_a_strap_that_never_answers(void **state)
{
    (void)state;
    uint8_t pdu[ATT_MTU_MAX];
    sensor_client_start(&client, SENSOR_STRAP, 0);
    assert_true(sensor_client_next_pdu(&client, pdu) > 0);
    for (uint64_t t_ms = 0; t_ms <= 31000; t_ms += 1000)
        sensor_client_tick(&client, t_ms);
    expect_failed("the strap has stopped answering");
}

static void loses_no_failure_when_nobody_drains(void **state)
{
    (void)state;
    peer.characteristics[MEASUREMENT].config_error = 0x03;
    peer.characteristics[MEASUREMENT].config_errors = 1;
    meet("00 50");
    for (unsigned i = 0; i < SENSOR_CLIENT_EVENTS_MAX; i++)
        notify("00 51"); /* after a failure nothing is taken */
    (void)expect_event(SENSOR_CLIENT_HEART);
    expect_failed("this strap refuses to send its data");

    peer = strap;
    meet(NULL);
    for (unsigned i = 0; i < 10; i++)
        notify("00 51");
    assert_int_equal(client.lost_events, 11 - SENSOR_CLIENT_EVENTS_MAX);
}

static void expect_effort(int32_t power_w, int32_t cadence_rpm)
{
    const struct sensor_effort effort = expect_event(SENSOR_CLIENT_EFFORT).effort;

    assert_int_equal(effort.has_power ? effort.power_w : -1, power_w);
    assert_int_equal(effort.has_cadence ? effort.cadence_rpm : -1, cadence_rpm);
}

static void hands_on_power_and_the_cadence_that_comes_with_it(void **state)
{
    (void)state;
    peer = pedals;
    meet_sensor(SENSOR_POWER, NULL);
    assert_string_equal(peer.log, "2A63c=01 00|");
    (void)expect_event(SENSOR_CLIENT_READY);
    notify_at(1000, "20 00 2C 01 90 01 00 04");
    expect_effort(300, -1);
    notify_at(2000, "20 00 36 01 91 01 00 08");
    expect_effort(310, 60);
    notify_at(2500, "00 00 40 01");
    expect_effort(320, -1);
    notify_at(2600, "00 00 40"); /* cut short */
    expect_no_event();
}

/* The last power said again and again, while the crank stands. */
static void legs_that_stand_have_no_power(void **state)
{
    (void)state;
    peer = pedals;
    meet_sensor(SENSOR_POWER, "20 00 2C 01 90 01 00 04");
    expect_effort(300, -1);
    (void)expect_event(SENSOR_CLIENT_READY);
    notify_at(CRANK_STILL_MS, "20 00 2C 01 90 01 00 04");
    expect_effort(0, 0);
}

static void hands_on_cadence(void **state)
{
    (void)state;
    peer = crank;
    meet_sensor(SENSOR_CADENCE, NULL);
    assert_string_equal(peer.log, "2A5C?|2A5Bc=01 00|");
    (void)expect_event(SENSOR_CLIENT_READY);
    notify_at(1000, "02 41 01 00 08");
    notify_at(1500, "01 40 E2 01 00 00 28"); /* of the wheel alone */
    expect_no_event();
    notify_at(2000, "03 40 E2 01 00 00 28 42 01 00 0C");
    expect_effort(-1, 60);
}

static void says_that_a_wheel_is_no_crank(void **state)
{
    (void)state;
    peer = crank;
    peer.characteristics[0].value = "01 00";
    meet_sensor(SENSOR_CADENCE, NULL);
    expect_failed("this sensor counts turns of a wheel, not of the crank");
}

static void says_which_sensor_it_is_not(void **state)
{
    (void)state;
    meet_sensor(SENSOR_POWER, NULL);
    expect_failed("this device measures no power");
    meet_sensor(SENSOR_CADENCE, NULL);
    expect_failed("this device measures no cadence");
}

#define TEST(name) cmocka_unit_test_setup(name, set_up)

int main(void)
{
    const struct CMUnitTest tests[] = {
        TEST(subscribes_and_hands_on),
        TEST(keeps_data_that_come_before_the_answer),
        TEST(ignores_other_handles),
        TEST(says_why_it_is_no_strap),
        TEST(says_why_it_is_refused),
        TEST(gives_up_a_strap_that_never_answers),
        TEST(loses_no_failure_when_nobody_drains),
        TEST(hands_on_power_and_the_cadence_that_comes_with_it),
        TEST(legs_that_stand_have_no_power),
        TEST(hands_on_cadence),
        TEST(says_that_a_wheel_is_no_crank),
        TEST(says_which_sensor_it_is_not),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
