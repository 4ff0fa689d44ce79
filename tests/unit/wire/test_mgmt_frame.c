/*
 * Check values. "kernel": frames read from the management socket of Linux 6.12.117 with virtual
 * controllers. "by hand": composed after doc/mgmt-api.txt of BlueZ 5.66.
 */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#include "support/octets.h"
#include "wire/mgmt_frame.h"

#define PEER_ADDRESS                                         \
    {                                                        \
        {0x01, 0x00, 0x01, 0x01, 0xaa, 0x00}, ADDRESS_PUBLIC \
    }

struct event_row {
    const char *source, *octets;
    struct mgmt_event expected; /* data left out */
    const char *data;
};

static const struct event_row rows[] = {
    {"kernel: device found, advertising and scan response in one",
     "12 00 00 00 24 00 01 00 01 01 aa 00 01 7f 00 00 00 00 16 00 "
     "03 03 0d 18 03 03 26 18 06 09 44 65 6d 6f 58 06 16 26 18 01 20 00",
     {.code = 0x12, .address = PEER_ADDRESS, .rssi_dbm = 127},
     "03 03 0d 18 03 03 26 18 06 09 44 65 6d 6f 58 06 16 26 18 01 20 00"},
    {"by hand: device found, random address, -60 dBm, flags, no data",
     "12 00 02 00 0e 00 01 00 01 01 aa c0 02 c4 04 00 00 80 00 00",
     {.code = 0x12,
      .index = 2,
      .address = {{0x01, 0x00, 0x01, 0x01, 0xaa, 0xc0}, ADDRESS_RANDOM},
      .rssi_dbm = -60,
      .flags = 0x80000004u},
     ""},
    {"by hand: advertising removed, instance 1",
     "24 00 01 00 01 00 01",
     {.code = 0x24, .index = 1},
     ""},
    {"kernel: discovery begun",
     "01 00 00 00 04 00 23 00 00 06",
     {.code = 1, .command = 0x23},
     "06"},
    {"kernel: discovery busy",
     "01 00 00 00 04 00 23 00 0a 06",
     {.code = 1, .command = 0x23, .status = MGMT_BUSY},
     "06"},
    {"kernel: discovery not allowed",
     "02 00 00 00 03 00 23 00 14",
     {.code = 2, .command = 0x23, .status = MGMT_PERMISSION_DENIED},
     ""},
    {"kernel: adapter not powered",
     "01 00 00 00 04 00 23 00 0f 06",
     {.code = 1, .command = 0x23, .status = MGMT_NOT_POWERED},
     "06"},
    {"kernel: LE off",
     "01 00 00 00 04 00 23 00 0b 06",
     {.code = 1, .command = 0x23, .status = MGMT_REJECTED},
     "06"},
    {"kernel: discovering", "13 00 00 00 02 00 06 01", {.code = 0x13, .is_on = true}, ""},
    {"kernel: discovering no more", "13 00 00 00 02 00 06 00", {.code = 0x13}, ""},
    {"kernel: connected",
     "0b 00 00 00 11 00 01 00 01 01 aa 00 01 08 00 00 00 04 00 03 03 0d 18",
     {.code = 0x0b, .address = PEER_ADDRESS, .flags = 8},
     "03 03 0d 18"},
    {"kernel: disconnected by the peer",
     "0c 00 00 00 08 00 01 00 01 01 aa 00 01 03",
     {.code = 0x0c, .address = PEER_ADDRESS, .reason = 3},
     ""},
    {"kernel: pairing to be confirmed",
     "0f 00 00 00 0c 00 01 00 01 01 aa 00 01 01 00 00 00 00",
     {.code = 0x0f, .address = PEER_ADDRESS},
     ""},
    {"by hand: connect failed",
     "0d 00 00 00 08 00 01 00 01 01 aa 00 01 02",
     {.code = 0x0d, .address = PEER_ADDRESS, .status = 2},
     ""},
    {"by hand: an adapter comes", "04 00 01 00 00 00", {.code = 4, .index = 1}, ""},
    {"by hand: an adapter goes", "05 00 01 00 00 00", {.code = 5, .index = 1}, ""},
    {"by hand: powered, LE on",
     "06 00 01 00 04 00 01 02 00 00",
     {.code = 6, .index = 1, .settings = MGMT_POWERED | MGMT_LE},
     ""},
    {"by hand: a classic device has no address for us",
     "0c 00 00 00 08 00 01 00 01 01 aa 00 00 03",
     {.code = 0x0c, .address = {{0x01, 0x00, 0x01, 0x01, 0xaa, 0x00}, ADDRESS_NONE}, .reason = 3},
     ""},
    {"by hand: octets behind the frame are not of it",
     "04 00 01 00 00 00 ff ff",
     {.code = 4, .index = 1},
     ""},
};

static void assert_same_event(const struct mgmt_event *a, const struct mgmt_event *b)
{
    assert_int_equal(a->code, b->code);
    assert_int_equal(a->index, b->index);
    assert_int_equal(a->command, b->command);
    assert_int_equal(a->status, b->status);
    assert_int_equal(a->reason, b->reason);
    assert_int_equal(a->is_on, b->is_on);
    assert_int_equal(a->settings, b->settings);
    assert_int_equal(a->flags, b->flags);
    assert_int_equal(a->rssi_dbm, b->rssi_dbm);
    assert_true(device_address_is(&a->address, &b->address));
}

static void decodes_events(void **state)
{
    (void)state;
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        uint8_t frame[128];
        struct mgmt_event event = {0};
        size_t length = octets_from_text(rows[i].octets, frame, sizeof frame);
        print_message("%s\n", rows[i].source);
        assert_int_equal(mgmt_event_decode(frame, length, &event), RESULT_OK);
        assert_same_event(&event, &rows[i].expected);
        assert_octets(event.data, event.length, rows[i].data);
    }
}

/* Every shorter piece, in a block of its exact size, so that the address sanitizer looks on. */
static void refuses_pieces_of_events(void **state)
{
    (void)state;
    for (size_t i = 0; i + 1 < sizeof rows / sizeof rows[0]; i++) {
        uint8_t whole[128];
        size_t length = octets_from_text(rows[i].octets, whole, sizeof whole);
        for (size_t cut = 0; cut < length; cut++) {
            uint8_t *piece = malloc(cut > 0 ? cut : 1);
            struct mgmt_event event = {.code = 0x7777};
            memcpy(piece, whole, cut);
            assert_int_equal(mgmt_event_decode(piece, cut, &event), RESULT_INVALID);
            assert_int_equal(event.code, 0x7777);
            free(piece);
        }
    }
}

static void refuses_lengths_that_lie(void **state)
{
    (void)state;
    static const char *const lies[] = {
        "12 00 00 00 0e 00 01 00 01 01 aa 00 01 7f 00 00 00 00 01 00", /* data not there */
        "0c 00 00 00 07 00 01 00 01 01 aa 00 01 03",                   /* reason outside */
        "01 00 00 00 02 00 23 00 00 06",                               /* status outside */
        "06 00 00 00 03 00 01 02 00 00",                               /* settings outside */
    };
    for (size_t i = 0; i < sizeof lies / sizeof lies[0]; i++) {
        uint8_t frame[64];
        struct mgmt_event event;
        size_t length = octets_from_text(lies[i], frame, sizeof frame);
        print_message("%s\n", lies[i]);
        assert_int_equal(mgmt_event_decode(frame, length, &event), RESULT_INVALID);
    }
}

static void gives_code_and_index_of_other_events(void **state)
{
    (void)state;
    static const uint8_t device_added[] = {0x1a, 0, 3, 0, 1, 0, 9};
    struct mgmt_event event;
    assert_int_equal(mgmt_event_decode(device_added, sizeof device_added, &event),
                     RESULT_UNSUPPORTED);
    assert_int_equal(event.code, 0x1a);
    assert_int_equal(event.index, 3);
}

static void matches_answers_by_command_and_adapter(void **state)
{
    (void)state;
    struct mgmt_event event = {.code = 1, .index = 1, .command = 0x23};
    assert_true(mgmt_event_answers(&event, MGMT_START_DISCOVERY, 1));
    assert_false(mgmt_event_answers(&event, MGMT_START_DISCOVERY, 0));
    assert_false(mgmt_event_answers(&event, MGMT_STOP_DISCOVERY, 1));
    event.code = 2;
    assert_true(mgmt_event_answers(&event, MGMT_START_DISCOVERY, 1));
    event.code = MGMT_DEVICE_FOUND;
    assert_false(mgmt_event_answers(&event, MGMT_START_DISCOVERY, 1));
}

static void decodes_answers(void **state)
{
    (void)state;
    uint8_t data[300];
    struct mgmt_indexes indexes = {0};
    size_t length = octets_from_text("02 00 00 00 05 00", data, sizeof data);
    assert_int_equal(mgmt_indexes_decode(data, length, &indexes), RESULT_OK);
    assert_int_equal(indexes.count, 2);
    assert_int_equal(indexes.list[0], 0);
    assert_int_equal(indexes.list[1], 5);
    assert_int_equal(mgmt_indexes_decode(data, length - 1, &indexes), RESULT_INVALID);
    memset(data, 0, sizeof data);
    data[0] = 100;
    assert_int_equal(mgmt_indexes_decode(data, 202, &indexes), RESULT_OK);
    assert_int_equal(indexes.count, MGMT_INDEXES_MAX);
}

/* 280 octets: address 6, version 1, manufacturer 2, supported 4, current 4, class 3, name 249,
 * short name 11. */
static void decodes_what_an_adapter_is(void **state)
{
    (void)state;
    uint8_t data[280];
    struct mgmt_info info = {0};
    memset(data, 'x', sizeof data);
    octets_from_text("01 00 01 01 aa 00 0c f1 05 ff fe 01 00 01 02 00 00 00 00 00", data, 20);
    assert_int_equal(mgmt_info_decode(data, sizeof data, &info), RESULT_OK);
    assert_true(device_address_is(&info.address, &(struct device_address)PEER_ADDRESS));
    assert_int_equal(info.supported, 0x0001feff);
    assert_int_equal(info.settings, 0x201);
    assert_int_equal(strlen(info.name), 248);
    assert_int_equal(mgmt_info_decode(data, 268, &info), RESULT_INVALID);
    memset(data, 0, 6);
    assert_int_equal(mgmt_info_decode(data, 269, &info), RESULT_OK);
    assert_int_equal(info.address.type, ADDRESS_NONE);
}

static void encodes_commands(void **state)
{
    (void)state;
    static const uint8_t advertising[] = {0x03, 0x03, 0x26, 0x18}, response[] = {0x02, 0x09, 'B'};
    const struct device_address peer = PEER_ADDRESS;
    uint8_t frame[MGMT_COMMAND_MAX];
    size_t length = mgmt_encode(MGMT_READ_INDEX_LIST, MGMT_NO_INDEX, frame);
    assert_octets(frame, length, "03 00 ff ff 00 00");
    length = mgmt_encode_octet(MGMT_START_DISCOVERY, 1, MGMT_DISCOVER_LE, frame);
    assert_octets(frame, length, "23 00 01 00 01 00 06");
    length = mgmt_encode_octet(MGMT_SET_LE, 0, 1, frame);
    assert_octets(frame, length, "0d 00 00 00 01 00 01");
    length = mgmt_encode_address(MGMT_DISCONNECT, 0, &peer, frame);
    assert_octets(frame, length, "14 00 00 00 07 00 01 00 01 01 aa 00 01");
    /* 15 to 30 ms, 5 s: octets that Linux 6.12.117 took. */
    length = mgmt_encode_connection(0, &(struct mgmt_connection){peer, 12, 24, 0, 500}, frame);
    assert_octets(frame, length,
                  "35 00 00 00 11 00 01 00 01 00 01 01 aa 00 01 0c 00 18 00 00 00 f4 01");
    const struct mgmt_advertising instance = {1, 0x09, 4, 3, advertising, response};
    length = mgmt_encode_advertising(0, &instance, frame);
    assert_octets(frame, length,
                  "3e 00 00 00 12 00 01 09 00 00 00 00 00 00 00 04 03 03 03 26 18 02 09 42");
}

static void has_room_for_the_longest_command(void **state)
{
    (void)state;
    static const uint8_t full[255];
    uint8_t frame[MGMT_COMMAND_MAX];
    const struct mgmt_advertising instance = {1, 0, 255, 255, full, full};
    assert_int_equal(mgmt_encode_advertising(0, &instance, frame), 6 + 11 + 510);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(decodes_events),
        cmocka_unit_test(refuses_pieces_of_events),
        cmocka_unit_test(refuses_lengths_that_lie),
        cmocka_unit_test(gives_code_and_index_of_other_events),
        cmocka_unit_test(matches_answers_by_command_and_adapter),
        cmocka_unit_test(decodes_answers),
        cmocka_unit_test(decodes_what_an_adapter_is),
        cmocka_unit_test(encodes_commands),
        cmocka_unit_test(has_room_for_the_longest_command),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
