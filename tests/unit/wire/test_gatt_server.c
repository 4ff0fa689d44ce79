/*
 * The GATT server: a request and its answer, a row each. Rows marked BlueZ are those of its
 * unit/test-gatt.c; the first services of the table are its service_db_1.
 */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <string.h>

#include <cmocka.h>

#include "support/octets.h"
#include "wire/gatt_server.h"

static const uint8_t service_1801[] = {0x01, 0x18}, service_180d[] = {0x0D, 0x18};
static const uint8_t name_declaration[] = {0x02, 0x03, 0x00, 0x00, 0x2A};
static const uint8_t maker_declaration[] = {0x0A, 0x07, 0x00, 0x29, 0x2A};
static const uint8_t service_full[] = {0xEF, 0xCD, 0xAB, 0x89, 0x67, 0x45, 0x23, 0x01,
                                       0x00, 0x00, 0x00, 0x00, 0x0C, 0xA0, 0x00, 0x00};
static const uint8_t control_declaration[] = {0x3C, 0x12, 0x00, 0xD9, 0x2A};
static const uint8_t look_declaration[] = {0x02, 0x16, 0x00, 0x01, 0x2A};
static const uint8_t bluez[] = {'B', 'l', 'u', 'e', 'Z'};
static uint8_t long_value[40];

#define TYPE(number)         \
    {                        \
        .assigned = (number) \
    }
#define FULL_TYPE                                                                          \
    {                                                                                      \
        .is_full = true, .full = { 1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 11, 12, 13, 14, 15, 16 } \
    }

static const struct gatt_attribute table[] = {
    {1, 4, TYPE(0x2800), 0, sizeof service_1801, service_1801},
    {2, 0, TYPE(0x2803), 0, sizeof name_declaration, name_declaration},
    {3, 0, TYPE(0x2A00), GATT_ACCESS_READ, sizeof bluez, bluez},
    {4, 0, TYPE(0x2901), GATT_ACCESS_READ, 0, NULL},
    {5, 8, TYPE(0x2800), 0, sizeof service_180d, service_180d},
    {6, 0, TYPE(0x2803), 0, sizeof maker_declaration, maker_declaration},
    {7, 0, TYPE(0x2A29), GATT_ACCESS_READ | GATT_ACCESS_WRITE, sizeof long_value, long_value},
    {8, 0, TYPE(0x2901), GATT_ACCESS_READ, 0, NULL},
    {0x10, 0x20, TYPE(0x2800), 0, sizeof service_full, service_full},
    {0x11, 0, TYPE(0x2803), 0, sizeof control_declaration, control_declaration},
    {0x12, 0, TYPE(0x2AD9), GATT_ACCESS_WRITE | GATT_ACCESS_WRITE_COMMAND, 0, NULL},
    {0x13, 0, TYPE(0x2902), 0, 0, NULL},
    {0x14, 0, FULL_TYPE, 0, 0, NULL},
    {0x15, 0, TYPE(0x2803), 0, sizeof look_declaration, look_declaration},
    {0x16, 0, TYPE(0x2A01), GATT_ACCESS_READ, 0, NULL},
};

static struct gatt_server server;

static void receive(const char *text)
{
    uint8_t pdu[ATT_PDU_BUFFER];
    size_t length = octets_from_text(text, pdu, sizeof pdu);
    gatt_server_receive(&server, pdu, length);
}

static void expect_pdu(const char *text)
{
    uint8_t pdu[ATT_MTU_MAX];
    size_t length = gatt_server_next_pdu(&server, pdu);
    assert_octets(pdu, length, text);
}

static void exchange(const char *request, const char *answer)
{
    receive(request);
    expect_pdu(answer);
    expect_pdu("");
}

static void expect_event(enum gatt_server_event_kind kind, uint16_t handle, bool is_command,
                         const char *value)
{
    struct gatt_server_event event;
    assert_true(gatt_server_next_event(&server, &event));
    assert_int_equal(event.kind, kind);
    assert_int_equal(event.handle, handle);
    assert_int_equal(event.is_command, is_command);
    assert_octets(event.value, event.length, value);
}

static void expect_no_event(void)
{
    struct gatt_server_event event;
    assert_false(gatt_server_next_event(&server, &event));
}

static void start(void)
{
    for (size_t i = 0; i < sizeof long_value; i++)
        long_value[i] = (uint8_t)i;
    assert_int_equal(gatt_server_init(&server, table, sizeof table / sizeof table[0], 512),
                     RESULT_OK);
}

struct row {
    const char *request, *answer;
};

#define V22 "00 01 02 03 04 05 06 07 08 09 0A 0B 0C 0D 0E 0F 10 11 12 13 14 15"

static struct row rows[] = {
    /* services; BlueZ: SERVICE_DATA_1, and /TP/GAD/SR/BV-01-C for two in one answer */
    {"10 01 00 FF FF 00 28", "11 06 01 00 04 00 01 18 05 00 08 00 0D 18"},
    {"10 05 00 FF FF 00 28", "11 06 05 00 08 00 0D 18"},
    {"10 09 00 FF FF 00 28", "11 14 10 00 20 00 EF CD AB 89 67 45 23 01 00 00 00 00 0C A0 00 00"},
    {"10 11 00 FF FF 00 28", "01 10 11 00 0A"},
    {"10 01 00 FF FF 01 28", "01 10 01 00 0A"},
    {"10 01 00 FF FF 03 28", "01 10 01 00 10"},
    {"10 00 00 FF FF 00 28", "01 10 00 00 01"},
    {"10 06 00 05 00 00 28", "01 10 06 00 01"},
    {"10 01 00 FF FF 00", "01 10 00 00 04"},
    {"10 01 00 FF FF 00 28 00", "01 10 00 00 04"},
    {"10", "01 10 00 00 04"},
    {"10 01 00 FF FF FB 34 9B 5F 80 00 00 80 00 10 00 00 00 28 00 00",
     "11 06 01 00 04 00 01 18 05 00 08 00 0D 18"}, /* the type spelled out */
    /* one service by UUID; BlueZ: /TP/GAD/SR/BV-02-C for the form */
    {"06 01 00 FF FF 00 28 0D 18", "07 05 00 08 00"},
    {"06 09 00 FF FF 00 28 0D 18", "01 06 09 00 0A"},
    {"06 01 00 FF FF 00 28 EF CD AB 89 67 45 23 01 00 00 00 00 0C A0 00 00", "07 10 00 20 00"},
    {"06 01 00 FF FF 00 28 0D", "01 06 01 00 0A"},
    {"06 01 00 FF FF 00", "01 06 00 00 04"},
    {"06 00 00 FF FF 00 28 0D 18", "01 06 00 00 01"},
    /* characteristics; BlueZ: SERVICE_DATA_1 */
    {"08 01 00 04 00 03 28", "09 07 02 00 02 03 00 00 2A"},
    {"08 03 00 08 00 03 28", "09 07 06 00 0A 07 00 29 2A"},
    {"08 03 00 04 00 03 28", "01 08 03 00 0A"},
    {"08 01 00 FF FF 03 28", /* a fourth would not fit */
     "09 07 02 00 02 03 00 00 2A 06 00 0A 07 00 29 2A 11 00 3C 12 00 D9 2A"},
    {"08 01 00 FF FF 3A 2B", "01 08 01 00 0A"},
    {"08 01 00 FF FF 00 2A", "09 07 03 00 42 6C 75 65 5A"},
    {"08 01 00 FF FF 29 2A",
     "09 15 07 00 00 01 02 03 04 05 06 07 08 09 0A 0B 0C 0D 0E 0F 10 11 12"},
    {"08 01 00 FF FF D9 2A", "01 08 12 00 02"},
    {"08 00 00 FF FF 03 28", "01 08 00 00 01"},
    {"08 01 00 FF FF 03", "01 08 00 00 04"},
    /* descriptors; BlueZ: SERVICE_DATA_1 */
    {"04 04 00 04 00", "05 01 04 00 01 29"},
    {"04 08 00 08 00", "05 01 08 00 01 29"},
    {"04 12 00 FF FF", "05 01 12 00 D9 2A 13 00 02 29"},
    {"04 14 00 FF FF", "05 02 14 00 01 02 03 04 05 06 07 08 09 0A 0B 0C 0D 0E 0F 10"},
    {"04 01 00 FF FF", "05 01 01 00 00 28 02 00 03 28 03 00 00 2A 04 00 01 29 05 00 00 28"},
    {"04 17 00 FF FF", "01 04 17 00 0A"},
    {"04 00 00 FF FF", "01 04 00 00 01"},
    {"04 04 00 03 00", "01 04 04 00 01"},
    {"04 04 00 04", "01 04 00 00 04"},
    {"04 04 00 04 00 00", "01 04 00 00 04"},
    /* values; BlueZ: /TP/GAR/SR/BV-06-C, BI-23-C, BI-24-C, BV-07-C, BI-29-C, BI-30-C for the form
     */
    {"0A 03 00", "0B 42 6C 75 65 5A"},
    {"0A 04 00", "0B"},
    {"0A 07 00", "0B " V22},
    {"0A 01 00", "0B 01 18"},
    {"0A 13 00", "0B 00 00"},
    {"0A 12 00", "01 0A 12 00 02"},
    {"0A F0 0F", "01 0A F0 0F 01"},
    {"0A 00 00", "01 0A 00 00 01"},
    {"0A 03", "01 0A 00 00 04"},
    {"0A 03 00 00", "01 0A 00 00 04"},
    {"0C 07 00 00 00", "0D " V22},
    {"0C 07 00 16 00", "0D 16 17 18 19 1A 1B 1C 1D 1E 1F 20 21 22 23 24 25 26 27"},
    {"0C 07 00 28 00", "0D"},
    {"0C 07 00 29 00", "01 0C 07 00 07"},
    {"0C 03 00 F0 00", "01 0C 03 00 07"},
    {"0C 12 00 00 00", "01 0C 12 00 02"},
    {"0C F0 0F 00 00", "01 0C F0 0F 01"},
    {"0C 07 00 16", "01 0C 00 00 04"},
    /* writes that are answered at once */
    {"12 03 00 01", "01 12 03 00 03"},
    {"12 F0 0F 01", "01 12 F0 0F 01"},
    {"12 07", "01 12 00 00 04"},
    {"12 13 00 01", "01 12 13 00 0D"},
    {"12 13 00 01 00 00", "01 12 13 00 0D"},
    {"12 13 00 04 00", "01 12 13 00 13"},
    /* the rest */
    {"02 17 00", "03 00 02"}, /* BlueZ: SERVER_MTU_EXCHANGE */
    {"02 17", "01 02 00 00 04"},
    {"0E 03 00 04 00", "01 0E 00 00 06"},
    {"16 07 00 00 00 01", "01 16 00 00 06"},
    {"18 01", "01 18 00 00 06"},
    {"20 03 00 04 00", "01 20 00 00 06"},
    {"3E", "01 3E 00 00 06"},
    {"", ""},
    {"13", ""},
    {"01 0A 03 00 0A", ""},
    {"1B 03 00 01", ""},
    {"1D 03 00 01", ""},
    {"1E", ""},
    {"52 03 00 01", ""}, /* not permitted, and never answered */
    {"52 F0 0F 01", ""},
    {"52 03", ""},
    {"52 13 00 04 00", ""},
    {"D2 12 00 01", ""},
    {"7E 12 00 01", ""},
};

static void answers(void **state)
{
    const struct row *row = *state;
    start();
    exchange(row->request, row->answer);
    expect_no_event();
    exchange("0A 03 00", "0B 42 6C 75 65 5A"); /* and is ready for the next */
}

static void agrees_on_mtu(void **state)
{
    (void)state;
    start();
    assert_int_equal(gatt_server_mtu(&server), 23);
    exchange("02 1A 00", "03 00 02");
    assert_int_equal(gatt_server_mtu(&server), 26);
    exchange("0A 07 00", "0B " V22 " 16 17 18");
    exchange("02 05 00", "03 00 02");
    assert_int_equal(gatt_server_mtu(&server), 23);
    exchange("02 FF FF", "03 00 02");
    assert_int_equal(gatt_server_mtu(&server), 512);
}

/* Room for half an entry more: entries are whole or not there. */
static void does_not_cut_entries(void **state)
{
    (void)state;
    start();
    exchange("02 18 00", "03 00 02");
    exchange("04 01 00 FF FF", "05 01 01 00 00 28 02 00 03 28 03 00 00 2A 04 00 01 29 05 00 00 28");
    exchange("08 01 00 FF FF 03 28",
             "09 07 02 00 02 03 00 00 2A 06 00 0A 07 00 29 2A 11 00 3C 12 00 D9 2A");
}

/* BlueZ: /TP/GAD/SR/BV-02-C/exists-16/large-1, and a sixth service that has to wait */
static void lists_as_many_services_as_fit(void **state)
{
    (void)state;
    static const uint8_t value[] = {0x0B, 0xA0};
    static const struct gatt_attribute many[] = {
        {0x30, 0x32, TYPE(0x2800), 0, 2, value}, {0x50, 0x52, TYPE(0x2800), 0, 2, value},
        {0x60, 0x6B, TYPE(0x2800), 0, 2, value}, {0x70, 0x76, TYPE(0x2800), 0, 2, value},
        {0x80, 0x86, TYPE(0x2800), 0, 2, value}, {0x90, 0x96, TYPE(0x2800), 0, 2, value},
    };
    assert_int_equal(gatt_server_init(&server, many, 6, 23), RESULT_OK);
    exchange("06 01 00 FF FF 00 28 0B A0",
             "07 30 00 32 00 50 00 52 00 60 00 6B 00 70 00 76 00 80 00 86 00");
    exchange("06 87 00 FF FF 00 28 0B A0", "07 90 00 96 00");
}

static void write_request_waits_for_the_user(void **state)
{
    (void)state;
    start();
    exchange("12 12 00 05 FA 00", "");
    expect_event(GATT_SERVER_WRITTEN, 0x12, false, "05 FA 00");
    exchange("0A 03 00", ""); /* too early: the peer's fault */
    assert_int_equal(server.early_requests, 1);
    receive("52 12 00 07"); /* commands need no turn */
    expect_event(GATT_SERVER_WRITTEN, 0x12, true, "07");
    gatt_server_answer_write(&server, ATT_OK);
    exchange("0A 03 00", "13"); /* answered, but the answer is not sent yet */
    assert_int_equal(server.early_requests, 2);
    exchange("12 12 00 08 01", "");
    expect_event(GATT_SERVER_WRITTEN, 0x12, false, "08 01");
    gatt_server_answer_write(&server, ATT_APPLICATION_ERROR);
    expect_pdu("01 12 12 00 80");
    gatt_server_answer_write(&server, ATT_OK); /* nothing waits */
    expect_pdu("");
}

static void subscription_is_kept_reported_and_readable(void **state)
{
    (void)state;
    const uint8_t value[] = {1, 2, 3};
    start();
    assert_int_equal(gatt_server_notify(&server, 0x12, value, 3), RESULT_REFUSED);
    exchange("12 13 00 01 00", "13");
    expect_event(GATT_SERVER_SUBSCRIBED, 0x12, false, "01 00");
    exchange("0A 13 00", "0B 01 00");
    exchange("08 01 00 FF FF 02 29", "09 04 13 00 01 00");
    assert_true(gatt_server_is_subscribed(&server, 0x12));
    assert_false(gatt_server_is_subscribed(&server, 0x03));
    assert_int_equal(gatt_server_notify(&server, 0x12, value, 3), RESULT_OK);
    expect_pdu("1B 12 00 01 02 03"); /* BlueZ: /TP/GAN/SR/BV-01-C for the form */
    assert_int_equal(gatt_server_indicate(&server, 0x12, value, 3), RESULT_REFUSED);
    assert_int_equal(gatt_server_notify(&server, 0x03, value, 3), RESULT_REFUSED);
    exchange("52 13 00 00 00", "");
    expect_event(GATT_SERVER_SUBSCRIBED, 0x12, true, "00 00");
    assert_int_equal(gatt_server_notify(&server, 0x12, value, 3), RESULT_REFUSED);
}

/* BlueZ: /TP/GAI/SR/BV-01-C for the form */
static void indicates_one_at_a_time(void **state)
{
    (void)state;
    const uint8_t value[] = {1, 2, 3};
    start();
    exchange("12 13 00 02 00", "13");
    expect_event(GATT_SERVER_SUBSCRIBED, 0x12, false, "02 00");
    assert_int_equal(gatt_server_notify(&server, 0x12, value, 3), RESULT_REFUSED);
    assert_int_equal(gatt_server_indicate(&server, 0x12, value, 3), RESULT_OK);
    receive("1E"); /* before it was sent: means nothing */
    expect_no_event();
    expect_pdu("1D 12 00 01 02 03");
    assert_int_equal(gatt_server_indicate(&server, 0x12, value, 3), RESULT_BUSY);
    exchange("0A 03 00", "0B 42 6C 75 65 5A"); /* requests are another queue */
    exchange("1E", "");
    expect_event(GATT_SERVER_CONFIRMED, 0x12, false, "");
    assert_int_equal(gatt_server_indicate(&server, 0x12, value, 3), RESULT_OK);
}

static void notification_is_cut_to_the_mtu(void **state)
{
    (void)state;
    start();
    exchange("12 13 00 01 00", "13");
    assert_int_equal(gatt_server_notify(&server, 0x12, long_value, sizeof long_value), RESULT_OK);
    expect_pdu("1B 12 00 00 01 02 03 04 05 06 07 08 09 0A 0B 0C 0D 0E 0F 10 11 12 13");
}

static void undrained_queues_do_not_overflow(void **state)
{
    (void)state;
    const uint8_t value = 1;
    unsigned sent = 0;
    start();
    exchange("12 13 00 01 00", "13");
    expect_event(GATT_SERVER_SUBSCRIBED, 0x12, false, "01 00");
    while (gatt_server_notify(&server, 0x12, &value, 1) == RESULT_OK)
        assert_true(sent++ < GATT_SERVER_PDUS_MAX);
    assert_int_equal(gatt_server_notify(&server, 0x12, &value, 1), RESULT_FULL);
    receive("0A 03 00"); /* the answer still finds its place */
    for (unsigned i = 0; i < sent; i++)
        expect_pdu("1B 12 00 01");
    expect_pdu("0B 42 6C 75 65 5A");
    for (unsigned i = 0; i < 10; i++)
        receive("52 12 00 07");
    assert_int_equal(server.dropped_pdus, 10 - GATT_SERVER_EVENTS_MAX);
}

static void values_over_512_octets_are_refused(void **state)
{
    (void)state;
    uint8_t pdu[3 + 513] = {0x12, 0x12, 0x00};
    start();
    gatt_server_receive(&server, pdu, sizeof pdu);
    expect_pdu("01 12 12 00 0D");
    assert_int_equal(server.long_pdus, 1);
    pdu[0] = 0x52;
    gatt_server_receive(&server, pdu, sizeof pdu);
    expect_no_event();
}

static void refuses_tables_that_are_wrong(void **state)
{
    (void)state;
    static uint8_t much[513];
    static const struct gatt_attribute wrong[][2] = {
        {{1, 4, TYPE(0x2800), 0, 2, service_1801}, {1, 0, TYPE(0x2A00), 0, 0, NULL}},
        {{2, 4, TYPE(0x2800), 0, 2, service_1801}, {1, 0, TYPE(0x2A00), 0, 0, NULL}},
        {{0, 4, TYPE(0x2800), 0, 2, service_1801}, {1, 0, TYPE(0x2A00), 0, 0, NULL}},
        {{2, 1, TYPE(0x2800), 0, 2, service_1801}, {3, 0, TYPE(0x2A00), 0, 0, NULL}},
        {{1, 4, TYPE(0x2800), 0, 2, service_1801}, {2, 0, TYPE(0x2902), 0, 0, NULL}},
        {{1, 4, TYPE(0x2800), 0, 2, service_1801}, {2, 0, TYPE(0x2A00), 0, 1, NULL}},
        {{1, 4, TYPE(0x2800), 0, 2, service_1801}, {2, 0, TYPE(0x2A00), 0, 513, much}},
    };
    for (size_t i = 0; i < sizeof wrong / sizeof wrong[0]; i++)
        assert_int_equal(gatt_server_init(&server, wrong[i], 2, 23), RESULT_INVALID);
    assert_int_equal(gatt_server_init(&server, table, GATT_ATTRIBUTES_MAX + 1, 23), RESULT_FULL);
}

static void zeroed_server_is_safe(void **state)
{
    (void)state;
    memset(&server, 0, sizeof server);
    exchange("02 00 02", "03 17 00");
    exchange("10 01 00 FF FF 00 28", "01 10 01 00 0A");
    exchange("12 03 00 01", "01 12 03 00 01");
    assert_int_equal(gatt_server_notify(&server, 3, NULL, 0), RESULT_REFUSED);
    assert_int_equal(gatt_server_mtu(&server), 23);
}

#define ONE(function) tests[count++] = (struct CMUnitTest)cmocka_unit_test(function)

int main(void)
{
    static struct CMUnitTest tests[120];
    size_t count = 0;
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++)
        tests[count++] = (struct CMUnitTest){rows[i].request, answers, NULL, NULL, &rows[i]};
    ONE(agrees_on_mtu);
    ONE(does_not_cut_entries);
    ONE(lists_as_many_services_as_fit);
    ONE(write_request_waits_for_the_user);
    ONE(subscription_is_kept_reported_and_readable);
    ONE(indicates_one_at_a_time);
    ONE(notification_is_cut_to_the_mtu);
    ONE(undrained_queues_do_not_overflow);
    ONE(values_over_512_octets_are_refused);
    ONE(refuses_tables_that_are_wrong);
    ONE(zeroed_server_is_safe);
    return _cmocka_run_group_tests("gatt_server", tests, count, NULL, NULL);
}
