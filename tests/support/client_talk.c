#include "support/client_talk.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>

struct talk talk;

void talk_expect_pdu(const char *text)
{
    uint8_t pdu[ATT_MTU_MAX];
    size_t length = gatt_client_next_pdu(&talk.client, pdu);
    assert_octets(pdu, length, text);
}

void talk_receive(const char *text)
{
    uint8_t pdu[ATT_PDU_BUFFER];
    size_t length = octets_from_text(text, pdu, sizeof pdu);
    gatt_client_receive(&talk.client, talk.now_ms, pdu, length);
}

void talk_play(const char *const *lines, size_t count)
{
    for (size_t i = 0; i < count; i++) {
        if (lines[i][0] == '>')
            talk_expect_pdu(lines[i] + 1);
        else
            talk_receive(lines[i] + 1);
    }
}

void talk_expect_event(enum gatt_event_kind kind, uint16_t handle, uint8_t error, const char *value)
{
    struct gatt_event event;
    assert_true(gatt_client_next_event(&talk.client, &event));
    assert_int_equal(event.kind, kind);
    assert_int_equal(event.handle, handle);
    assert_int_equal(event.error, error);
    assert_octets(event.value, event.length, value);
}

void talk_expect_no_event(void)
{
    struct gatt_event event;
    assert_false(gatt_client_next_event(&talk.client, &event));
}

void talk_start(void)
{
    talk.now_ms = 1000;
    gatt_client_start(&talk.client, talk.now_ms);
}

void talk_start_ready(void)
{
    talk_start();
    TALK("> 02 05 02", "< 01 02 00 00 06", "> 10 01 00 FF FF 00 28", "< 01 10 01 00 0A");
    talk_expect_event(GATT_DISCOVERED, 0, 0, "");
}
