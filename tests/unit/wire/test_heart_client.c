/*
 * The strap client, in conversation with a scripted peer. Frames from Heart Rate Service 1.0;
 * deviations are common practice.
 */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include "support/octets.h"
#include "support/scripted_peer.h"
#include "wire/heart_client.h"

static struct heart_client client;
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

static void notify(const char *text)
{
    uint16_t handle = scripted_value_handle(&peer, 0x2A37);
    uint8_t pdu[64] = {ATT_NOTIFICATION, (uint8_t)handle, (uint8_t)(handle >> 8)};
    size_t length = octets_from_text(text, pdu + 3, sizeof pdu - 3);
    heart_client_receive(&client, 0, pdu, 3 + length);
}

/* A new link; the frame arrives before the subscription is answered. */
static void meet(const char *early)
{
    uint8_t pdu[ATT_MTU_MAX], answer[64];
    size_t length;
    heart_client_start(&client, 0);
    while ((length = heart_client_next_pdu(&client, pdu)) > 0) {
        size_t answer_length = scripted_peer_answer(&peer, pdu, length, answer);
        if (early != NULL && pdu[0] == ATT_WRITE_REQUEST)
            notify(early);
        heart_client_receive(&client, 0, answer, answer_length);
    }
}

static struct heart_client_event expect_event(enum heart_client_event_kind kind)
{
    struct heart_client_event event = {0};
    assert_true(heart_client_next_event(&client, &event));
    assert_int_equal(event.kind, kind);
    return event;
}

static void expect_no_event(void)
{
    struct heart_client_event event;
    assert_false(heart_client_next_event(&client, &event));
}

static void expect_failed(const char *reason)
{
    assert_string_equal(expect_event(HEART_CLIENT_FAILED).reason, reason);
    expect_no_event();
}

static void subscribes_and_hands_on(void **state)
{
    (void)state;
    meet(NULL);
    assert_string_equal(peer.log, "2A37c=01 00|");
    (void)expect_event(HEART_CLIENT_READY);
    expect_no_event();
    notify("16 3C 00 04 E8 03");
    struct heart_rate heart = expect_event(HEART_CLIENT_DATA).heart;
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
    assert_int_equal(expect_event(HEART_CLIENT_DATA).heart.heart_bpm, 80);
    (void)expect_event(HEART_CLIENT_READY);
}

static void ignores_other_handles(void **state)
{
    (void)state;
    static const uint8_t at_zero[] = {ATT_NOTIFICATION, 0, 0, 0, 80};
    static const uint8_t at_location[] = {ATT_NOTIFICATION, 3, 0, 0, 80};
    heart_client_start(&client, 0);
    heart_client_receive(&client, 0, at_zero, sizeof at_zero);
    expect_no_event();
    meet(NULL);
    (void)expect_event(HEART_CLIENT_READY);
    heart_client_receive(&client, 0, at_location, sizeof at_location);
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
    heart_client_start(&client, 0);
    assert_true(heart_client_next_pdu(&client, pdu) > 0);
    for (uint64_t t_ms = 0; t_ms <= 31000; t_ms += 1000)
        heart_client_tick(&client, t_ms);
    expect_failed("the strap has stopped answering");
}

static void loses_no_failure_when_nobody_drains(void **state)
{
    (void)state;
    peer.characteristics[MEASUREMENT].config_error = 0x03;
    peer.characteristics[MEASUREMENT].config_errors = 1;
    meet("00 50");
    for (unsigned i = 0; i < HEART_CLIENT_EVENTS_MAX; i++)
        notify("00 51"); /* after a failure nothing is taken */
    (void)expect_event(HEART_CLIENT_DATA);
    expect_failed("this strap refuses to send its data");

    peer = strap;
    meet(NULL);
    for (unsigned i = 0; i < 10; i++)
        notify("00 51");
    assert_int_equal(client.lost_events, 11 - HEART_CLIENT_EVENTS_MAX);
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
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
