/*
 * Check values. "capture": advertising of a machine, as posted in a public issue thread, its name
 * left out. "kernel": data of a Device Found event of Linux 6.12.117. "by hand": after the
 * Supplement to the Core specification, part A, and Fitness Machine Service 1.0, section 3.
 */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#include "base/device.h"
#include "support/octets.h"
#include "wire/advertisement.h"

enum {
    MACHINE = 1 << DEVICE_MACHINE,
    STRAP = 1 << DEVICE_STRAP,
    POWER = 1 << DEVICE_POWER,
    CADENCE = 1 << DEVICE_CADENCE
};

struct row {
    const char *source, *octets;
    uint32_t offers;
    bool has_machine_types, is_available;
    uint16_t machine_types;
    const char *name;
};

static const struct row rows[] = {
    {"capture: flags, then another service before the machine's", "02 01 06 05 03 f0 ff 26 18",
     MACHINE, false, false, 0, ""},
    {"by hand: service data of a bike that is free", "06 16 26 18 01 20 00", MACHINE, true, true,
     MACHINE_BIKE, ""},
    {"by hand: the same, in use", "06 16 26 18 00 20 00", MACHINE, true, false, MACHINE_BIKE, ""},
    {"by hand: a rower that is also a treadmill", "06 16 26 18 01 11 00", MACHINE, true, true,
     MACHINE_ROWER | MACHINE_TREADMILL, ""},
    {"kernel: advertising and scan response joined",
     "03 03 0d 18 03 03 26 18 06 09 44 65 6d 6f 58 06 16 26 18 01 20 00", MACHINE | STRAP, true,
     true, MACHINE_BIKE, "DemoX"},
    {"by hand: a list that is not complete", "05 02 18 18 16 18", POWER | CADENCE, false, false, 0,
     ""},
    {"by hand: 128-bit lists",
     "11 06 fb 34 9b 5f 80 00 00 80 00 10 00 00 0d 18 00 00 "
     "11 07 fb 34 9b 5f 80 00 00 80 00 10 00 00 26 18 00 00",
     STRAP | MACHINE, false, false, 0, ""},
    {"by hand: 128 bits that only look alike",
     "11 06 fb 34 9b 5f 80 00 00 80 00 10 00 01 0d 18 00 00 "
     "11 07 fb 34 9b 5f 80 00 00 80 00 10 00 00 26 18 01 00",
     0, false, false, 0, ""},
    {"by hand: a list with half an entry", "04 03 0d 18 26", STRAP, false, false, 0, ""},
    {"by hand: service data cut short still names the machine", "04 16 26 18 01", MACHINE, false,
     false, 0, ""},
    {"by hand: service data of something else", "06 16 0f 18 01 20 00", 0, false, false, 0, ""},
    {"by hand: a whole name goes over a short one", "03 08 41 42 04 09 41 42 43", 0, false, false,
     0, "ABC"},
    {"by hand: and stays when the short one is last", "04 09 41 42 43 03 08 41 42", 0, false, false,
     0, "ABC"},
    {"by hand: an empty name is none", "02 09 41 01 09", 0, false, false, 0, "A"},
    {"by hand: zeros behind the data", "03 03 26 18 00 03 03 0d 18", MACHINE, false, false, 0, ""},
    {"by hand: a structure longer than the report", "03 03 26 18 05 03 0d 18", MACHINE, false,
     false, 0, ""},
    {"by hand: types that are not known", "02 0a 04 05 ff 4c 00 26 18 03 19 84 04", 0, false, false,
     0, ""},
    {"by hand: nothing", "", 0, false, false, 0, ""},
};

static void check(const struct advertisement *known, const struct row *row)
{
    assert_int_equal(known->offers, row->offers);
    assert_int_equal(known->has_machine_types, row->has_machine_types);
    assert_int_equal(known->is_available, row->is_available);
    assert_int_equal(known->machine_types, row->machine_types);
    assert_int_equal(known->name_length, strlen(row->name));
    assert_memory_equal(known->name, row->name, known->name_length);
}

static void reads_reports(void **state)
{
    (void)state;
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        uint8_t report[64];
        struct advertisement known = {0};
        size_t length = octets_from_text(rows[i].octets, report, sizeof report);
        print_message("%s\n", rows[i].source);
        advertisement_read(&known, report, length);
        check(&known, &rows[i]);
    }
}

static void adds_one_report_to_another(void **state)
{
    (void)state;
    static const uint8_t first[] = {3, 3, 0x26, 0x18}, second[] = {4, 9, 'B', 'i', 'k'},
                         third[] = {6, 0x16, 0x26, 0x18, 1, 0x20, 0};
    struct advertisement known = {0};
    advertisement_read(&known, first, sizeof first);
    advertisement_read(&known, second, sizeof second);
    advertisement_read(&known, third, sizeof third);
    advertisement_read(&known, first, sizeof first);
    check(&known, &(struct row){.offers = MACHINE,
                                .has_machine_types = true,
                                .is_available = true,
                                .machine_types = MACHINE_BIKE,
                                .name = "Bik"});
}

/* Longer data than the old 31 octets comes with extended advertising. */
static void keeps_the_longest_name(void **state)
{
    (void)state;
    uint8_t report[256] = {255, 9};
    struct advertisement known = {0};
    memset(report + 2, 'n', 254);
    advertisement_read(&known, report, sizeof report);
    assert_int_equal(known.name_length, 248);
    assert_int_equal(known.name[247], 'n');
}

static void survives_any_octets(void **state)
{
    (void)state;
    uint32_t chance = 1;
    for (unsigned round = 0; round < 20000; round++) {
        size_t length = round % 64;
        uint8_t *report = malloc(length > 0 ? length : 1);
        struct advertisement known = {0};
        for (size_t i = 0; i < length; i++) {
            chance = chance * 1664525u + 1013904223u;
            report[i] = (uint8_t)(chance >> 24) & (i % 3 == 0 ? 0x1Fu : 0xFFu);
        }
        advertisement_read(&known, report, length);
        assert_true(known.name_length <= ADVERTISEMENT_NAME_MAX);
        assert_true(known.offers < 1u << DEVICE_KIND_COUNT);
        free(report);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(reads_reports),
        cmocka_unit_test(adds_one_report_to_another),
        cmocka_unit_test(keeps_the_longest_name),
        cmocka_unit_test(survives_any_octets),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
