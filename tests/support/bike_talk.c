#include "support/bike_talk.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <string.h>

#include <cmocka.h>

#include "support/octets.h"

struct ftms_client client;
struct scripted_peer peer;
uint64_t now_ms;
const char *early_data;

/* Power and resistance targets, both ranges, everything else a machine is asked for. */
const struct scripted_peer whole_bike = {
    .service = 0x1826,
    .characteristics =
        {
            {.number = 0x2ACC, .properties = 0x02, .value = "80 74 00 00 0C 00 00 00"},
            {.number = 0x2AD2, .properties = 0x10},
            {.number = 0x2AD3, .properties = 0x12, .value = "00 01"},
            {.number = 0x2AD6, .properties = 0x02, .value = "0A 00 E8 03 0A 00"},
            {.number = 0x2AD8, .properties = 0x02, .value = "01 00 E8 03 05 00"},
            {.number = 0x2AD9, .properties = 0x28},
            {.number = 0x2ADA, .properties = 0x10},
        },
};
/* ---- the conversation ---- */

void receive(const char *text)
{
    uint8_t pdu[64];
    size_t length = octets_from_text(text, pdu, sizeof pdu);
    ftms_client_receive(&client, now_ms, pdu, length);
}

static void send_value(uint8_t opcode, uint16_t number, const char *text)
{
    uint16_t handle = scripted_value_handle(&peer, number);
    uint8_t pdu[64] = {opcode, (uint8_t)handle, (uint8_t)(handle >> 8)};
    size_t length = octets_from_text(text, pdu + 3, sizeof pdu - 3);
    ftms_client_receive(&client, now_ms, pdu, 3 + length);
}

void pump(void)
{
    uint8_t pdu[ATT_MTU_MAX], answer[64];
    size_t length;
    while ((length = ftms_client_next_pdu(&client, pdu)) > 0) {
        size_t logged = strlen(peer.log);
        size_t answer_length = scripted_peer_answer(&peer, pdu, length, answer);
        if (early_data != NULL && strstr(peer.log + logged, "2AD2c") != NULL)
            send_value(ATT_NOTIFICATION, 0x2AD2, early_data);
        if (answer_length > 0)
            ftms_client_receive(&client, now_ms, answer, answer_length);
    }
}

void notify(uint16_t number, const char *text)
{
    send_value(ATT_NOTIFICATION, number, text);
    pump();
}

void indicate(const char *text)
{
    send_value(ATT_INDICATION, 0x2AD9, text);
    pump();
}

void wait_ms(uint64_t ms)
{
    now_ms += ms;
    ftms_client_tick(&client, now_ms);
    pump();
}

void expect_log(const char *log)
{
    assert_string_equal(peer.log, log);
    peer.log[0] = '\0';
}

struct ftms_client_event expect_event(enum ftms_client_event_kind kind)
{
    struct ftms_client_event event = {0};
    assert_true(ftms_client_next_event(&client, &event));
    assert_int_equal(event.kind, kind);
    return event;
}

void expect_no_event(void)
{
    struct ftms_client_event event;
    assert_false(ftms_client_next_event(&client, &event));
}

void expect_answer(uint8_t opcode, int16_t value, uint8_t result, uint8_t att_error)
{
    struct ftms_client_event event = expect_event(FTMS_CLIENT_ANSWER);
    assert_int_equal(event.command.opcode, opcode);
    assert_int_equal(event.command.value, value);
    assert_int_equal(event.result, result);
    assert_int_equal(event.att_error, att_error);
}

void expect_failed(const char *reason)
{
    struct ftms_client_event event = expect_event(FTMS_CLIENT_FAILED);
    assert_string_equal(event.reason, reason);
    expect_no_event();
}

void command(uint8_t opcode, int16_t value)
{
    struct ftms_command sent = {.opcode = opcode, .value = value};
    assert_int_equal(ftms_client_command(&client, &sent), RESULT_OK);
}

void command_now(uint8_t opcode, int16_t value)
{
    struct ftms_command sent = {.opcode = opcode, .value = value, .now = true};
    assert_int_equal(ftms_client_command(&client, &sent), RESULT_OK);
}

void meet(void)
{
    now_ms = 5000;
    ftms_client_start(&client, now_ms);
    pump();
}

int set_up(void **state)
{
    (void)state;
    peer = whole_bike;
    early_data = NULL;
    return 0;
}

struct ftms_machine meet_ready(void)
{
    meet();
    struct ftms_machine machine = expect_event(FTMS_CLIENT_READY).machine;
    expect_no_event();
    peer.log[0] = '\0';
    return machine;
}
