/*
 * Advertising structures by hand after the Supplement to the Bluetooth Core Specification, part A
 * (03 all 16-bit services, 08 and 09 names, 16 service data), and Fitness Machine Service 1.0.1,
 * section 3: flags 01 available, machine types 0020 indoor bike. Services: Assigned Numbers, 1826
 * fitness machine, 180D heart rate, 1818 cycling power, 1816 speed and cadence.
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
#include "wire/peripheral_data.h"

enum {
    MACHINE = 1 << DEVICE_MACHINE,
    STRAP = 1 << DEVICE_STRAP,
    POWER = 1 << DEVICE_POWER,
    CADENCE = 1 << DEVICE_CADENCE
};

static void expect_data(uint32_t offers, const char *octets)
{
    uint8_t data[PERIPHERAL_DATA_MAX];
    assert_octets(data, peripheral_data_encode(offers, data), octets);
}

static void what_is_offered(void **state)
{
    (void)state;
    expect_data(MACHINE, "03 03 26 18 06 16 26 18 01 20 00");
    expect_data(MACHINE | STRAP, "05 03 26 18 0D 18 06 16 26 18 01 20 00");
    expect_data(STRAP, "03 03 0D 18");
    expect_data(POWER, "03 03 18 18");
    expect_data(CADENCE, "03 03 16 18");
    expect_data(MACHINE | STRAP | POWER | CADENCE,
                "09 03 26 18 0D 18 18 18 16 18 06 16 26 18 01 20 00");
}

static void expect_response(const char *name, const char *octets)
{
    uint8_t data[PERIPHERAL_DATA_MAX];
    assert_octets(data, peripheral_response_encode(name, data), octets);
}

static void the_name(void **state)
{
    (void)state;
    expect_response("Demo", "05 09 44 65 6D 6F");
    expect_response("aaaaaaaaaaaaaaaaaaaaaaaaaaaaa", /* 29 letters fill the report */
                    "1E 09 61 61 61 61 61 61 61 61 61 61 61 61 61 61 61 61 61 61 61 61 61 61 61 "
                    "61 61 61 61 61 61");
    expect_response("aaaaaaaaaaaaaaaaaaaaaaaaaaaaab",
                    "1E 08 61 61 61 61 61 61 61 61 61 61 61 61 61 61 61 61 61 61 61 61 61 61 61 "
                    "61 61 61 61 61 61");
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(what_is_offered),
        cmocka_unit_test(the_name),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
