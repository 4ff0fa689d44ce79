/* Where a link leads, as riders write it. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#include "io/link_address.h"

/* Octets travel the other way round than people write them. */
static const uint8_t aabbccddeeff[] = {0xFF, 0xEE, 0xDD, 0xCC, 0xBB, 0xAA};
static const uint8_t c0123456789a[] = {0x9A, 0x78, 0x56, 0x34, 0x12, 0xC0};

static struct address_row {
    const char *text;
    enum link_address_kind kind;
    const char *path;
    const uint8_t *octets;
    enum address_type type;
    uint16_t usb_number;
} right[] = {
    {"unix:/run/bike", LINK_ADDRESS_UNIX, "/run/bike", NULL, ADDRESS_NONE, 0},
    {"unix:b", LINK_ADDRESS_UNIX, "b", NULL, ADDRESS_NONE, 0},
    {"capture:/a b.btsnoop", LINK_ADDRESS_CAPTURE, "/a b.btsnoop", NULL, ADDRESS_NONE, 0},
    {"AA:BB:CC:DD:EE:FF", LINK_ADDRESS_BLUETOOTH, NULL, aabbccddeeff, ADDRESS_NONE, 0},
    {"aa:bb:cc:dd:ee:ff", LINK_ADDRESS_BLUETOOTH, NULL, aabbccddeeff, ADDRESS_NONE, 0},
    {"AA:BB:CC:DD:EE:FF/public", LINK_ADDRESS_BLUETOOTH, NULL, aabbccddeeff, ADDRESS_PUBLIC, 0},
    {"C0:12:34:56:78:9A/random", LINK_ADDRESS_BLUETOOTH, NULL, c0123456789a, ADDRESS_RANDOM, 0},
    {"usb", LINK_ADDRESS_USB, NULL, NULL, ADDRESS_USB, 0},
    {"usb:1", LINK_ADDRESS_USB, NULL, NULL, ADDRESS_USB, 1},
    {"usb:65535", LINK_ADDRESS_USB, NULL, NULL, ADDRESS_USB, 65535},
    {"usb@/run/receiver", LINK_ADDRESS_USB, "/run/receiver", NULL, ADDRESS_USB, 0},
    {"usb:12345@r", LINK_ADDRESS_USB, "r", NULL, ADDRESS_USB, 12345},
    {"usb@1-", LINK_ADDRESS_USB, "1-", NULL, ADDRESS_USB, 0},
    {"usb@1-2.", LINK_ADDRESS_USB, "1-2.", NULL, ADDRESS_USB, 0},
    {"usb@1-2/r", LINK_ADDRESS_USB, "1-2/r", NULL, ADDRESS_USB, 0},
    {"usb@./1-2", LINK_ADDRESS_USB, "./1-2", NULL, ADDRESS_USB, 0},
};

static void what_is_right(void **state)
{
    const struct address_row *row = *state;
    struct link_address address;
    assert_true(link_address_read(row->text, &address));
    assert_int_equal(address.kind, row->kind);
    assert_int_equal(address.device.type, row->type);
    if (row->kind == LINK_ADDRESS_USB)
        assert_int_equal(device_address_usb(&address.device), row->usb_number);
    if (row->path != NULL)
        assert_string_equal(address.path, row->path);
    else if (row->octets == NULL)
        assert_null(address.path);
    else
        assert_memory_equal(address.device.octets, row->octets, sizeof aabbccddeeff);
}

static void a_receiver_has_a_place_or_a_path(void **state)
{
    static const char *const places[] = {"1-2", "2-1.4", "10-7.7.7.7.7.7.7"};
    struct link_address address;
    char text[48];
    (void)state;
    for (size_t i = 0; i < sizeof places / sizeof places[0]; i++) {
        (void)snprintf(text, sizeof text, "usb:7@%s", places[i]);
        assert_true(link_address_read(text, &address));
        assert_string_equal(address.place, places[i]);
        assert_null(address.path);
        assert_int_equal(device_address_usb(&address.device), 7);
    }
}

static void what_is_wrong(void **state)
{
    static const char *const wrong[] = {
        "",
        "unix:",
        "unix",
        "capture:",
        "bike",
        "usb:",
        "usb:0",
        "usb:65536",
        "usb:4294967297",
        "usb:-1",
        "usb:7x",
        "usb 7",
        "usb@",
        "usb:@/run/receiver",
        "usbx",
        "USB",
        "AA:BB:CC:DD:EE",
        "AA:BB:CC:DD:EE:F",
        "AA:BB:CC:DD:EE:FG",
        "AA-BB-CC-DD-EE-FF",
        "AA:BB:CC:DD:EE:FF:00",
        "AA:BB:CC:DD:EE:FF/",
        "AA:BB:CC:DD:EE:FF/static",
        "AA:BB:CC:DD:EE:FF/PUBLIC",
        "AA:BB:CC:DD:EE:FF public",
        "AA:BB:CC:DD:EE:FF/public ",
        " AA:BB:CC:DD:EE:FF",
    };
    (void)state;
    for (size_t i = 0; i < sizeof wrong / sizeof wrong[0]; i++) {
        struct link_address address = {.path = "as it was"};
        if (link_address_read(wrong[i], &address))
            fail_msg("taken: '%s'", wrong[i]);
        assert_string_equal(address.path, "as it was");
    }
}

/* Bluetooth Core, Vol 6 Part B 1.3.2: 11 in the two highest bits is static, 00 and 01 are private
 * and change, so nobody writes them down. */
static void which_type_comes_first(void **state)
{
    static const struct {
        uint8_t highest;
        enum address_type first;
    } rows[] = {
        {0x00, ADDRESS_PUBLIC}, {0x3F, ADDRESS_PUBLIC}, {0x40, ADDRESS_PUBLIC},
        {0x7F, ADDRESS_PUBLIC}, {0x80, ADDRESS_PUBLIC}, {0xBF, ADDRESS_PUBLIC},
        {0xC0, ADDRESS_RANDOM}, {0xFF, ADDRESS_RANDOM},
    };
    (void)state;
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        const struct device_address address = {.octets = {[5] = rows[i].highest}};
        assert_int_equal(address_type_likelier(&address), rows[i].first);
    }
}

#define ROWS (sizeof right / sizeof right[0])

int main(void)
{
    struct CMUnitTest tests[ROWS + 3];
    for (size_t i = 0; i < ROWS; i++)
        tests[i] = (struct CMUnitTest){right[i].text, what_is_right, NULL, NULL, &right[i]};
    tests[ROWS] = (struct CMUnitTest)cmocka_unit_test(what_is_wrong);
    tests[ROWS + 1] = (struct CMUnitTest)cmocka_unit_test(which_type_comes_first);
    tests[ROWS + 2] = (struct CMUnitTest)cmocka_unit_test(a_receiver_has_a_place_or_a_path);
    return cmocka_run_group_tests(tests, NULL, NULL);
}
