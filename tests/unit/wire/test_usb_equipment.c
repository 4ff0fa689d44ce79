/*
 * Pages of fitness equipment. The octets of general data, and of the loads, are those of the tests
 * of a public decoder (fitnessEquipment.test.ts); of capabilities and the status of a command there
 * are no published octets: they are written after the fields that wire/usb_equipment.h names.
 */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include "support/octets.h"
#include "wire/usb_equipment.h"

static const uint8_t *page_of(const char *text)
{
    static uint8_t page[USB_PAGE_SIZE];

    assert_int_equal(octets_from_text(text, page, sizeof page), USB_PAGE_SIZE);
    return page;
}

static void assert_page(const uint8_t *page, const char *text)
{
    assert_memory_equal(page, page_of(text), USB_PAGE_SIZE);
}

static void general_data(void **state)
{
    static const struct {
        const char *page;
        bool is_bike, has_distance, has_heart;
        uint8_t distance_m, heart_bpm;
    } rows[] = {
        {"10 19 64 32 C4 09 FF 34", true, true, false, 50, 0xFF},
        {"10 14 00 00 E8 03 78 1B", false, false, true, 0, 120}, /* an elliptical, hand contact */
        {"10 19 00 00 00 00 FF 24", true, true, false, 0, 0xFF},
        {"10 15 00 07 00 00 50 21", true, false, true, 7, 80}, /* a stationary bike, from a strap */
        {"10 F9 00 00 00 00 50 20", true, false, false, 0, 80}, /* reserved bits; no source */
        {"10 13 00 00 00 00 00 23", false, false, false, 0, 0},
    };
    struct usb_general general;

    (void)state;
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        assert_int_equal(usb_general_decode(page_of(rows[i].page), &general), RESULT_OK);
        assert_int_equal(general.is_bike, rows[i].is_bike);
        assert_int_equal(general.has_distance, rows[i].has_distance);
        assert_int_equal(general.distance_m, rows[i].distance_m);
        assert_int_equal(general.has_heart, rows[i].has_heart);
        assert_int_equal(general.heart_bpm, rows[i].heart_bpm);
    }
}

static void what_it_is_able_to_do(void **state)
{
    struct usb_capabilities able;

    (void)state;
    assert_int_equal(usb_capabilities_decode(page_of("36 FF FF FF FF F4 01 07"), &able), RESULT_OK);
    assert_int_equal(able.resistance_max_n, 500);
    assert_true(able.takes_resistance && able.takes_power && able.takes_simulation);
    assert_int_equal(usb_capabilities_decode(page_of("36 FF FF FF FF FF FF F9"), &able), RESULT_OK);
    assert_int_equal(able.resistance_max_n, 0);
    assert_true(able.takes_resistance && !able.takes_power && !able.takes_simulation);
    assert_int_equal(usb_capabilities_decode(page_of("36 FF FF FF FF C8 00 02"), &able), RESULT_OK);
    assert_true(!able.takes_resistance && able.takes_power && !able.takes_simulation);
}

static void loads(void **state)
{
    static const struct {
        struct usb_command command;
        const char *page;
    } rows[] = {
        {{USB_PAGE_RESISTANCE, 100}, "30 FF FF FF FF FF FF 64"},
        {{USB_PAGE_RESISTANCE, USB_RESISTANCE_MAX}, "30 FF FF FF FF FF FF C8"},
        {{USB_PAGE_RESISTANCE, 0}, "30 FF FF FF FF FF FF 00"},
        {{USB_PAGE_TARGET_POWER, 1000}, "31 FF FF FF FF FF E8 03"},
        {{USB_PAGE_TARGET_POWER, USB_POWER_MAX}, "31 FF FF FF FF FF 80 3E"},
        {{USB_PAGE_TARGET_POWER, 0}, "31 FF FF FF FF FF 00 00"},
    };
    uint8_t page[USB_PAGE_SIZE];

    (void)state;
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        usb_command_encode(&rows[i].command, page);
        assert_page(page, rows[i].page);
    }
}

/* ant_common_page_70: descriptors, the way it is to be answered, the page, the command. */
static void requests(void **state)
{
    uint8_t page[USB_PAGE_SIZE];

    (void)state;
    usb_request_encode(USB_PAGE_CAPABILITIES, page);
    assert_page(page, "46 FF FF FF FF 01 36 01");
    usb_request_encode(USB_PAGE_COMMAND_STATUS, page);
    assert_page(page, "46 FF FF FF FF 01 47 01");
}

static void the_status_of_a_command(void **state)
{
    static const struct {
        const char *page;
        struct usb_command_status status;
    } rows[] = {
        {"47 30 05 00 FF FF FF 64", {{USB_PAGE_RESISTANCE, 100}, 5, USB_COMMAND_PASSED}},
        {"47 31 FF 04 FF FF E8 03", {{USB_PAGE_TARGET_POWER, 1000}, 255, USB_COMMAND_PENDING}},
        {"47 31 00 01 FF FF FE 00", {{USB_PAGE_TARGET_POWER, 254}, 0, USB_COMMAND_FAILED}},
        {"47 33 09 02 FF 20 4E FF", {{0x33, 0}, 9, USB_COMMAND_NOT_SUPPORTED}},
        {"47 FF FF FF FF FF FF FF", {{0xFF, 0}, 255, USB_COMMAND_NONE}},
    };
    struct usb_command_status status;

    (void)state;
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        assert_int_equal(usb_command_status_decode(page_of(rows[i].page), &status), RESULT_OK);
        assert_int_equal(status.command.page, rows[i].status.command.page);
        assert_int_equal(status.command.value, rows[i].status.command.value);
        assert_int_equal(status.sequence, rows[i].status.sequence);
        assert_int_equal(status.result, rows[i].status.result);
    }
}

static void other_pages_are_none_of_them(void **state)
{
    struct usb_general general;
    struct usb_capabilities able;
    struct usb_command_status status;

    (void)state;
    for (unsigned number = 0; number < 256; number++) {
        const uint8_t page[USB_PAGE_SIZE] = {(uint8_t)number, 25};
        assert_int_equal(usb_general_decode(page, &general) == RESULT_OK, number == 0x10);
        assert_int_equal(usb_capabilities_decode(page, &able) == RESULT_OK, number == 0x36);
        assert_int_equal(usb_command_status_decode(page, &status) == RESULT_OK, number == 0x47);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(general_data),
        cmocka_unit_test(what_it_is_able_to_do),
        cmocka_unit_test(loads),
        cmocka_unit_test(requests),
        cmocka_unit_test(the_status_of_a_command),
        cmocka_unit_test(other_pages_are_none_of_them),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
