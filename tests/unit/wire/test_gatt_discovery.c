/*
 * How a GATT client opens a link: MTU exchange and discovery, also with peers that lie. PDUs marked
 * BlueZ are those of its unit/test-gatt.c; the order of discovery is our own.
 */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include "support/client_talk.h"

/* ---- discovery ---- */

/* BlueZ: MTU_EXCHANGE_CLIENT_PDUS and SERVICE_DATA_1_PDUS */
static void discovers_two_services(void **state)
{
    (void)state;
    talk_start();
    TALK("> 02 05 02", "< 03 00 02", "> 10 01 00 FF FF 00 28", "< 11 06 01 00 04 00 01 18",
         "> 10 05 00 FF FF 00 28", "< 11 06 05 00 08 00 0D 18", "> 10 09 00 FF FF 00 28",
         "< 01 10 09 00 0A", "> 08 01 00 04 00 03 28", "< 09 07 02 00 02 03 00 00 2A",
         "> 08 03 00 04 00 03 28", "< 01 08 03 00 0A", "> 08 05 00 08 00 03 28",
         "< 09 07 06 00 0A 07 00 29 2A", "> 08 07 00 08 00 03 28", "< 01 08 07 00 0A",
         "> 04 04 00 04 00", "< 05 01 04 00 01 29", "> 04 08 00 08 00");
    talk_expect_no_event();
    TALK("< 05 01 08 00 01 29", ">");
    talk_expect_event(GATT_DISCOVERED, 0, 0, "");
    assert_int_equal(gatt_client_mtu(&talk.client), 512);
    assert_int_equal(talk.client.known.service_count, 2);
    assert_int_equal(talk.client.known.characteristic_count, 2);
    const struct gatt_characteristic *found = gatt_client_find(&talk.client, 0x180D, 0x2A29);
    assert_non_null(found);
    assert_int_equal(found->declaration_handle, 6);
    assert_int_equal(found->value_handle, 7);
    assert_int_equal(found->properties, GATT_READ | GATT_WRITE);
    assert_int_equal(found->client_config_handle, 0);
    assert_null(gatt_client_find(&talk.client, 0x1801, 0x2A29));
}

/* BlueZ: PRIMARY_, CHARACTERISTIC_ and DESCRIPTOR_DISC_SMALL_DB, the part at the end of the handles
 */
static void discovers_full_uuids_and_the_last_handle(void **state)
{
    (void)state;
    talk_start();
    TALK("> 02 05 02", "< 03 00 02", "> 10 01 00 FF FF 00 28",
         "< 11 06 10 F0 18 F0 00 18 FF FF FF FF 0A 18", "> 08 10 F0 18 F0 03 28",
         "< 09 07 12 F0 02 13 F0 00 2A", "> 08 13 F0 18 F0 03 28",
         "< 09 15 14 F0 82 15 F0 EF CD AB 89 67 45 23 01 00 00 00 00 09 B0 00 00",
         "> 08 15 F0 18 F0 03 28", "< 09 07 17 F0 02 18 F0 01 2A", "> 08 18 F0 18 F0 03 28",
         "< 01 08 18 F0 0A", "> 08 FF FF FF FF 03 28", "< 01 08 FF FF 0A", "> 04 16 F0 16 F0",
         "< 05 01 16 F0 00 29", ">");
    talk_expect_event(GATT_DISCOVERED, 0, 0, "");
    assert_int_equal(talk.client.known.services[1].last_handle, 0xFFFF);
    assert_int_equal(talk.client.known.characteristic_count, 3);
    assert_true(talk.client.known.characteristics[1].uuid.is_full);
    assert_octets(talk.client.known.characteristics[1].uuid.full, 16,
                  "EF CD AB 89 67 45 23 01 00 00 00 00 09 B0 00 00");
}

/* Bluetooth Base UUID: Core, Vol 3 Part B 2.5.1 */
static void finds_assigned_uuids_spelled_out(void **state)
{
    (void)state;
    talk_start();
    TALK("> 02 05 02", "< 03 17 00", "> 10 01 00 FF FF 00 28",
         "< 11 14 01 00 03 00 FB 34 9B 5F 80 00 00 80 00 10 00 00 26 18 00 00",
         "> 10 04 00 FF FF 00 28", "< 01 10 04 00 0A", "> 08 01 00 03 00 03 28",
         "< 09 15 02 00 10 03 00 FB 34 9B 5F 80 00 00 80 00 10 00 00 D2 2A 00 00",
         "> 08 03 00 03 00 03 28", "< 01 08 03 00 0A", ">");
    talk_expect_event(GATT_DISCOVERED, 0, 0, "");
    assert_non_null(gatt_client_find(&talk.client, 0x1826, 0x2AD2));
}

/* One service 1..9 with the characteristics 2 (value 3) and 7 (value 8). */
static void start_at_descriptors(void)
{
    talk_start();
    TALK("> 02 05 02", "< 03 00 02", "> 10 01 00 FF FF 00 28", "< 11 06 01 00 09 00 26 18",
         "> 10 0A 00 FF FF 00 28", "< 01 10 0A 00 0A", "> 08 01 00 09 00 03 28",
         "< 09 07 02 00 10 03 00 D2 2A 07 00 20 08 00 D9 2A", "> 08 08 00 09 00 03 28",
         "< 01 08 08 00 0A", "> 04 04 00 06 00");
}

static void finds_client_config_among_descriptors(void **state)
{
    (void)state;
    start_at_descriptors();
    TALK("< 05 01 04 00 01 29", "> 04 05 00 06 00", "< 05 01 05 00 02 29", "> 04 09 00 09 00",
         "< 01 04 09 00 0A", ">");
    talk_expect_event(GATT_DISCOVERED, 0, 0, "");
    assert_int_equal(gatt_client_find(&talk.client, 0x1826, 0x2AD2)->client_config_handle, 5);
    assert_int_equal(gatt_client_find(&talk.client, 0x1826, 0x2AD9)->client_config_handle, 0);
}

/* BlueZ issue 2383: a lone descriptor need not be the client config. */
static void does_not_guess_client_config(void **state)
{
    (void)state;
    start_at_descriptors();
    TALK("< 05 02 04 00 EF CD AB 89 67 45 23 01 00 00 00 00 09 B0 02 29", "> 04 05 00 06 00",
         "< 01 04 05 00 01", "> 04 09 00 09 00", "< 05 01 09 00 01 29", ">");
    talk_expect_event(GATT_DISCOVERED, 0, 0, "");
    assert_int_equal(talk.client.known.characteristics[0].client_config_handle, 0);
    assert_int_equal(talk.client.known.characteristics[1].client_config_handle, 0);
    assert_true(talk.client.known.is_cut); /* nobody knows what 5 and 6 are */
}

static void error_for_one_service_costs_that_service(void **state)
{
    (void)state;
    talk_start();
    TALK("> 02 05 02", "< 03 00 02", "> 10 01 00 FF FF 00 28",
         "< 11 06 01 00 04 00 01 18 05 00 FF FF 0D 18", "> 08 01 00 04 00 03 28",
         "< 01 08 01 00 0F", "> 08 05 00 FF FF 03 28", "< 09 07 06 00 10 07 00 37 2A",
         "> 08 07 00 FF FF 03 28", "< 01 08 07 00 0A", "> 04 08 00 FF FF", "< 05 01 08 00 02 29",
         ">");
    talk_expect_event(GATT_DISCOVERED, 0, 0, "");
    assert_int_equal(gatt_client_find(&talk.client, 0x180D, 0x2A37)->client_config_handle, 8);
    assert_true(talk.client.known.is_cut);
}

struct mtu_row {
    const char *response;
    uint16_t mtu;
};

/* "min of both, never below 23": BlueZ src/shared/gatt-helpers.c */
static struct mtu_row mtu_rows[] = {
    {"03 00 02", 512}, {"03 64 00", 100},      {"03 FF FF", 517}, {"03 05 02", 517},
    {"03 16 00", 23},  {"03 00 00", 23},       {"03 00", 23},     {"03 00 02 00", 23},
    {"03", 23},        {"01 02 00 00 06", 23}, {"0B 00 02", 23},  {"01", 23},
};

static void agrees_on_mtu(void **state)
{
    const struct mtu_row *row = *state;
    talk_start();
    assert_int_equal(gatt_client_mtu(&talk.client), 23);
    TALK("> 02 05 02", ">");
    talk_receive(row->response);
    assert_int_equal(gatt_client_mtu(&talk.client), row->mtu);
    talk_expect_no_event();
    TALK("> 10 01 00 FF FF 00 28", ">");
}

/* ---- discovery against peers that lie ---- */

struct hostile_row {
    uint8_t error;
    const char *response;
};

static struct hostile_row hostile_services[] = {
    {0x0E, "11 06 00 00 04 00 01 18"},                   /* handle 0 */
    {0x0E, "11 06 05 00 04 00 01 18"},                   /* ends before it starts */
    {0x0E, "11 06 01 00 04 00 01 18 04 00 08 00 0D 18"}, /* overlap */
    {0x0E, "11 06 05 00 08 00 01 18 01 00 04 00 0D 18"}, /* backwards */
    {0x0E, "11 06 05 00 FF FF 01 18 00 00 04 00 0D 18"}, /* round the end */
    {0x0E, "11 06 01 00 04 00 01"},                      /* cut entry */
    {0x0E, "11 05 01 00 04 00 01"},                      /* no such size */
    {0x0E, "11 00"},
    {0x0E, "11 06"}, /* no entry */
    {0x0E, "11"},
    {0x0E, "09 07 02 00 02 03 00 00 2A"}, /* answer to something else */
    {0x0F, "01 10 01 00 0F"},             /* the reason is passed up */
    {0x06, "01 10 01 00 06"},
    {0x0E, "01 10 01 00"},
    {0x0E, "01 08 01 00 0A"}, /* error for another request */
};

static struct hostile_row hostile_characteristics[] = {
    {0x0E, "09 07 00 00 02 03 00 00 2A"},                      /* handle 0 */
    {0x0E, "09 07 02 00 02 02 00 00 2A"},                      /* value on the declaration */
    {0x0E, "09 07 02 00 02 0A 00 00 2A"},                      /* value outside the service */
    {0x0E, "09 07 04 00 02 05 00 00 2A 03 00 02 04 00 01 2A"}, /* backwards */
    {0x0E, "09 07 0A 00 02 0B 00 00 2A"},                      /* declaration outside */
    {0x0E, "09 06 02 00 02 03 00 00"},
    {0x0E, "09 07 02 00 02 03 00 00"},
    {0x0E, "05 01 04 00 01 29"},
};

static struct hostile_row hostile_descriptors[] = {
    {0x0E, "05 01 03 00 02 29"},             /* before the range */
    {0x0E, "05 01 07 00 02 29"},             /* the neighbour's */
    {0x0E, "05 01 05 00 01 29 05 00 02 29"}, /* does not advance */
    {0x0E, "05 03 04 00 02 29"},
    {0x0E, "05 00 04 00 02 29"},
    {0x0E, "05 02 04 00 02 29"},
    {0x0E, "05 01"},
    {0x0E, "05"},
};

static void expect_dead(const struct hostile_row *row)
{
    talk_receive(row->response);
    talk_expect_event(GATT_DEAD, 0, row->error, "");
    TALK(">", "< 1D 03 00 01", "< 02 17 00", "< 11 06 01 00 04 00 01 18", ">");
    talk_expect_no_event();
    assert_int_equal(gatt_client_read(&talk.client, 3), RESULT_CLOSED);
}

static void hostile_services_end(void **state)
{
    talk_start();
    TALK("> 02 05 02", "< 03 00 02", "> 10 01 00 FF FF 00 28");
    expect_dead(*state);
}

static void hostile_characteristics_end(void **state)
{
    talk_start();
    TALK("> 02 05 02", "< 03 00 02", "> 10 01 00 FF FF 00 28", "< 11 06 01 00 09 00 26 18",
         "> 10 0A 00 FF FF 00 28", "< 01 10 0A 00 0A", "> 08 01 00 09 00 03 28");
    expect_dead(*state);
}

static void hostile_descriptors_end(void **state)
{
    start_at_descriptors();
    expect_dead(*state);
}

/* A peer with a service on every handle, and a characteristic on every second one. */
static void endless_tables_are_cut(void **state)
{
    (void)state;
    uint8_t request[ATT_MTU_MAX];
    unsigned rounds = 0;
    talk_start();
    while (gatt_client_next_pdu(&talk.client, request) > 0) {
        uint8_t low = request[1], high = request[2];
        uint8_t service[] = {0x11, 6, low, high, (uint8_t)(low + 9), high, 0x26, 0x18};
        uint8_t characteristic[] = {0x09, 7, low, high, 0x10, (uint8_t)(low + 1), high, 0xD2, 0x2A};
        uint8_t none[] = {0x01, request[0], low, high, 0x0A};
        assert_true(rounds++ < 1000);
        if (request[0] == 0x10)
            gatt_client_receive(&talk.client, talk.now_ms, service, sizeof service);
        else if (request[0] == 0x08 && low % 10 != 0)
            gatt_client_receive(&talk.client, talk.now_ms, characteristic, sizeof characteristic);
        else
            gatt_client_receive(&talk.client, talk.now_ms, none, sizeof none);
    }
    talk_expect_event(GATT_DISCOVERED, 0, 0, "");
    assert_true(talk.client.known.is_cut);
    assert_int_equal(talk.client.known.service_count, GATT_SERVICES_MAX);
    assert_int_equal(talk.client.known.characteristic_count, GATT_CHARACTERISTICS_MAX);
}

int main(void)
{
    static struct CMUnitTest tests[120];
    size_t count = 0;
    ONE(discovers_two_services)
    ONE(discovers_full_uuids_and_the_last_handle)
    ONE(finds_assigned_uuids_spelled_out)
    ONE(finds_client_config_among_descriptors)
    ONE(does_not_guess_client_config)
    ONE(error_for_one_service_costs_that_service)
    ROWS(agrees_on_mtu, mtu_rows)
    ROWS(hostile_services_end, hostile_services)
    ROWS(hostile_characteristics_end, hostile_characteristics)
    ROWS(hostile_descriptors_end, hostile_descriptors)
    ONE(endless_tables_are_cut)
    return _cmocka_run_group_tests("gatt_discovery", tests, count, NULL, NULL);
}
