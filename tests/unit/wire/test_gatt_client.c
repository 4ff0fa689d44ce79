/*
 * What a GATT client does on an open link, as conversations. PDUs marked BlueZ are those of its
 * unit/test-gatt.c.
 */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <string.h>

#include <cmocka.h>

#include "support/client_talk.h"

/* ---- reading ---- */

struct read_row {
    const char *lines[8]; /* at MTU 23, after "> 0A 03 00" */
    uint8_t error;
    const char *value;
};

#define V22 "00 01 02 03 04 05 06 07 08 09 0A 0B 0C 0D 0E 0F 10 11 12 13 14 15 "

static struct read_row read_rows[] = {
    {{"< 0B 01 02 03"}, 0, "01 02 03"}, /* BlueZ: /TP/GAR/CL/BV-01-C */
    {{"< 0B"}, 0, ""},
    {{"< 01 0A 03 00 02"}, 0x02, ""}, /* BlueZ: /TP/GAR/CL/BI-12-C, and for 05, 08, 0C */
    {{"< 01 0A 03 00 05"}, 0x05, ""},
    {{"< 01 0A 03 00 08"}, 0x08, ""},
    {{"< 01 0A 03 00 0C"}, 0x0C, ""},
    {{"< 01 0A 03 00 0F"}, 0x0F, ""},
    {{"< 01 0A 03 00 80"}, 0x80, ""},
    {{"< 01 0A 03 00 00"}, 0x0E, ""}, /* "no error" in an Error Response is one */
    {{"< 01 12 03 00 02"}, 0x0E, ""},
    {{"< 01 0A 03"}, 0x0E, ""},
    {{"< 13"}, 0x0E, ""},
    {{"< 0D 01"}, 0x0E, ""},
    {{"< 0B " V22, "> 0C 03 00 16 00", "< 0D AA BB"}, 0, V22 "AA BB"},
    {{"< 0B " V22, "> 0C 03 00 16 00", "< 0D"}, 0, V22},
    {{"< 0B " V22, "> 0C 03 00 16 00", "< 01 0C 03 00 07"}, 0, V22},
    {{"< 0B " V22, "> 0C 03 00 16 00", "< 01 0C 03 00 0B"}, 0, V22},
    {{"< 0B " V22, "> 0C 03 00 16 00", "< 01 0C 03 00 05"}, 0x05, ""},
    {{"< 0B " V22, "> 0C 03 00 16 00", "< 0B AA"}, 0x0E, ""},
    {{"< 0B " V22, "> 0C 03 00 16 00", "< 0D " V22, "> 0C 03 00 2C 00", "< 0D AA"},
     0,
     V22 V22 "AA"},
    {{"< 0B " V22, "> 0C 03 00 16 00", "< 1B 09 00 01"}, 0xFF, NULL}, /* goes on, see below */
};

static void reads(void **state)
{
    const struct read_row *row = *state;
    talk_start_ready();
    assert_int_equal(gatt_client_read(&talk.client, 3), RESULT_OK);
    talk_expect_pdu("0A 03 00");
    for (size_t i = 0; row->lines[i] != NULL; i++)
        talk_play(&row->lines[i], 1);
    if (row->value == NULL) {
        talk_expect_event(GATT_NOTIFIED, 9, 0, "01");
        TALK(">", "< 0D");
        talk_expect_event(GATT_READ_DONE, 3, 0, V22);
    } else {
        talk_expect_event(GATT_READ_DONE, 3, row->error, row->value);
    }
    talk_expect_no_event();
    talk_expect_pdu("");
}

/* Feeds one part of a long read, all octets FF. */
static void receive_part(uint8_t opcode, size_t length)
{
    uint8_t pdu[ATT_PDU_BUFFER];
    memset(pdu, 0xFF, sizeof pdu);
    pdu[0] = opcode;
    gatt_client_receive(&talk.client, talk.now_ms, pdu, 1 + length);
}

/* BlueZ: /TP/GAR/CL/BV-04-C/512B */
static void reads_512_octets(void **state)
{
    (void)state;
    struct gatt_event event;
    talk_start();
    TALK("> 02 05 02", "< 03 00 02", "> 10 01 00 FF FF 00 28", "< 01 10 01 00 0A");
    talk_expect_event(GATT_DISCOVERED, 0, 0, "");
    assert_int_equal(gatt_client_read(&talk.client, 3), RESULT_OK);
    talk_expect_pdu("0A 03 00");
    receive_part(0x0B, 511);
    TALK("> 0C 03 00 FF 01", "< 0D FF", ">");
    assert_true(gatt_client_next_event(&talk.client, &event));
    assert_int_equal(event.error, 0);
    assert_int_equal(event.length, 512);
    assert_int_equal(event.value[511], 0xFF);
}

static void value_over_512_octets_fails(void **state)
{
    (void)state;
    char blob[32];
    unsigned parts = 0;
    talk_start_ready();
    assert_int_equal(gatt_client_read(&talk.client, 3), RESULT_OK);
    talk_expect_pdu("0A 03 00");
    receive_part(0x0B, 22);
    while (gatt_client_next_pdu(&talk.client, (uint8_t *)blob) > 0) {
        assert_true(parts++ < 30);
        receive_part(0x0D, 22);
    }
    talk_expect_event(GATT_READ_DONE, 3, ATT_UNLIKELY_ERROR, "");
}

/* ---- order ---- */

static void one_request_at_a_time_in_order(void **state)
{
    (void)state;
    const uint8_t on[] = {1, 0};
    talk_start_ready();
    assert_int_equal(gatt_client_write(&talk.client, 4, on, 2), RESULT_OK);
    assert_int_equal(gatt_client_read(&talk.client, 7), RESULT_OK);
    TALK("> 12 04 00 01 00", ">", "< 1B 03 00 55"); /* notified before the write is answered */
    talk_expect_event(GATT_NOTIFIED, 3, 0, "55");
    TALK(">", "< 13");
    talk_expect_event(GATT_WRITE_DONE, 4, 0, "");
    TALK("> 0A 07 00", "< 0B 09");
    talk_expect_event(GATT_READ_DONE, 7, 0, "09");
    assert_int_equal(gatt_client_write(&talk.client, 8, on, 1), RESULT_OK);
    TALK("> 12 08 00 01", "< 01 12 08 00 80");
    talk_expect_event(GATT_WRITE_DONE, 8, 0x80, "");
}

static void first_writes_overtake_the_queue_and_a_long_read(void **state)
{
    (void)state;
    const uint8_t a = 0xA0, b = 0xB0, c = 0xC0;
    talk_start_ready();
    assert_int_equal(gatt_client_read(&talk.client, 3), RESULT_OK);
    assert_int_equal(gatt_client_write(&talk.client, 5, &c, 1), RESULT_OK);
    talk_expect_pdu("0A 03 00");
    assert_int_equal(gatt_client_write_first(&talk.client, 9, &a, 1), RESULT_OK);
    assert_int_equal(gatt_client_write_first(&talk.client, 9, &b, 1), RESULT_OK);
    TALK(">", "< 0B " V22, "> 12 09 00 A0", "< 13");
    talk_expect_event(GATT_WRITE_DONE, 9, 0, "");
    TALK("> 12 09 00 B0", "< 13");
    talk_expect_event(GATT_WRITE_DONE, 9, 0, "");
    TALK("> 0C 03 00 16 00", "< 0D 77");
    talk_expect_event(GATT_READ_DONE, 3, 0, V22 "77");
    TALK("> 12 05 00 C0", "< 13");
    talk_expect_event(GATT_WRITE_DONE, 5, 0, "");
}

static void command_does_not_wait_for_an_answer(void **state)
{
    (void)state;
    const uint8_t value = 7;
    talk_start_ready();
    assert_int_equal(gatt_client_read(&talk.client, 3), RESULT_OK);
    assert_int_equal(gatt_client_write_command(&talk.client, 5, &value, 1), RESULT_OK);
    TALK("> 0A 03 00", "> 52 05 00 07", ">", "< 0B");
    talk_expect_event(GATT_READ_DONE, 3, 0, "");
    talk_expect_no_event();
}

static void operations_wait_for_discovery(void **state)
{
    (void)state;
    const uint8_t value = 7;
    talk_start();
    assert_int_equal(gatt_client_write_first(&talk.client, 3, &value, 1), RESULT_OK);
    assert_int_equal(gatt_client_write_command(&talk.client, 5, &value, 1), RESULT_OK);
    TALK("> 02 05 02", ">", "< 03 17 00", "> 10 01 00 FF FF 00 28", ">", "< 01 10 01 00 0A",
         "> 12 03 00 07", "> 52 05 00 07", ">");
}

static void queues_have_limits(void **state)
{
    (void)state;
    const uint8_t value[21] = {0};
    talk_start_ready();
    assert_int_equal(gatt_client_write(&talk.client, 3, value, 21), RESULT_RANGE);
    assert_int_equal(gatt_client_write_first(&talk.client, 3, value, 20), RESULT_OK);
    for (unsigned i = 0; i < GATT_OPERATIONS_MAX; i++)
        assert_int_equal(gatt_client_read(&talk.client, 3), RESULT_OK);
    assert_int_equal(gatt_client_read(&talk.client, 3), RESULT_FULL);
    assert_int_equal(gatt_client_write_command(&talk.client, 3, value, 1), RESULT_FULL);
}

/* ---- what the peer starts ---- */

struct answer_row {
    const char *request, *answer;
};

/* BlueZ src/shared/att.c respond_not_supported() for 06; codes as in Wireshark's table */
static struct answer_row answer_rows[] = {
    {"02 64 00", "03 05 02"},
    {"02 64", "01 02 00 00 04"},
    {"04 01 00 FF FF", "01 04 01 00 0A"},
    {"04 00 00 FF FF", "01 04 00 00 01"},
    {"04 05 00 04 00", "01 04 05 00 01"},
    {"04 05 00 04", "01 04 00 00 04"},
    {"06 01 00 FF FF 00 28 26 18", "01 06 01 00 0A"},
    {"06 00 00 FF FF 00 28 26 18", "01 06 00 00 01"},
    {"08 01 00 FF FF 2A 2B", "01 08 01 00 0A"},
    {"08 02 00 01 00 2A 2B", "01 08 02 00 01"},
    {"08 01 00 FF FF 2A", "01 08 00 00 04"},
    {"10 01 00 FF FF 00 28", "01 10 01 00 0A"},
    {"0A 03 00", "01 0A 03 00 01"},
    {"0C 03 00 00 00", "01 0C 03 00 01"},
    {"12 03 00 01", "01 12 03 00 01"},
    {"12 03", "01 12 00 00 04"},
    {"0E 03 00 04 00", "01 0E 00 00 06"},
    {"16 03 00 00 00 01", "01 16 00 00 06"},
    {"18 01", "01 18 00 00 06"},
    {"20 03 00 04 00", "01 20 00 00 06"},
    {"3F", "01 3F 00 00 06"},
    {"52 03 00 01", ""},
    {"D2 03 00 01", ""},
    {"7F", ""},
    {"1E", ""},
    {"", ""},
    {"1B 03", ""},
    {"23 03 00 02 00 01", ""},
    {"1D", "1E"},
    {"1D 03", "1E"},
    {"13", ""}, /* a response nobody asked for */
    {"01 0A 03 00 0A", ""},
};

static void answers_peer(void **state)
{
    const struct answer_row *row = *state;
    talk_start_ready();
    assert_int_equal(gatt_client_read(&talk.client, 3), RESULT_OK);
    if (row->answer[0] != '\0')
        talk_expect_pdu("0A 03 00"); /* also while a request of ours is outstanding */
    talk_receive(row->request);
    talk_expect_pdu(row->answer[0] != '\0' ? row->answer : "0A 03 00");
    talk_expect_pdu("");
    talk_expect_no_event();
    talk_receive("0B AA");
    talk_expect_event(GATT_READ_DONE, 3, 0, "AA");
}

static void peers_mtu_request_counts(void **state)
{
    (void)state;
    talk_start_ready();
    TALK("< 02 64 00", "> 03 05 02");
    assert_int_equal(gatt_client_mtu(&talk.client), 100);
}

static void confirms_every_indication(void **state)
{
    (void)state;
    struct gatt_event event;
    talk_start_ready();
    TALK("< 1D 34 12 01 02", "> 1E", ">");
    assert_true(gatt_client_next_event(&talk.client, &event));
    assert_true(event.indicated);
    assert_int_equal(event.handle, 0x1234);
    assert_octets(event.value, event.length, "01 02");
}

/* The first is a record of a bike as bluetoothd sends it to whoever it has paired. */
static void takes_several_values_at_once(void **state)
{
    (void)state;
    talk_start_ready();
    TALK("< 23 63 00 0B 00 54 00 B8 0B A0 00 D4 03 00 3C 00", ">");
    talk_expect_event(GATT_NOTIFIED, 0x63, 0, "54 00 B8 0B A0 00 D4 03 00 3C 00");
    TALK("< 23 58 00 03 00 08 50 00 60 00 02 00 00 0D 63 00 00 00", ">");
    talk_expect_event(GATT_NOTIFIED, 0x58, 0, "08 50 00");
    talk_expect_event(GATT_NOTIFIED, 0x60, 0, "00 0D");
    talk_expect_event(GATT_NOTIFIED, 0x63, 0, "");
    talk_expect_no_event();
    assert_int_equal(talk.client.stray_pdus, 0);
}

static void what_is_cut_of_several_values_is_left_out(void **state)
{
    (void)state;
    talk_start_ready();
    TALK("< 23", "< 23 60", "< 23 60 00 02", "< 23 60 00 02 00 0D");
    talk_expect_no_event();
    TALK("< 23 60 00 01 00 0D 63 00 02 00 01");
    talk_expect_event(GATT_NOTIFIED, 0x60, 0, "0D");
    talk_expect_no_event();
    assert_int_equal(talk.client.stray_pdus, 5);
}

static void long_pdu_is_counted_and_read(void **state)
{
    (void)state;
    talk_start_ready();
    TALK("< 1B 03 00 " V22);
    talk_expect_event(GATT_NOTIFIED, 3, 0, V22);
    assert_int_equal(talk.client.long_pdus, 1);
    receive_part(0x1B, ATT_PDU_BUFFER - 1);
    talk_expect_no_event();
    assert_int_equal(talk.client.long_pdus, 2);
    assert_int_equal(talk.client.stray_pdus, 1);
}

/* ---- time ---- */

static void dies_after_thirty_seconds(void **state)
{
    (void)state;
    talk_start_ready();
    assert_int_equal(gatt_client_read(&talk.client, 3), RESULT_OK);
    assert_int_equal(gatt_client_read(&talk.client, 4), RESULT_OK);
    talk.now_ms += 60000; /* an idle link never dies */
    gatt_client_tick(&talk.client, talk.now_ms);
    TALK("> 0A 03 00");
    gatt_client_tick(&talk.client, talk.now_ms);
    gatt_client_tick(&talk.client, talk.now_ms + 29999);
    talk.now_ms += 29999;
    TALK("< 1B 03 00 01"); /* is no answer */
    talk_expect_event(GATT_NOTIFIED, 3, 0, "01");
    talk_expect_no_event();
    gatt_client_tick(&talk.client, ++talk.now_ms);
    talk_expect_event(GATT_DEAD, 0, 0, "");
    TALK("< 0B 01", "< 1D 03 00 01", ">");
    talk_expect_no_event();
    assert_int_equal(gatt_client_write_first(&talk.client, 3, NULL, 0), RESULT_CLOSED);
}

static void answer_after_the_time_is_no_answer(void **state)
{
    (void)state;
    talk_start();
    talk_expect_pdu("02 05 02");
    gatt_client_tick(&talk.client, talk.now_ms);
    talk.now_ms += 30000;
    TALK("< 03 00 02", ">");
    talk_expect_event(GATT_DEAD, 0, 0, "");
}

/* ---- a careless caller ---- */

static void undrained_queues_do_not_overflow(void **state)
{
    (void)state;
    talk_start_ready();
    assert_int_equal(gatt_client_read(&talk.client, 3), RESULT_OK);
    talk_expect_pdu("0A 03 00");
    gatt_client_tick(&talk.client, talk.now_ms);
    for (unsigned i = 0; i < 100; i++)
        TALK("< 1D 03 00 01");
    assert_int_equal(talk.client.dropped_pdus, 100 - (GATT_EVENTS_MAX - 1));
    gatt_client_tick(&talk.client, talk.now_ms + 30000);
    for (unsigned i = 0; i < GATT_EVENTS_MAX - 1; i++)
        talk_expect_event(GATT_NOTIFIED, 3, 0, "01");
    talk_expect_event(GATT_DEAD, 0, 0, "");
    talk_expect_no_event();
}

static void several_values_at_once_do_not_overflow(void **state)
{
    (void)state;
    uint8_t pdu[1 + 4 * GATT_EVENTS_MAX] = {0x23}; /* as many of handle 0, without an octet */
    talk_start_ready();
    gatt_client_receive(&talk.client, talk.now_ms, pdu, sizeof pdu);
    assert_int_equal(talk.client.stray_pdus, 1);
    for (unsigned i = 0; i < GATT_EVENTS_MAX - 1; i++)
        talk_expect_event(GATT_NOTIFIED, 0, 0, "");
    talk_expect_no_event();
}

static void zeroed_client_is_safe(void **state)
{
    (void)state;
    memset(&talk.client, 0, sizeof talk.client);
    TALK(">", "< 1D 03 00 01", "> 1E", "< 13", ">");
    gatt_client_tick(&talk.client, 1u << 30);
    talk_expect_event(GATT_NOTIFIED, 3, 0, "01");
    assert_int_equal(gatt_client_mtu(&talk.client), 23);
    assert_null(gatt_client_find(&talk.client, 0x1826, 0x2AD2));
}

int main(void)
{
    static struct CMUnitTest tests[120];
    size_t count = 0;
    ROWS(reads, read_rows)
    ONE(reads_512_octets)
    ONE(value_over_512_octets_fails)
    ONE(one_request_at_a_time_in_order)
    ONE(first_writes_overtake_the_queue_and_a_long_read)
    ONE(command_does_not_wait_for_an_answer)
    ONE(operations_wait_for_discovery)
    ONE(queues_have_limits)
    ROWS(answers_peer, answer_rows)
    ONE(peers_mtu_request_counts)
    ONE(confirms_every_indication)
    ONE(takes_several_values_at_once)
    ONE(what_is_cut_of_several_values_is_left_out)
    ONE(long_pdu_is_counted_and_read)
    ONE(dies_after_thirty_seconds)
    ONE(answer_after_the_time_is_no_answer)
    ONE(undrained_queues_do_not_overflow)
    ONE(several_values_at_once_do_not_overflow)
    ONE(zeroed_client_is_safe)
    return _cmocka_run_group_tests("gatt_client", tests, count, NULL, NULL);
}
