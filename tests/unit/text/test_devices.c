/*
 * The format is our own; expectations are written by hand.
 */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#include "text/devices.h"

static void reads_devices(void **state)
{
    (void)state;
    static const char text[] =
        "# mine\n"
        "strap C0:AA:1B:01:00:02 random\r\n"
        "\n"
        "machine  f0:aa:1b:01:00:01\tpublic   Rad im  Keller \xC3\xBC # old\n";
    struct devices devices = {0};
    struct text_fault fault;
    assert_int_equal(devices_read(text, strlen(text), &devices, &fault), RESULT_OK);
    const struct device *machine = &devices.list[DEVICE_MACHINE];
    const struct device *strap = &devices.list[DEVICE_STRAP];
    assert_int_equal(machine->address.type, ADDRESS_PUBLIC);
    assert_memory_equal(machine->address.octets, ((uint8_t[]){1, 0, 1, 0x1B, 0xAA, 0xF0}), 6);
    assert_string_equal(machine->name, "Rad im  Keller \xC3\xBC");
    assert_int_equal(strap->address.type, ADDRESS_RANDOM);
    assert_memory_equal(strap->address.octets, ((uint8_t[]){2, 0, 1, 0x1B, 0xAA, 0xC0}), 6);
    assert_string_equal(strap->name, "");
    assert_int_equal(devices.list[DEVICE_POWER].address.type, ADDRESS_NONE);
    assert_int_equal(devices.list[DEVICE_CADENCE].address.type, ADDRESS_NONE);
}

static void what_is_heard_through_a_receiver_has_a_number(void **state)
{
    static const char text[] = "machine usb:815\nstrap usb:4711\npower usb Invented pedals\n";
    struct devices devices;
    struct text_fault fault;
    char written[DEVICES_FILE_MAX];

    (void)state;
    assert_int_equal(devices_read(text, strlen(text), &devices, &fault), RESULT_OK);
    assert_int_equal(devices.list[DEVICE_MACHINE].address.type, ADDRESS_USB);
    assert_int_equal(device_address_usb(&devices.list[DEVICE_MACHINE].address), 815);
    assert_int_equal(devices.list[DEVICE_STRAP].address.type, ADDRESS_USB);
    assert_int_equal(device_address_usb(&devices.list[DEVICE_STRAP].address), 4711);
    assert_string_equal(devices.list[DEVICE_STRAP].name, "");
    assert_int_equal(devices.list[DEVICE_POWER].address.type, ADDRESS_USB);
    assert_int_equal(device_address_usb(&devices.list[DEVICE_POWER].address), 0);
    assert_string_equal(devices.list[DEVICE_POWER].name, "Invented pedals");
    assert_int_equal(devices_write(&devices, written, sizeof written), RESULT_OK);
    assert_string_equal(strchr(written, '\n') + 1, text);
}

static void an_empty_file_remembers_nothing(void **state)
{
    (void)state;
    struct devices devices;
    struct text_fault fault;
    memset(&devices, 0xFF, sizeof devices);
    assert_int_equal(devices_read("", 0, &devices, &fault), RESULT_OK);
    for (size_t i = 0; i < DEVICE_KIND_COUNT; i++)
        assert_int_equal(devices.list[i].address.type, ADDRESS_NONE);
}

struct fault_row {
    const char *text;
    uint32_t line, column;
    const char *message;
};

static void says_what_is_wrong_and_where(void **state)
{
    (void)state;
    static const struct fault_row rows[] = {
        {"bike F0:AA:1B:01:00:01 public", 1, 1,
         "expected machine, strap, power or cadence, found 'bike'"},
        {"\nmachine", 2, 8,
         "expected an address such as F0:AA:1B:01:00:01, or usb:12345, found the end of the "
         "line"},
        {"strap F0:AA:1B:01:00 public", 1, 7,
         "expected an address such as F0:AA:1B:01:00:01, or usb:12345, found 'F0:AA:1B:01:00'"},
        {"strap usb:65536", 1, 7,
         "expected an address such as F0:AA:1B:01:00:01, or usb:12345, found 'usb:65536'"},
        {"strap F0:AA:1B:01:00:01 none", 1, 25, "expected public or random, found 'none'"},
        {"strap F0:AA:1B:01:00:01", 1, 24, "expected public or random, found the end of the line"},
        {"power F0:AA:1B:01:00:01 public\npower F0:AA:1B:01:00:02 public", 2, 1,
         "expected each kind once, found it a second time"},
        {"strap F0:AA:1B:01:00:01 public \033[2J", 1, 32,
         "expected UTF-8 text, found a control character or a broken octet"},
    };
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        struct devices devices = {.list = {{.name = "kept"}}};
        struct text_fault fault = {0};
        print_message("%s\n", rows[i].text);
        assert_int_equal(devices_read(rows[i].text, strlen(rows[i].text), &devices, &fault),
                         RESULT_INVALID);
        assert_string_equal(fault.message, rows[i].message);
        assert_int_equal(fault.line, rows[i].line);
        assert_int_equal(fault.column, rows[i].column);
        assert_string_equal(devices.list[0].name, "kept");
    }
}

static void writes_devices(void **state)
{
    (void)state;
    struct devices devices = {
        .list = {[DEVICE_MACHINE] = {{{1, 0, 1, 0x1B, 0xAA, 0xF0}, ADDRESS_PUBLIC}, "Bike #3"},
                 [DEVICE_CADENCE] = {{{2, 0, 1, 0x1B, 0xAA, 0xC0}, ADDRESS_RANDOM}, ""}}};
    char text[DEVICES_FILE_MAX];
    assert_int_equal(devices_write(&devices, text, sizeof text), RESULT_OK);
    assert_string_equal(text, "# Written by afterset scan --keep; may be edited by hand.\n"
                              "machine F0:AA:1B:01:00:01 public Bike ?3\n"
                              "cadence C0:AA:1B:01:00:02 random\n");
    assert_int_equal(devices_write(&devices, text, 100), RESULT_FULL);
}

static void the_largest_file_has_room(void **state)
{
    (void)state;
    struct devices devices = {0};
    char text[DEVICES_FILE_MAX];
    for (size_t i = 0; i < DEVICE_KIND_COUNT; i++) {
        devices.list[i].address.type = ADDRESS_RANDOM;
        memset(devices.list[i].name, 'n', DEVICE_NAME_SIZE - 1);
    }
    assert_int_equal(devices_write(&devices, text, sizeof text), RESULT_OK);
}

struct name_row {
    const char *octets;
    size_t length;
    const char *name;
};

static void is_called_by_its_name(void **state)
{
    static const struct {
        struct device device;
        const char *label;
    } rows[] = {
        {{{{6, 5, 4, 3, 2, 0x40}, ADDRESS_RANDOM}, "Bike"}, "Bike"},
        {{{{6, 5, 4, 3, 2, 0x40}, ADDRESS_RANDOM}, ""}, "40:02:03:04:05:06"},
        {{{{6, 5, 4, 3, 2, 0xC0}, ADDRESS_RANDOM}, "Bike"}, "Bike"},
        {{{{6, 5, 4, 3, 2, 0xC0}, ADDRESS_RANDOM}, ""}, "C0:02:03:04:05:06"},
        {{{{0x39, 0x30}, ADDRESS_USB}, "Pedals"}, "usb:12345"},
    };
    char label[DEVICE_NAME_SIZE];

    (void)state;
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        device_label(&rows[i].device, label);
        assert_string_equal(label, rows[i].label);
    }
}

static void makes_names_fit_to_be_shown(void **state)
{
    (void)state;
    static const struct name_row rows[] = {
        {"Bike", 4, "Bike"},
        {"  Bike 2 \0\0", 11, "Bike 2"},
        {"a\033[31mb\nc\td", 11, "a?[31mb?c?d"},
        {"\xC3\xBC\xFFx\xC3", 5, "\xC3\xBC?x?"},
        {"\xC2\x9B", 2, "??"}, /* a control of the upper half, which some terminals obey */
        {"", 0, ""},
        {" ", 1, ""},
    };
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        char name[DEVICE_NAME_SIZE];
        device_name_from(rows[i].octets, rows[i].length, name);
        assert_string_equal(name, rows[i].name);
    }
}

static void cuts_names_between_characters(void **state)
{
    (void)state;
    char octets[248], name[DEVICE_NAME_SIZE];
    octets[0] = 'x';
    for (size_t i = 1; i + 1 < sizeof octets; i += 2)
        memcpy(octets + i, "\xC3\xBC", 2);
    device_name_from(octets, 247, name);
    assert_int_equal(strlen(name), 63); /* 64 octets would end in half a character */
    assert_memory_equal(name + 61, "\xC3\xBC", 3);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(reads_devices),
        cmocka_unit_test(what_is_heard_through_a_receiver_has_a_number),
        cmocka_unit_test(an_empty_file_remembers_nothing),
        cmocka_unit_test(says_what_is_wrong_and_where),
        cmocka_unit_test(writes_devices),
        cmocka_unit_test(the_largest_file_has_room),
        cmocka_unit_test(is_called_by_its_name),
        cmocka_unit_test(makes_names_fit_to_be_shown),
        cmocka_unit_test(cuts_names_between_characters),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
