/*
 * Merging, ranking and keeping of what was seen; expectations are written by hand.
 */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <string.h>

#include <cmocka.h>

#include "app/scan_list.h"
#include "app/sightings.h"

enum {
    MACHINE = 1 << DEVICE_MACHINE,
    STRAP = 1 << DEVICE_STRAP,
    POWER = 1 << DEVICE_POWER,
    BIKE = 1 << 5,
    ROWER = 1 << 4
};

static struct sighting report(uint8_t last_octet, uint32_t offers, int16_t signal_dbm)
{
    return (struct sighting){.address = {{last_octet, 0, 1, 0x1B, 0xAA, 0xF0}, ADDRESS_PUBLIC},
                             .offers = offers,
                             .signal_dbm = signal_dbm};
}

static void merges_reports_of_a_device(void **state)
{
    (void)state;
    struct sightings sightings = {0};
    struct sighting first = report(1, 0, -70), second = report(1, MACHINE, 0),
                    third = report(1, 0, -60);
    strcpy(first.name, "Bike");
    assert_null(sightings_add(&sightings, &first));
    const struct sighting *known = sightings_add(&sightings, &second);
    assert_non_null(known);
    assert_string_equal(known->name, "Bike");
    assert_int_equal(known->signal_dbm, -70);
    assert_int_equal(known->offers, MACHINE);
    assert_null(sightings_add(&sightings, &second)); /* nothing new */
    known = sightings_add(&sightings, &third);
    assert_non_null(known);
    assert_int_equal(known->signal_dbm, -60);
    assert_string_equal(known->name, "Bike");
    assert_int_equal(sightings.count, 1);
}

static void another_type_is_another_device(void **state)
{
    (void)state;
    struct sightings sightings = {0};
    struct sighting one = report(1, STRAP, -50), other = one;
    other.address.type = ADDRESS_RANDOM;
    (void)sightings_add(&sightings, &one);
    (void)sightings_add(&sightings, &other);
    assert_int_equal(sightings.count, 2);
}

static void ranks_the_strongest_first(void **state)
{
    (void)state;
    struct sightings sightings = {0};
    const struct sighting reports[] = {report(1, STRAP, -80),   report(2, MACHINE, 0),
                                       report(3, MACHINE, -40), report(4, 0, -10),
                                       report(5, POWER, -60),   report(6, POWER, 0)};
    const struct sighting *ranked[SIGHTINGS_MAX];
    for (size_t i = 0; i < sizeof reports / sizeof reports[0]; i++)
        (void)sightings_add(&sightings, &reports[i]);
    assert_int_equal(sightings_ranked(&sightings, ranked), 5);
    static const uint8_t order[] = {3, 5, 1, 2, 6};
    for (size_t i = 0; i < sizeof order; i++)
        assert_int_equal(ranked[i]->address.octets[0], order[i]);
}

static void a_full_list_gives_up_useless_devices(void **state)
{
    (void)state;
    struct sightings sightings = {0};
    for (uint8_t i = 0; i < SIGHTINGS_MAX; i++) {
        const struct sighting useful = report(i, i == 7 ? 0 : STRAP, -50);
        (void)sightings_add(&sightings, &useful);
    }
    const struct sighting bike = report(200, MACHINE, -90), late = report(201, MACHINE, -20);
    assert_non_null(sightings_add(&sightings, &bike));
    assert_int_equal(sightings.list[7].address.octets[0], 200);
    assert_null(sightings_add(&sightings, &late));
    assert_int_equal(sightings.count, SIGHTINGS_MAX);
}

static void keeps_the_strongest_of_each_kind(void **state)
{
    (void)state;
    struct sightings sightings = {0};
    struct devices devices = {.list = {[DEVICE_CADENCE] = {{{9}, ADDRESS_RANDOM}, "old"}}};
    struct sighting rower = report(1, MACHINE, -20), bike = report(2, MACHINE | STRAP | POWER, -50),
                    strap = report(3, STRAP, -70), weak = report(4, STRAP, -90);
    rower.has_machine_types = bike.has_machine_types = true;
    rower.machine_types = ROWER;
    bike.machine_types = BIKE;
    strcpy(bike.name, "Bike");
    (void)sightings_add(&sightings, &weak);
    (void)sightings_add(&sightings, &rower);
    (void)sightings_add(&sightings, &bike);
    (void)sightings_add(&sightings, &strap);
    assert_int_equal(sightings_keep(&sightings, &devices), 2);
    assert_int_equal(devices.list[DEVICE_MACHINE].address.octets[0], 2);
    assert_string_equal(devices.list[DEVICE_MACHINE].name, "Bike");
    assert_int_equal(devices.list[DEVICE_STRAP].address.octets[0], 3);
    assert_int_equal(devices.list[DEVICE_POWER].address.type, ADDRESS_NONE);
    assert_string_equal(devices.list[DEVICE_CADENCE].name, "old");
}

static void a_machine_that_does_not_say_may_be_a_bike(void **state)
{
    (void)state;
    struct sightings sightings = {0};
    struct devices devices = {0};
    const struct sighting machine = report(1, MACHINE, 0);
    (void)sightings_add(&sightings, &machine);
    assert_int_equal(sightings_keep(&sightings, &devices), 1);
}

static void shows_a_table(void **state)
{
    (void)state;
    struct sightings sightings = {0};
    struct sighting bike = report(1, MACHINE | STRAP, -60), rower = report(2, MACHINE, 0);
    char text[1024];
    struct text_writer writer = text_writer(text, sizeof text);
    bike.has_machine_types = rower.has_machine_types = rower.is_available = true;
    bike.machine_types = BIKE;
    rower.machine_types = ROWER | 1;
    strcpy(bike.name, "B\xC3\xBC"
                      "cycle with a name that is too long");
    (void)sightings_add(&sightings, &rower);
    (void)sightings_add(&sightings, &bike);
    scan_list_put(&writer, &sightings, 10, false);
    assert_string_equal(
        text,
        "Signal    Name                      Address            Type    Offers\n"
        "-60 dBm   B\xC3\xBC"
        "cycle with a name that  F0:AA:1B:01:00:01  public  bike (in use), strap\n"
        "?         -                         F0:AA:1B:01:00:02  public  treadmill and rower\n");
    writer = text_writer(text, sizeof text);
    scan_list_put(&writer, &sightings, 1, false);
    assert_null(strstr(text, "rower"));
    writer = text_writer(text, sizeof text);
    scan_list_put(&writer, &(struct sightings){0}, 10, false);
    assert_string_equal(text, "");
}

/* The two top bits 01: one that changes. */
static struct sighting private_report(uint8_t last_octet, uint32_t offers, const char *name)
{
    struct sighting sighting = report(last_octet, offers, 0);
    sighting.address.octets[5] = 0x40;
    sighting.address.type = ADDRESS_RANDOM;
    strcpy(sighting.name, name);
    return sighting;
}

static void finds_again_what_has_another_address(void **state)
{
    static const struct {
        const char *remembered;
        uint8_t last_octet; /* of the remembered address; 1 is seen */
        bool changes;
        size_t count;
        uint8_t found;
    } rows[] = {
        {"Bike", 9, true, 1, 1},  /* of that name, and a machine */
        {"Bike", 9, false, 0, 0}, /* an address that stays is that of something else */
        {"Twin", 9, true, 2, 3},  /* two of them */
        {"Twin", 4, true, 1, 4},  /* of which one has the address */
        {"Belt", 9, true, 0, 0},  /* a strap is no bike */
        {"", 9, true, 0, 0},      /* no name: nothing to go by */
    };
    const struct sighting reports[] = {
        private_report(1, MACHINE, "Bike"), private_report(2, STRAP, "Belt"),
        private_report(3, MACHINE, "Twin"), private_report(4, MACHINE, "Twin"),
        private_report(5, MACHINE, ""),     private_report(6, STRAP, "Bike")};
    struct sightings sightings = {0};

    (void)state;
    for (size_t i = 0; i < sizeof reports / sizeof reports[0]; i++)
        (void)sightings_add(&sightings, &reports[i]);
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        const struct sighting *found = NULL;
        struct device device = {.address = private_report(rows[i].last_octet, 0, "").address};
        strcpy(device.name, rows[i].remembered);
        if (!rows[i].changes)
            device.address.octets[5] = 0xC0;
        assert_int_equal(sightings_find(&sightings, &device, DEVICE_MACHINE, &found),
                         rows[i].count);
        assert_int_equal(found == NULL ? 0 : found->address.octets[0], rows[i].found);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(finds_again_what_has_another_address),
        cmocka_unit_test(merges_reports_of_a_device),
        cmocka_unit_test(another_type_is_another_device),
        cmocka_unit_test(ranks_the_strongest_first),
        cmocka_unit_test(a_full_list_gives_up_useless_devices),
        cmocka_unit_test(keeps_the_strongest_of_each_kind),
        cmocka_unit_test(a_machine_that_does_not_say_may_be_a_bike),
        cmocka_unit_test(shows_a_table),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
