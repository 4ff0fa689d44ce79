/*
 * Check values are written by hand; the order of the octets is that of the Core specification,
 * least significant first in the air, most significant first on paper.
 */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <string.h>

#include <cmocka.h>

#include "base/device.h"

static const struct device_address example = {{0x01, 0x00, 0x01, 0x1b, 0xaa, 0xF0}, ADDRESS_PUBLIC};

static void reads_addresses(void **state)
{
    (void)state;
    struct device_address address = {.type = ADDRESS_PUBLIC};
    assert_true(device_address_read("F0:AA:1B:01:00:01", 17, &address));
    assert_true(device_address_is(&address, &example));
    assert_true(device_address_read("f0:aa:1b:01:00:01", 17, &address));
    assert_true(device_address_is(&address, &example));
}

static void writes_addresses(void **state)
{
    (void)state;
    char text[18];
    struct text_writer writer = text_writer(text, sizeof text);
    device_address_put(&writer, &example);
    assert_false(writer.failed);
    assert_string_equal(text, "F0:AA:1B:01:00:01");
}

static void refuses_what_is_no_address(void **state)
{
    (void)state;
    static const char *const rows[] = {
        "",
        "F0:AA:1B:01:00:0",
        "F0:AA:1B:01:00:011",
        "F0-AA-1B-01-00-01",
        "F0:AA:1B:01:00:0G",
        "F0:AA:1B:01:00: 1",
        "F0AA:1B:01:00::01",
        "@0:AA:1B:01:00:01",
        "`0:AA:1B:01:00:01",
        "/0:AA:1B:01:00:01",
        ":0:AA:1B:01:00:01",
    };
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        struct device_address address = example;
        print_message("'%s'\n", rows[i]);
        assert_false(device_address_read(rows[i], strlen(rows[i]), &address));
        assert_true(device_address_is(&address, &example));
    }
}

static void tells_devices_apart_by_type_too(void **state)
{
    (void)state;
    struct device_address other = example;
    other.type = ADDRESS_RANDOM;
    assert_false(device_address_is(&example, &other));
    other = example;
    other.octets[5] = 0;
    assert_false(device_address_is(&example, &other));
}

static void names_kinds_and_types(void **state)
{
    (void)state;
    assert_string_equal(device_kind_name(DEVICE_MACHINE), "machine");
    assert_string_equal(device_kind_name(DEVICE_STRAP), "strap");
    assert_string_equal(device_kind_name(DEVICE_POWER), "power");
    assert_string_equal(device_kind_name(DEVICE_CADENCE), "cadence");
    assert_string_equal(device_kind_name(DEVICE_KIND_COUNT), "unknown");
    assert_string_equal(address_type_name(ADDRESS_PUBLIC), "public");
    assert_string_equal(address_type_name(ADDRESS_RANDOM), "random");
    assert_string_equal(address_type_name(ADDRESS_NONE), "none");
}

/* Bluetooth Core, Vol 6 Part B 1.3.2 (from memory): the two highest bits of a random address. */
static void knows_addresses_that_change(void **state)
{
    static const struct {
        uint8_t highest;
        enum address_type type;
        bool changes;
    } rows[] = {
        {0xC0, ADDRESS_RANDOM, false}, {0xFF, ADDRESS_RANDOM, false}, /* static */
        {0x40, ADDRESS_RANDOM, true},  {0x7F, ADDRESS_RANDOM, true},  /* resolvable */
        {0x00, ADDRESS_RANDOM, true},  {0x3F, ADDRESS_RANDOM, true},  /* not even that */
        {0x40, ADDRESS_PUBLIC, false}, {0x40, ADDRESS_NONE, false},
    };

    (void)state;
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        const struct device_address address = {{1, 2, 3, 4, 5, rows[i].highest}, rows[i].type};
        assert_int_equal(device_address_changes(&address), rows[i].changes);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(reads_addresses),
        cmocka_unit_test(writes_addresses),
        cmocka_unit_test(refuses_what_is_no_address),
        cmocka_unit_test(tells_devices_apart_by_type_too),
        cmocka_unit_test(names_kinds_and_types),
        cmocka_unit_test(knows_addresses_that_change),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
